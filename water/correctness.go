package water

import (
	"math"
)

// The checks of this file are those of Standard Methods 1030 E (Checking
// analyses' correctness; 20th edition 1998 and later). The charge balance bands
// were compared with a public text; the bands of the ratios are from memory.
// Each result is judged first by its own uncertainty and then by the published
// band: kit readings, good to 5 to 10 % each, miss the narrow bands by their own
// uncertainty alone.

// Sources of the published bands, for messages.
const (
	sourceBalance      = "Standard Methods 1030 E, criteria for the charge balance"
	sourceSolids       = "Standard Methods 1030 E.2–3, dissolved solids (from memory)"
	sourceConductivity = "Standard Methods 1030 E.4–5, conductivity and ion sums (from memory)"
)

// Band is a published range of acceptance.
type Band struct {
	Low, High float64
	Unit      string // of Low and High: "meq/L", "%", or "" for a ratio
	Where     string // where it holds: "anion sum 3 to 10 meq/L"
	Source    string
}

// balanceBands: SM 1030 E. Below 3 meq/L the band is a difference, above it a
// per cent difference over the sum of cations and anions. Beyond 800 meq/L there
// is none.
var balanceBands = [...]struct {
	upTo float64 // anion sum, meq/L
	Band
}{
	{3, Band{-0.2, 0.2, "meq/L", "anion sum up to 3 meq/L", sourceBalance}},
	{10, Band{-2, 2, "%", "anion sum 3 to 10 meq/L", sourceBalance}},
	{800, Band{-5, 5, "%", "anion sum 10 to 800 meq/L", sourceBalance}},
}

// BalanceBand is the published band for an anion sum in meq/L; ok is false
// beyond 800 meq/L and for what is not a sum.
func BalanceBand(anionSum float64) (b Band, ok bool) {
	for i := range balanceBands {
		if anionSum >= 0 && anionSum <= balanceBands[i].upTo {
			return balanceBands[i].Band, true
		}
	}
	return Band{}, false
}

// BalanceVerdict is a charge balance with both judgements.
type BalanceVerdict struct {
	Cations, Anions Value // meq/L
	Difference      Value // cations less anions, meq/L
	Percent         Value // 100 × difference / sum

	// Explained: the difference is not more than twice its standard uncertainty, so
	// the errors of the readings account for it.
	Explained bool
	Band      Band
	HasBand   bool
	InBand    bool
	// Unmeasured lists the ions worth looking for, of those that were not measured:
	// anions where cations are in excess, cations where anions are.
	Unmeasured []ID
}

// Doubtful reports whether the balance asks for action: it misses the published
// band and the readings' own uncertainty does not explain it.
func (b *BalanceVerdict) Doubtful() bool { return !b.Explained && b.HasBand && !b.InBand }

// CheckBalance is the charge balance of SM 1030 E.1. It needs sodium measured:
// by difference it would balance by construction. The error is *Absent.
func CheckBalance(a *Analysis) (BalanceVerdict, error) {
	var v BalanceVerdict
	eval := func(r *resolver, i int) float64 {
		switch i {
		case 0:
			return r.cations()
		case 1:
			return r.anions()
		case 2:
			return r.cations() - r.anions()
		}
		return r.chargeBalance()
	}
	into := [...]*Value{&v.Cations, &v.Anions, &v.Difference, &v.Percent}
	ids := [...]ID{CationSum, AnionSum, NumNames, ChargeBalance}
	for i, res := range a.results(len(into), eval, nil) {
		if math.IsNaN(res.value) {
			return BalanceVerdict{}, &Absent{ChargeBalance, res.reason(a, ChargeBalance)}
		}
		*into[i] = Value{ID: ids[i], Value: res.value, U: res.u, Derived: true, From: res.used.List(), Note: res.note(a, ids[i])}
	}
	d := v.Difference
	v.Explained = math.Abs(d.Value) <= 2*d.U
	if v.Band, v.HasBand = BalanceBand(v.Anions.Value); v.HasBand {
		shown := v.Percent.Value
		if v.Band.Unit == "meq/L" {
			shown = d.Value
		}
		v.InBand = shown >= v.Band.Low && shown <= v.Band.High
	}
	missing := []ID{Potassium, Ammonium}
	if d.Value > 0 {
		missing = []ID{Nitrate, Fluoride, Phosphate}
	}
	for _, id := range missing {
		if _, ok := a.Measured(id); !ok {
			v.Unmeasured = append(v.Unmeasured, id)
		}
	}
	return v, nil
}

