package water

import (
	"fmt"
	"math"
	"strings"
)

// ID numbers the analytes and derived values in the order in which they are
// shown. The numbers are not stored anywhere: names are.
type ID uint8

// entity is what an amount of the analyte counts.
type entity uint8

const (
	ownIon        entity = iota // one ion or molecule of the analyte
	divalentIon                 // one Ca2+ or Mg2+: hardness
	acidCapacity                // one H+ taken up: alkalinity
	notCountable                // pH, conductivity, ratios
	mixedHardness               // alkalinity less hardness: meq only
)

// Ion is how an analyte counts in the sums of ions.
type Ion uint8

// How an analyte counts in the sums of ions.
const (
	NoIon    Ion = iota // not, or through another
	MinorIon            // where it was measured
	MajorIon            // always: without it the sum has no value
)

// Analyte is one row of the analyte table: a thing that is measured in a water
// or computed from what was measured.
type Analyte struct {
	ID    ID
	Key   string // the one name, everywhere
	Title string // in words
	Unit  Unit   // the standard unit, in which queries and exports give the value

	// Formula is the species that the standard unit counts, "SO4" or "CaCO3", and
	// Charge its charge number with sign; empty where neither applies. MolarMass is
	// the formula's, g/mol; of alkalinity half of it, which takes up one H+.
	Formula   string
	Charge    int
	MolarMass float64

	// Ion says how it counts in the sums of ions, and so in the charge balance and
	// in sodium by difference; IonCharge is the charge of each, where it is another
	// than Charge. Calcium, magnesium and alkalinity count through their hardness and
	// titration (derived.go).
	Ion       Ion
	IonCharge int
	// Total is the total of water/equilibrium in which it is speciated, where that is
	// not the one of its own key: that of an ion alike in charge and activity. It
	// then enters ionic strength, conductivity and dissolved solids.
	Total string

	// Plain says whether mg/L without a basis is understood: as the ion itself.
	// Where two bases are in common use it is not, and the basis must be said.
	Plain bool
	Bases []Basis // the bases that fit, for mg/L

	Degrees Family // which German degree fits: hardness, alkalinity or none
	entity  entity

	UCUM       string // the standard unit's UCUM code
	Exchange   string // characteristic name in the EPA/USGS water-quality exchange (WQX 3.0) domain list
	Speciation string // its method speciation there
	CAS        string // CAS registry number of the species

	// Typical is the 95 % accuracy that a bench photometer or pen reaches when
	// nothing is declared for the meter or method: absolute part in the standard
	// unit and part of the reading. Common practice, no source.
	Typical Accuracy

	Also []string // other names that people use for it; wj/water/spelling finds it by them
	Doc  string   // one sentence: what it is
}

var byKey = func() map[string]ID {
	m := make(map[string]ID, NumNames)
	for i := range table {
		m[table[i].Key] = ID(i)
	}
	return m
}()

// Info is the row of the analyte table.
func (id ID) Info() *Analyte { return &table[id] }

// Scales reports whether a reading in a diluted sample, times the dilution, is
// the sample's own: of everything that a volume holds an amount of. pH is a
// logarithm and a temperature a state, and no factor brings them back.
// Conductivity is the sum over the ions, and scales but for what the ions lose by
// standing closer together: a 1:1 dilution of drinking water overstates it by 3
// to 5 % (Kohlrausch's square-root law; a test computes it), where no factor at
// all would halve it.
func (id ID) Scales() bool { return id != PHValue && id != SampleTemperature }

// Dilutable reports whether a test may be repeated on a diluted sample when it
// was beyond the range: not what does not scale; nor conductivity and turbidity,
// which do so only nearly; nor chlorine, which is lost or eaten up by the
// dilution water (common practice, no source).
func (id ID) Dilutable() bool {
	switch id {
	case ElectricalConductivity, TurbidityValue, FreeChlorine, TotalChlorine:
		return false
	}
	return id.Scales()
}

// String is the key of the analyte or derived value.
func (id ID) String() string {
	if id >= NumNames {
		return fmt.Sprintf("ID(%d)", uint8(id))
	}
	return table[id].Key
}

// Lookup finds an analyte or derived value by its exact key.
func Lookup(key string) (ID, bool) {
	id, ok := byKey[key]
	return id, ok
}

// LookupAnalyte finds one that can be read, not only computed.
func LookupAnalyte(key string) (ID, bool) {
	id, ok := byKey[key]
	return id, ok && id < NumAnalytes
}

// AnalyteKeys lists the keys of all analytes that can be read.
func AnalyteKeys() []string { return keys(0, NumAnalytes) }

// Keys lists the keys of all analytes and derived values.
func Keys() []string { return keys(0, NumNames) }

func keys(from, to ID) []string {
	out := make([]string, 0, to-from)
	for id := from; id < to; id++ {
		out = append(out, table[id].Key)
	}
	return out
}

// Equivalents is the charge equivalents that one counted entity stands for.
func (a *Analyte) Equivalents() float64 {
	switch a.entity {
	case divalentIon:
		return 2
	case acidCapacity, mixedHardness:
		return 1
	}
	return math.Abs(float64(a.Charge))
}

// perMole is how many counted entities one mole of the basis stands for.
func (a *Analyte) perMole(b Basis) float64 {
	switch b {
	case AsCaCO3, AsCaO:
		return 2 / a.Equivalents()
	}
	if a.entity != ownIon {
		return bases[b].eq / a.Equivalents()
	}
	return 1
}

