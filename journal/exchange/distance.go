package exchange

import (
	"fmt"
	"math"
	"strconv"

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
