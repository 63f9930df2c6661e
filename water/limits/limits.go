// Package limits holds limits of drinking and brewing water as dated data, each
// with its source. Limits change and local law comes first: whoever relies on
// one looks it up where they brew.
//
//	for _, l := range limits.Of(limits.Health, "eu") {
//		fmt.Println(l.Analyte, l.Written, l.Source)
//	}
package limits

import "wj/water"

// Dated is the day on which the tables were last gone through.
const Dated = "2026-12-01"

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
	// Read is the address of the public text in which the figure was read on Dated; empty where it is from memory or an opinion,
	// which Source then says.
	Read string
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

// The public texts. Directive (EU) 2020/2184 took these figures over unchanged from Directive 98/83/EC, in which they were read.
const (
	readEU  = "https://www.legislation.gov.uk/eudr/1998/83/annex/I"
	readUS  = "https://casetext.com/regulation/michigan-administrative-code, R 325.10604c, which repeats the federal table"
	readUS2 = "https://www.law.cornell.edu/cfr/text/40/143.3"
	readUS3 = "https://www.law.cornell.edu/cfr/text/40/141.2"
	readWHO = "https://www.fao.org/4/y4263e/y4263e0g.htm, table A3.2 of the 2nd edition"
	readUS4 = "http://www.dsd.state.md.us/comar/comarhtml/26/26.04.01.23.htm, which repeats the federal table"
	readSum = "https://www.north-norfolk.gov.uk/info/private-water-supplies/private-water-supplies-nitrate-and-nitrite/, which repeats both"
	readCl  = "http://www.waterquality.de/elisabeth.willmitzer/WHODESIN.HTM, the 2nd edition"
	readMn  = "https://heavymetalindex.com/sources/who2022-drinking-water-quality-guidelines, which lists the values of 2022"
	readF   = "http://www.waterquality.de/elisabeth.willmitzer/WHOCHEM.HTM, the 2nd edition"
)

// All is the table.
var All = []Published{
	{"eu", Health, water.Nitrate, 0, 50, "50 mg/L NO3", eu, readEU},
	{"eu", Health, water.Nitrite, 0, 0.5, "0.50 mg/L NO2", eu, readEU},
	{"eu", Health, water.NitrateRatios, 0, 1, "nitrate/50 + nitrite/3 at most 1", eu + ", note on nitrate", readSum},
	{"eu", Health, water.Fluoride, 0, 1.5, "1.5 mg/L", eu, readEU},
	{"eu", Health, water.Copper, 0, 2, "2.0 mg/L", eu, readEU},
	{"eu", Indicator, water.Chloride, 0, 250, "250 mg/L", euC, readEU},
	{"eu", Indicator, water.Sulfate, 0, 250, "250 mg/L", euC, readEU},
	{"eu", Indicator, water.Sodium, 0, 200, "200 mg/L", euC, readEU},
	{"eu", Indicator, water.Iron, 0, 0.2, "200 ug/L", euC, readEU},
	{"eu", Indicator, water.Manganese, 0, 0.05, "50 ug/L", euC, readEU},
	{"eu", Indicator, water.Ammonium, 0, 0.5, "0.50 mg/L NH4", euC, readEU},
	{"eu", Indicator, water.PHValue, 6.5, 9.5, "6.5 to 9.5", euC, readEU},
	// 2500 uS/cm at 20 degC; at 25 degC 1.116 times as much (EN 27888, from memory).
	{"eu", Indicator, water.ElectricalConductivity, 0, 2790, "2500 uS/cm at 20 degC", euC, readEU},

	{"us", Health, water.Nitrate, 0, 10 * nitrateNitrogen, "10 mg/L N", us, readUS},
	{"us", Health, water.Nitrite, 0, 1 * nitriteNitrogen, "1 mg/L N", us, readUS},
	{"us", Health, water.OxidizedNitrogen, 0, 10, "10 mg/L N, nitrate and nitrite together", us, readUS},
	{"us", Health, water.Fluoride, 0, 4, "4.0 mg/L", us, readUS},
	// An action level of the 90th percentile of a supply's taps, here held against each reading.
	{"us", Health, water.Copper, 0, 1.3, "1.3 mg/L, action level", "40 CFR 141.80", readUS3},
	{"us", Health, water.TotalChlorine, 0, 4, "4.0 mg/L as Cl2", "40 CFR 141.65", readUS4},
	{"us", Health, water.FreeChlorine, 0, 4, "4.0 mg/L as Cl2", "40 CFR 141.65", readUS4},
	{"us", Indicator, water.Chloride, 0, 250, "250 mg/L", usBest, readUS2},
	{"us", Indicator, water.Sulfate, 0, 250, "250 mg/L", usBest, readUS2},
	{"us", Indicator, water.DissolvedSolids, 0, 500, "500 mg/L", usBest, readUS2},
	{"us", Indicator, water.Iron, 0, 0.3, "0.3 mg/L", usBest, readUS2},
	{"us", Indicator, water.Manganese, 0, 0.05, "0.05 mg/L", usBest, readUS2},
	{"us", Indicator, water.Copper, 0, 1, "1.0 mg/L", usBest, readUS2},
	{"us", Indicator, water.Zinc, 0, 5, "5 mg/L", usBest, readUS2},
	{"us", Indicator, water.Fluoride, 0, 2, "2.0 mg/L", usBest, readUS2},
	{"us", Indicator, water.PHValue, 6.5, 8.5, "6.5 to 8.5", usBest, readUS2},

	{"who", Health, water.Nitrate, 0, 50, "50 mg/L NO3", who, readWHO},
	{"who", Health, water.Nitrite, 0, 3, "3 mg/L NO2", who, readWHO},
	{"who", Health, water.NitrateRatios, 0, 1, "nitrate/50 + nitrite/3 at most 1", who, readSum},
	{"who", Health, water.Fluoride, 0, 1.5, "1.5 mg/L", who, readF},
	{"who", Health, water.Copper, 0, 2, "2 mg/L", who, readWHO},
	{"who", Health, water.Manganese, 0, 0.08, "0.08 mg/L, provisional", who, readMn},
	{"who", Health, water.FreeChlorine, 0, 5, "5 mg/L", who, readCl},

	{"brewing", Brewing, water.Iron, 0, 0.1, "0.1 mg/L", "opinion: brewing handbooks, common practice, no source", ""},
	{"brewing", Brewing, water.Manganese, 0, 0.1, "0.1 mg/L", "opinion: brewing handbooks, common practice, no source", ""},
	{"brewing", Brewing, water.TotalChlorine, 0, 0.05, "not detected", "opinion: chlorophenols taste at micrograms, common practice, no source", ""},
	{"brewing", Brewing, water.FreeChlorine, 0, 0.05, "not detected", "opinion: chlorophenols taste at micrograms, common practice, no source", ""},
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