// toMillimole converts v in unit u to mmol/L of what the analyte counts. ok is
// false where the unit does not fit the analyte.
func (a *Analyte) toMillimole(u Unit) (factor float64, ok bool) {
	if a.entity == notCountable {
		return 0, false
	}
	row := &unitTable[u.id]
	switch row.family {
	case MassPerVolume:
		b := u.basis
		if b == NoBasis {
			if !a.Plain {
				return 0, false
			}
			return row.factor / a.MolarMass, true
		}
		for _, fits := range a.Bases {
			if fits == b {
				return row.factor / bases[b].mass * a.perMole(b), true
			}
		}
		return 0, false
	case AmountPerVolume:
		if a.entity == mixedHardness {
			return 0, false
		}
		return row.factor, true
	case ChargePerVolume:
		if eq := a.Equivalents(); eq > 0 {
			return row.factor / eq, true
		}
		return 0, false
	case HardnessDegree, AlkalinityDegree:
		// Residual alkalinity is told in either German degree: it is made of both.
		if a.Degrees == row.family || a.entity == mixedHardness {
			return row.factor / massCaO * a.perMole(AsCaO), true
		}
	case CarbonateDegree:
		if a.Degrees != NoFamily {
			return row.factor / massCaCO3 * a.perMole(AsCaCO3), true
		}
	}
	return 0, false
}

// Convert brings a value of the analyte from one unit to another. It fails
// where either unit does not fit the analyte.
func (a *Analyte) Convert(v float64, from, to Unit) (float64, error) {
	if from == to {
		return v, nil
	}
	if err := a.FitUnit(from); err != nil {
		return math.NaN(), err
	}
	if err := a.FitUnit(to); err != nil {
		return math.NaN(), err
	}
	if a.entity == notCountable {
		return to.fromBase(from.base(v)), nil
	}
	in, _ := a.toMillimole(from)
	out, _ := a.toMillimole(to)
	return v * in / out, nil
}

// fits reports whether the unit can be said of the analyte.
func (a *Analyte) fits(u Unit) bool {
	switch {
	case a.Unit == u:
		return true
	case u.IsNone() || a.Unit.IsNone():
		return false
	case a.entity == notCountable:
		return u.Family() == a.Unit.Family() && u.basis == NoBasis
	}
	_, ok := a.toMillimole(u)
	return ok
}

// FitUnit says why the unit cannot be said of the analyte; nil if it can.
// Errors are *QuantityError with FaultNoUnit, FaultKind or FaultBasis, without
// a place.
func (a *Analyte) FitUnit(u Unit) error {
	if a.fits(u) {
		return nil
	}
	if u.IsNone() {
		return &QuantityError{Fault: FaultNoUnit, Message: fmt.Sprintf("%s has no unit", a.Key), Help: "as read: " + a.choices()}
	}
	if a.Unit.IsNone() {
		return &QuantityError{Fault: FaultKind, Message: fmt.Sprintf("%s is a number without a unit, not one in %s", a.Key, u), Help: "leave the unit away"}
	}
	if u.Family() == MassPerVolume && u.basis == NoBasis && !a.Plain && a.entity != notCountable {
		return &QuantityError{Fault: FaultBasis, Message: fmt.Sprintf("%s in %s does not say as what", a.Key, u), Help: "as read: " + a.basisChoices(u)}
	}
	return &QuantityError{Fault: FaultKind, Message: fmt.Sprintf("%s cannot be in %s", a.Key, u), Help: "it is read in " + a.choices()}
}

// Fit is FitUnit for a quantity, and refuses what cannot be said of any
// reading.
func (a *Analyte) Fit(q Quantity) error { return a.FitUnit(q.Unit) }

// Standard is the quantity's value in the analyte's standard unit. The unit
// must fit.
func (a *Analyte) Standard(q Quantity) float64 {
	if q.Unit == a.Unit {
		return q.Value
	}
	v, err := a.Convert(q.Value, q.Unit, a.Unit)
	if err != nil {
		return math.NaN()
	}
	return v
}

// Units lists the units that fit the analyte, the standard unit first.
func (a *Analyte) Units() []Unit {
	units := []Unit{a.Unit}
	add := func(u Unit) {
		if u != a.Unit && a.fits(u) {
			units = append(units, u)
		}
	}
	for id := noUnit + 1; id < numUnits; id++ {
		add(Unit{id: id})
		if unitTable[id].family == MassPerVolume {
			for _, b := range a.Bases {
				add(Unit{id, b})
			}
		}
	}
	return units
}

// choices names the commonest units that fit, for messages.
func (a *Analyte) choices() string {
	var names []string
	for _, u := range a.Units() {
		if u.id == ugL || u.id == gL || u.id == mScm {
			continue
		}
		if names = append(names, u.String()); len(names) == 6 {
			break
		}
	}
	return strings.Join(names, ", ") + "?"
}

func (a *Analyte) basisChoices(u Unit) string {
	names := make([]string, 0, len(a.Bases))
	for _, b := range a.Bases {
		names = append(names, u.With(b).String())
	}
	return strings.Join(names, " or ") + "?"
}

// Accuracy is what a meter or method promises, as the half-width of a 95 %
// interval: an absolute part in the analyte's standard unit and a part of the
// reading, added; and the step of its display.
type Accuracy struct {
	Absolute   float64
	Relative   float64
	Resolution float64
}

// Uncertainty is the standard uncertainty of a reading x (before dilution d is
// applied) in the standard unit: the parts of the promise are added first and
// halved then, and the display adds a rectangular resolution/√12 (GUM 4.3.7,
// F.2.2.1); dilution multiplies all of it.
func (a Accuracy) Uncertainty(x, dilution float64) float64 {
	u := (a.Absolute + a.Relative*math.Abs(x)) / 2
	r := a.Resolution / math.Sqrt(12)
	return math.Hypot(u, r) * dilution
}
