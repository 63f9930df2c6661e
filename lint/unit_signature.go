package lint

import (
	"math"

	"wj/journal"
	"wj/water"
)

var unitSignature = &Rule{
	Name: "unit/signature", Severity: Warning, Scope: History, Check: checkUnitSignature,
	Title: "a reading differs from the site's usual value by the factor of a well-known mistake",
	Settings: []Threshold{
		{"tolerance", "5 %", "%", "how near the ratio must be, where the reading's uncertainty is not larger"},
		{"readings", "5", "", "how many other readings of the same regime there must be"},
	},
}

var (
	hardness   = []water.ID{water.TotalHardness, water.CalciumHardness, water.MagnesiumHardness}
	calcium    = []water.ID{water.CalciumHardness, water.Calcium}
	asCaCO3    = []water.ID{water.TotalHardness, water.CalciumHardness, water.MagnesiumHardness, water.Alkalinity}
	magnesiums = []water.ID{water.MagnesiumHardness, water.Magnesium}
)

// mistakes are the factors between units and bases, from the molar masses of
// IUPAC 2021 and the definitions of the degrees (Hem 1985, USGS Water-Supply
// Paper 2254, p. 159): both ways round. Each entry says what happened where the
// reading is too large by the factor, then where it is too small.
var mistakes = []struct {
	factor       float64
	large, small string
	of           []water.ID
}{
	{61.016 / 50.043, "mg/L HCO3 was written as mg/L CaCO3", "mg/L CaCO3 was written as mg/L HCO3", []water.ID{water.Alkalinity, water.Bicarbonate}},
	{100.086 / 40.078, "mg/L Ca was given where mg/L CaCO3 was shown", "mg/L CaCO3 was written, and the number is mg/L Ca", calcium},
	{100.086 / 24.305, "mg/L Mg was given where mg/L CaCO3 was shown", "mg/L CaCO3 was written, and the number is mg/L Mg", magnesiums},
	{17.848, "a number in mg/L CaCO3 was written with the unit dH or dKH", "a number in degrees (dH, dKH) was written as mg/L CaCO3", asCaCO3},
	{17.118, "a number in mg/L CaCO3 was written with the unit gpg", "a number in gpg was written as mg/L CaCO3", asCaCO3},
	{14.254, "a number in mg/L CaCO3 was written with the unit eH", "a number in English degrees (eH) was written as mg/L CaCO3", asCaCO3},
	{50.043, "a number in mg/L CaCO3 was written as meq/L", "a number in meq/L was written as mg/L CaCO3", asCaCO3},
	{100.086, "a number in mg/L CaCO3 was written as mmol/L", "a number in mmol/L was written as mg/L CaCO3", hardness},
	{2, "meq/L of hardness was written as mmol/L, or a dilution was counted twice", "mmol/L of hardness was written as meq/L, or a 1:1 dilution was forgotten", hardness},
	{2, "a 1:1 dilution was counted though the sample was not diluted, or counted twice", "a 1:1 dilution was forgotten: write dilution: 2", []water.ID{water.Sulfate, water.Chloride, water.Alkalinity, water.Nitrate}},
	{96.056 / 32.06, "mg/L S was given where mg/L SO4 was shown", "mg/L SO4 was written, and the number is mg/L S", []water.ID{water.Sulfate}},
	{62.004 / 14.007, "mg/L N was given where mg/L NO3 was shown", "mg/L NO3 was written, and the number is mg/L N", []water.ID{water.Nitrate}},
	{46.005 / 14.007, "mg/L N was given where mg/L NO2 was shown", "mg/L NO2 was written, and the number is mg/L N", []water.ID{water.Nitrite}},
	{94.970 / 30.974, "mg/L P was given where mg/L PO4 was shown", "mg/L PO4 was written, and the number is mg/L P", []water.ID{water.Phosphate}},
	{58.440 / 35.45, "the result is chloride as salt (NaCl)", "a result as salt (NaCl) was taken for chloride", []water.ID{water.Chloride}},
	{1000, "uS/cm was written as mS/cm", "mS/cm was written as uS/cm", []water.ID{water.ElectricalConductivity}},
	{10, "the decimal point slipped, or French degrees were meant", "the decimal point slipped, or French degrees were written as mg/L", asCaCO3},
	{10, "the decimal point slipped by one place", "the decimal point slipped by one place", nil},
	{100, "the decimal point slipped by two places", "the decimal point slipped by two places", nil},
}

func checkUnitSignature(p *Pass) {
	h := p.Site
	for id := water.ID(0); id < water.NumAnalytes; id++ {
		s := h.Series(id)
		if s == nil || id == water.PHValue || id == water.SampleTemperature {
			continue
		}
		for k := range s.At {
			session := h.Own[s.At[k]]
			r, ok := session.Reading(id)
			if !ok {
				continue
			}
			says, ok := p.signature(s, k, session, r)
			if !ok {
				continue
			}
			p.ReportReading(session, r, "value", "%s of %s is %s times the usual %s at %s: it looks as if %s", journal.TypedReading(r), id,
				plain(s.Value[k]/s.Middle[k]), show(id, s.Middle[k]), h.ID, says).
				Help("compare with the meter's display or memory; if it was a slip, amend the line with a reason; if not, repeat the test before it is used")
		}
	}
}

// signature finds the mistake whose factor is nearest to the ratio of a
// reading to what is usual, where the reading is far out at all.
func (p *Pass) signature(s *Series, k int, session *journal.Session, r *journal.Reading) (string, bool) {
	v, usual := s.Value[k], s.Middle[k]
	if int(s.N[k]) < 5 || !(usual > 0) || !(v > 0) {
		return "", false
	}
	ratio := v / usual
	if ratio > 0.88 && ratio < 1.14 {
		return "", false
	}
	u, _ := p.Journal.Uncertainty(session, r)
	expected := r.Analyte.Info().Typical.Uncertainty(usual, 1)
	if math.Abs(v-usual) <= math.Max(3.5*s.Scale[k], 2*math.Max(u, expected)) {
		return "", false
	}
	// A correct reading may miss the usual value by the site's own spread and
	// by what the smaller of the two numbers is uncertain by.
	tolerance := math.Max(2*expected/usual, 2*s.Scale[k]/usual)
	if a, ok := p.run.active["unit/signature"]; ok {
		tolerance = math.Max(tolerance, a.values[0]/100)
		if float64(s.N[k]) < a.values[1] {
			return "", false
		}
	}
	tolerance = math.Min(tolerance, 0.15)
	best, says := math.Inf(1), ""
	for i := range mistakes {
		m := &mistakes[i]
		if m.of != nil && !containsID(m.of, r.Analyte) {
			continue
		}
		if d := math.Abs(math.Log(ratio / m.factor)); d < best {
			best, says = d, m.large
		}
		if d := math.Abs(math.Log(ratio * m.factor)); d < best {
			best, says = d, m.small
		}
	}
	return says, best <= math.Log1p(tolerance)
}

func containsID(list []water.ID, id water.ID) bool {
	for _, x := range list {
		if x == id {
			return true
		}
	}
	return false
}