// RatioVerdict is one comparison of SM 1030 E between a measured and a
// calculated figure, or between two measured ones.
type RatioVerdict struct {
	Name  string // "calculated over measured conductivity"
	Value Value  // the ratio, with its standard uncertainty
	Band  Band
	// Own judges the ratio against the band by its uncertainty: anything but surely
	// or probably outside can be the readings' own error.
	Own    Verdict
	InBand bool
	// Hint says what such a miss most often means; none in the band.
	Hint string
}

// Doubtful reports whether the ratio misses its band by more than its own
// uncertainty explains.
func (r *RatioVerdict) Doubtful() bool { return !r.InBand && (r.Own == Under || r.Own == Over) }

// ratios are the checks of SM 1030 E beside the charge balance. Conductivity is
// that of the Standard Methods formula, for which the bands were made.
var ratios = [...]struct {
	name string
	Band
	over, under string // what a miss on that side most often means
	eval        func(r *resolver) float64
}{
	{"measured over calculated dissolved solids", Band{1.0, 1.2, "", "", sourceSolids},
		"an ion was not measured. A pen that shows solids computes them from conductivity and proves nothing here",
		"an ion reads high, or the solids low. A pen that shows solids computes them from conductivity and proves nothing here",
		func(r *resolver) float64 { return r.reading(DissolvedSolids) / r.dissolvedSolids() }},
	{"calculated dissolved solids over conductivity", Band{0.55, 0.7, "", "", sourceSolids},
		"an ion reads high, or the conductivity low",
		"an ion was not measured or reads low, or the conductivity reads high",
		func(r *resolver) float64 { return r.dissolvedSolids() / r.reading(ElectricalConductivity) }},
	{"measured dissolved solids over conductivity", Band{0.55, 0.7, "", "", sourceSolids},
		"one of the two is wrong, or the water is rich in sulfate or silica (to 0.96 in natural waters, Hem 1985)",
		"one of the two is wrong, or the solids were dried too hot (0.54 is the least in natural waters, Hem 1985)",
		func(r *resolver) float64 { return r.reading(DissolvedSolids) / r.reading(ElectricalConductivity) }},
	{"100 × cation sum over conductivity", Band{0.9, 1.1, "", "", sourceConductivity},
		"a cation reads high, or the conductivity low",
		"a cation reads low or was not measured, or the conductivity reads high",
		func(r *resolver) float64 { return 100 * r.cations() / r.reading(ElectricalConductivity) }},
	{"100 × anion sum over conductivity", Band{0.9, 1.1, "", "", sourceConductivity},
		"an anion reads high, or the conductivity low",
		"an anion reads low or was not measured, or the conductivity reads high",
		func(r *resolver) float64 { return 100 * r.anions() / r.reading(ElectricalConductivity) }},
	{"calculated over measured conductivity", Band{0.9, 1.1, "", "", sourceConductivity},
		"an ion reads high, or the conductivity low: is it compensated to 25 degC?",
		"an ion was not measured or reads low, or the conductivity reads high: is it compensated to 25 degC?",
		func(r *resolver) float64 { return r.standardConductivity() / r.reading(ElectricalConductivity) }},
}

// standardConductivity is the calculated conductivity of SM 2510 A.3 at 25 degC.
func (r *resolver) standardConductivity() float64 {
	r.alkalinity()
	r.calciumHardness()
	r.totalHardness()
	r.reading(Chloride)
	r.reading(Sulfate)
	if !r.lack.Empty() {
		return math.NaN()
	}
	s := r.speciate()
	if s == nil {
		return math.NaN()
	}
	return s.ConductivityByStandardMethods()
}

// CheckRatios makes those comparisons of SM 1030 E for which the analysis has the
// readings, in the order of the method; none is not an error.
func CheckRatios(a *Analysis) []RatioVerdict {
	if !a.Has(ElectricalConductivity) && !a.Has(DissolvedSolids) {
		return nil // nothing to compare with: spare the speciation
	}
	var out []RatioVerdict
	results := a.results(len(ratios), func(r *resolver, i int) float64 { return ratios[i].eval(r) }, nil)
	for i := range results {
		res, row := &results[i], &ratios[i]
		if math.IsNaN(res.value) {
			continue
		}
		v := RatioVerdict{Name: row.name, Band: row.Band}
		v.Value = Value{ID: NumNames, Value: res.value, U: res.u, Derived: true, From: res.used.List(), Note: res.note(a, NumNames)}
		v.Own = Judge(v.Value, &v.Band.Low, &v.Band.High)
		switch {
		case res.value < v.Band.Low:
			v.Hint = row.under
		case res.value > v.Band.High:
			v.Hint = row.over
		default:
			v.InBand = true
		}
		out = append(out, v)
	}
	return out
}
