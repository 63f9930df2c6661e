// Package limits holds limits of drinking and brewing water as dated data, each
// with its source. Limits change and local law comes first: whoever relies on
// one looks it up where they brew.
package limits

import "wj/water"

// Dated is the day on which the tables were last gone through.
const Dated = "2026-11-25"

// Kind is what a limit is for.
type Kind uint8

// The kinds. Health limits are set for people who drink the water; Indicator
// values for taste, colour and pipes; Brewing ones are advice of the trade.
// Journal and Site are limits that a brewery sets itself, in its own records;
// the table here has none of them.
const (
	Health Kind = iota
	Indicator
	Brewing
	Journal
	Site
)

// Published is one row: a range in the analyte's standard unit, as the source
// writes it, and the source. Max of 0 means that there is no upper end.
type Published struct {
	Jurisdiction string // eu, us, who or brewing
	Kind         Kind
	Analyte      water.ID
	Min, Max     float64
	Written      string // the limit as the source writes it
	Source       string
}

// Conversions between bases, from molar masses (IUPAC 2021): NO3/N and NO2/N.
const (
	nitrateNitrogen = 62.004 / 14.007
	nitriteNitrogen = 46.005 / 14.007
)

const (
	eu     = "Directive (EU) 2020/2184, Annex I part B"
	euC    = "Directive (EU) 2020/2184, Annex I part C"
	us     = "40 CFR 141.62"
	usBest = "40 CFR 143.3"
	who    = "WHO Guidelines for Drinking-water Quality, 4th edition with addenda 2022"
)

// All is the table. Rows whose source ends in "from memory" were not read
// again on the date above.
var All = []Published{
	{"eu", Health, water.Nitrate, 0, 50, "50 mg/L NO3", eu},
	{"eu", Health, water.Nitrite, 0, 0.5, "0.50 mg/L NO2", eu},
	{"eu", Health, water.Fluoride, 0, 1.5, "1.5 mg/L", eu + ", from memory"},
	{"eu", Health, water.Copper, 0, 2, "2.0 mg/L", eu + ", from memory"},
	{"eu", Indicator, water.Chloride, 0, 250, "250 mg/L", euC},
	{"eu", Indicator, water.Sulfate, 0, 250, "250 mg/L", euC},
	{"eu", Indicator, water.Sodium, 0, 200, "200 mg/L", euC},
	{"eu", Indicator, water.Iron, 0, 0.2, "200 ug/L", euC},
	{"eu", Indicator, water.Manganese, 0, 0.05, "50 ug/L", euC},
	{"eu", Indicator, water.Ammonium, 0, 0.5, "0.50 mg/L NH4", euC + ", from memory"},
	{"eu", Indicator, water.PHValue, 6.5, 9.5, "6.5 to 9.5", euC},
	// 2500 uS/cm at 20 degC; at 25 degC 1.116 times as much (EN 27888, from memory).
	{"eu", Indicator, water.ElectricalConductivity, 0, 2790, "2500 uS/cm at 20 degC", euC},

	{"us", Health, water.Nitrate, 0, 10 * nitrateNitrogen, "10 mg/L N", us + ", from memory"},
	{"us", Health, water.Nitrite, 0, 1 * nitriteNitrogen, "1 mg/L N", us + ", from memory"},
	{"us", Health, water.Fluoride, 0, 4, "4.0 mg/L", us + ", from memory"},
	{"us", Health, water.TotalChlorine, 0, 4, "4.0 mg/L as Cl2", "40 CFR 141.65, from memory"},
	{"us", Health, water.FreeChlorine, 0, 4, "4.0 mg/L as Cl2", "40 CFR 141.65, from memory"},
	{"us", Indicator, water.Chloride, 0, 250, "250 mg/L", usBest},
	{"us", Indicator, water.Sulfate, 0, 250, "250 mg/L", usBest},
	{"us", Indicator, water.DissolvedSolids, 0, 500, "500 mg/L", usBest},
	{"us", Indicator, water.Iron, 0, 0.3, "0.3 mg/L", usBest},
	{"us", Indicator, water.Manganese, 0, 0.05, "0.05 mg/L", usBest},
	{"us", Indicator, water.Copper, 0, 1, "1.0 mg/L", usBest + ", from memory"},
	{"us", Indicator, water.Zinc, 0, 5, "5 mg/L", usBest + ", from memory"},
	{"us", Indicator, water.Fluoride, 0, 2, "2.0 mg/L", usBest + ", from memory"},
	{"us", Indicator, water.PHValue, 6.5, 8.5, "6.5 to 8.5", usBest},

	{"who", Health, water.Nitrate, 0, 50, "50 mg/L NO3", who},
	{"who", Health, water.Nitrite, 0, 3, "3 mg/L NO2", who},
	{"who", Health, water.Fluoride, 0, 1.5, "1.5 mg/L", who + ", from memory"},
	{"who", Health, water.Copper, 0, 2, "2 mg/L", who + ", from memory"},
	{"who", Health, water.Manganese, 0, 0.08, "0.08 mg/L, provisional", who},
	{"who", Health, water.FreeChlorine, 0, 5, "5 mg/L", who + ", from memory"},

	{"brewing", Brewing, water.Iron, 0, 0.1, "0.1 mg/L", "brewing handbooks, common practice, no source"},
	{"brewing", Brewing, water.Manganese, 0, 0.1, "0.1 mg/L", "brewing handbooks, common practice, no source"},
	{"brewing", Brewing, water.TotalChlorine, 0, 0.05, "not detected", "chlorophenols taste at micrograms, common practice, no source"},
	{"brewing", Brewing, water.FreeChlorine, 0, 0.05, "not detected", "chlorophenols taste at micrograms, common practice, no source"},
}

// Of lists the limits of a kind in the jurisdictions; without any, the World
// Health Organization's stand for those of health, and none for taste.
func Of(kind Kind, jurisdictions ...string) []Published {
	if kind == Brewing {
		jurisdictions = []string{"brewing"}
	} else if len(jurisdictions) == 0 {
		if kind != Health {
			return nil
		}
		jurisdictions = []string{"who"}
	}
	var out []Published
	for _, l := range All {
		for _, j := range jurisdictions {
			if l.Kind == kind && l.Jurisdiction == j {
				out = append(out, l)
			}
		}
	}
	return out
}
