package journal

import "math"

// EarthRadius is the mean radius (2a + b)/3 of the WGS 84 ellipsoid, m (Moritz
// 2000, Geodetic Reference System 1980, Journal of Geodesy 74, 128–133, gives it
// as R1; a = 6378137 m, b = 6356752.3142 m). The sphere is wrong by at most 0.6 %
// against the ellipsoid.
const EarthRadius = 6371008.7714

// Distance is the length of the great circle between two places, m, by the
// haversine formula, which keeps its digits at short distances (Sinnott 1984,
// Sky and Telescope 68, 159).
func Distance(a, b Place) float64 {
	la, lb := radians(a.Latitude), radians(b.Latitude)
	s, t := math.Sin((lb-la)/2), math.Sin(radians(b.Longitude-a.Longitude)/2)
	h := s*s + math.Cos(la)*math.Cos(lb)*t*t
	return 2 * EarthRadius * math.Asin(math.Sqrt(min(h, 1)))
}

func radians(degrees float64) float64 { return degrees * math.Pi / 180 }
