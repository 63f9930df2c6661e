package exchange

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"wj/journal"
)

// Bearing is the direction in which the great circle leaves a towards b, degrees
// from north by east, 0 to 360 (spherical trigonometry: Todhunter 1886, art. 51).
func Bearing(a, b journal.Place) float64 {
	la, lb, d := radians(a.Latitude), radians(b.Latitude), radians(b.Longitude-a.Longitude)
	y := math.Sin(d) * math.Cos(lb)
	x := math.Cos(la)*math.Sin(lb) - math.Sin(la)*math.Cos(lb)*math.Cos(d)
	return math.Mod(math.Atan2(y, x)*180/math.Pi+360, 360)
}

func radians(degrees float64) float64 { return degrees * math.Pi / 180 }

// Compass names a bearing by the nearest of eight directions.
func Compass(bearing float64) string {
	names := [...]string{"N", "NE", "E", "SE", "S", "SW", "W", "NW"}
	return names[int(math.Mod(bearing+22.5, 360)/45)%8]
}

// FormatDistance writes a distance for people: metres below one kilometre, then
// kilometres, three digits.
func FormatDistance(m float64) string {
	switch {
	case m < 999.5:
		return fmt.Sprintf("%.0f m", m)
	case m < 9_995:
		return fmt.Sprintf("%.2f km", m/1000)
	case m < 99_950:
		return fmt.Sprintf("%.1f km", m/1000)
	}
	return fmt.Sprintf("%.0f km", m/1000)
}

// FormatPlace writes a place as a journal does: latitude, longitude.
func FormatPlace(p journal.Place) string {
	if !p.Set {
		return ""
	}
	return strconv.FormatFloat(p.Latitude, 'f', -1, 64) + ", " + strconv.FormatFloat(p.Longitude, 'f', -1, 64)
}

// ParsePlace reads "54.69,25.28": latitude, then longitude, in degrees.
func ParsePlace(text string) (journal.Place, error) {
	lat, lon, _ := strings.Cut(text, ",")
	latitude, err1 := strconv.ParseFloat(strings.TrimSpace(lat), 64)
	longitude, err2 := strconv.ParseFloat(strings.TrimSpace(lon), 64)
	if err1 != nil || err2 != nil || !(latitude >= -90 && latitude <= 90 && longitude >= -180 && longitude <= 180) {
		return journal.Place{}, fmt.Errorf("%q is not a place", text)
	}
	return journal.Place{Latitude: latitude, Longitude: longitude, Set: true}, nil
}

// LastTests is when each site was last sampled.
func LastTests(j *journal.Journal) map[string]time.Time {
	out := map[string]time.Time{}
	for site, values := range Latest(j, j.Sessions.List) {
		out[site] = lastSampled(values)
	}
	return out
}

// MapPoints are sites as a map shows them: with their stage, their distance from a
// place where there is one, and when they were last sampled.
func MapPoints(j *journal.Journal, sites []*journal.Site, from journal.Place) []MapPoint {
	last := LastTests(j)
	points := make([]MapPoint, len(sites))
	for i, s := range sites {
		parts := []string{s.Stage}
		if from.Set && s.Place.Set {
			parts = append(parts, FormatDistance(journal.Distance(from, s.Place))+" away")
		}
		if at := last[s.ID]; !at.IsZero() {
			parts = append(parts, "last sampled "+journal.FormatDate(at))
		}
		points[i] = MapPoint{Name: s.Name, Remark: strings.Join(parts, ", "), Place: s.Place}
	}
	return points
}

// NearestSite is the nearest site at another place; nil where there is none.
func NearestSite(s *journal.Site, sites []*journal.Site) *journal.Site {
	var best *journal.Site
	for _, o := range sites {
		if o.Place != s.Place && o.Place.Set && o.Void == nil && (best == nil || journal.Distance(s.Place, o.Place) < journal.Distance(s.Place, best.Place)) {
			best = o
		}
	}
	return best
}
