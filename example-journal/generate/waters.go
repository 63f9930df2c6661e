package main

import (
	"hash/fnv"
	"math"
	"time"
)

// composition is a water's true content: mg/L of each ion, alkalinity and
// hardness as mg/L CaCO3, conductivity in uS/cm. All waters are invented.
type composition map[string]float64

// knot is a water at a day; between knots it changes linearly.
type knot struct {
	day   string
	water composition
}

func ions(calcium, magnesium, sodium, potassium, alkalinity, chloride, sulfate, nitrate, conductivity, pH float64) composition {
	// Hardness from the ions: 2.4973 and 4.1180 mg CaCO3 per mg, the ratios of
	// molar masses (SM 2340 B rounds them to 2.497 and 4.118).
	calciumHardness := 2.4973 * calcium
	return composition{"calcium": calcium, "magnesium": magnesium, "sodium": sodium, "potassium": potassium, "alkalinity": alkalinity,
		"chloride": chloride, "sulfate": sulfate, "nitrate": nitrate, "conductivity": conductivity, "pH": pH,
		"calcium_hardness": calciumHardness, "total_hardness": calciumHardness + 4.1180*magnesium}
}

var (
	reservoir = ions(22, 4.6, 12, 1.5, 52, 18, 21, 4, 212, 7.6)
	wellfield = ions(84, 14, 26, 3, 212, 38, 52, 11, 608, 7.4)
	bore      = ions(112, 4.5, 14, 1.5, 262, 26, 18, 28, 602, 7.3)
	permeate  = ions(0.8, 0.15, 2.2, 0.05, 5, 1.2, 0.8, 0.3, 15.5, 6.1) // a new membrane on wellfield water
)

// northWell is the story's slow drift: gypsum in the aquifer.
var northWell = []knot{
	{"2023-10-10", ions(146, 27, 35, 4, 246, 44, 236, 2, 1034, 7.2)},
	{"2024-10-08", ions(153, 28, 37, 4, 246, 44, 258, 2, 1079, 7.2)},
	{"2025-10-14", ions(162, 29.5, 38, 4, 246, 44, 285, 2, 1134, 7.2)},
	{"2026-06-09", ions(167, 30.5, 39, 4, 246, 44, 306, 2, 1172, 7.2)},
	{"2026-09-15", ions(170, 31, 39, 4, 246, 44, 318, 2, 1192, 7.2)},
}

// passage is the share of the feed's conductivity that the membrane lets
// through; it was replaced on 2026-03-10.
var passage = []struct {
	day   string
	share float64
}{
	{"2023-10-01", 5.0 / 212}, {"2023-11-15", 5.0 / 212}, {"2024-06-06", 18.0 / 608}, {"2024-11-07", 8.0 / 212}, {"2025-06-05", 38.0 / 608},
	{"2025-11-06", 19.0 / 212}, {"2026-02-05", 29.0 / 212}, {"2026-03-09", 31.0 / 212}, {"2026-03-10", 5.0 / 212}, {"2026-06-04", 15.0 / 608}, {"2026-10-01", 16.0 / 608},
}

// supply are the periods of the town's water.
var supply = []struct{ since, until, regime, evidence string }{
	{"2023-10-01", "2024-05-01", "reservoir", "waterworks' yearly plan"},
	{"2024-05-02", "2024-10-08", "wellfield", "conductivity 212 to 604 overnight; waterworks confirmed by telephone"},
	{"2024-10-09", "2025-02-16", "reservoir", "waterworks' notice of 2024-10-07"},
	{"2025-02-17", "2025-02-20", "wellfield", "main break on the reservoir line, wells switched in at night"},
	{"2025-02-21", "2025-05-04", "reservoir", "line mended, waterworks' notice"},
	{"2025-05-05", "2025-10-05", "wellfield", "waterworks' notice of 2025-04-28"},
	{"2025-10-06", "2026-05-03", "reservoir", "waterworks' notice of 2025-10-01"},
	{"2026-05-04", "", "wellfield", "waterworks' notice of 2026-04-27"},
}

func day(s string) time.Time {
	t, err := time.ParseInLocation("2006-01-02", s, vilnius)
	if err != nil {
		panic(err) // a mistake in this program's own tables
	}
	return t
}

func between(at, from, to time.Time) float64 {
	return math.Max(0, math.Min(1, at.Sub(from).Hours()/to.Sub(from).Hours()))
}

func mix(a, b composition, share float64) composition {
	out := composition{}
	for key := range a {
		out[key] = a[key]*(1-share) + b[key]*share
	}
	return out
}

func regime(at time.Time) string {
	name := supply[0].regime
	for _, s := range supply {
		if !at.Before(day(s.since)) {
			name = s.regime
		}
	}
	return name
}

// source is what truly comes out at a site.
func source(site string, at time.Time) composition {
	switch site {
	case "north-well":
		for i := 1; i < len(northWell); i++ {
			if !at.After(day(northWell[i].day)) || i == len(northWell)-1 {
				return mix(northWell[i-1].water, northWell[i].water, between(at, day(northWell[i-1].day), day(northWell[i].day)))
			}
		}
	case "town-main", "carbon-outlet":
		if regime(at) == "wellfield" {
			return wellfield
		}
		return reservoir
	case "tarrow-bore":
		return bore
	case "ro-permeate":
		share := passage[0].share
		for i := 1; i < len(passage); i++ {
			from, to := day(passage[i-1].day), day(passage[i].day)
			if !at.Before(from) {
				share = passage[i-1].share + (passage[i].share-passage[i-1].share)*between(at, from, to)
			}
		}
		conductivity := share * source("town-main", at)["conductivity"]
		out := composition{}
		for key, v := range permeate {
			out[key] = v * conductivity / permeate["conductivity"]
		}
		out["pH"] = 6.1
		return out
	}
	return composition{}
}

// number is a repeatable pseudo-random number between 0 and 1 that depends on
// the words only, so that adding a session changes no other session.
func number(words ...string) float64 {
	h := fnv.New64a()
	for _, w := range words {
		h.Write([]byte(w))
		h.Write([]byte{0})
	}
	x := h.Sum64() // finished by the mixer of splitmix64 (Steele, Lea & Flood 2014)
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return float64((x^x>>31)>>11) / (1 << 53)
}

func whole(n int, words ...string) int { return int(number(words...) * float64(n)) }

// normal is a standard normal deviate (Box & Muller 1958), cut off at ±1.8:
// a good session of the demonstration has no outlier by chance.
func normal(words ...string) float64 {
	u := math.Max(number(append(words, "radius")...), 1e-12)
	z := math.Sqrt(-2*math.Log(u)) * math.Cos(2*math.Pi*number(append(words, "angle")...))
	return math.Max(-1.8, math.Min(1.8, z))
}
