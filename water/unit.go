package water

import (
	"slices"
	"strings"
)

// Family is a set of units that measure one kind of thing. Units of different
// families may still convert into each other for one analyte (mg/L and mmol/L).
type Family uint8

// The families of units.
const (
	NoFamily      Family = iota
	MassPerVolume        // mg/L, with a basis
	AmountPerVolume
	ChargePerVolume
	HardnessDegree   // German degree of hardness
	AlkalinityDegree // German degree of carbonate hardness
	CarbonateDegree  // French, English degree, grain per gallon: hardness or alkalinity, as CaCO3
	Conductivity
	Temperature
	Turbidity
	Fraction
	Mass
	Volume
	Duration
	Length
	PH
	numFamilies
)

var familyNames = [numFamilies]string{
	"no unit", "mass concentration", "amount concentration", "charge concentration", "degree of hardness",
	"degree of carbonate hardness", "degree of hardness or alkalinity", "conductivity", "temperature", "turbidity",
	"fraction", "mass", "volume", "duration", "length", "pH",
}

// String names the family in words.
func (f Family) String() string { return familyNames[f] }

type unitID uint8

const (
	noUnit unitID = iota
	mgL
	ugL
	gL
	mmolL
	meqL
	dH
	dKH
	fH
	eH
	gpg
	uScm
	mSm
	mScm
	degC
	degF
	ntu
	percent
	gram
	kilogram
	milligram
	ounce
	pound
	litre
	millilitre
	hectolitre
	cubicMetre
	gallonUS
	gallonUK
	barrelUS
	barrelUK
	second
	minute
	hour
	day
	week
	month
	metre
	kilometre
	numUnits
)

// unitTable is the one table of units. factor leads to the family's base unit:
// mg/L, mmol/L, meq/L, mg/L CaO for German degrees, mg/L CaCO3 for the other
// degrees, uS/cm, NTU, %, g, L, s, m. Temperatures have an offset as well.
//
// Sources of the definitions: SI brochure, 9th edition, tables 7 and 8 (L, min,
// h, d); NIST Special Publication 811 (2008), appendix B.8: grain 64.79891 mg,
// US gallon 3.785412 L, imperial gallon 4.54609 L, ounce 28.349523 g, pound
// 453.59237 g; US beer barrel 31 US gallons (27 CFR 25.11); UK barrel 36
// imperial gallons. German degree: 10 mg CaO/L (DIN 38409-6). French degree:
// 10 mg CaCO3/L; English (Clark) degree: 1 grain CaCO3 per imperial gallon; gpg:
// 1 grain CaCO3 per US gallon (Hem 1985, USGS Water-Supply Paper 2254, p. 159).
// A mho is a siemens (NIST Special Publication 811, appendix B.8).
var unitTable = [numUnits]struct {
	symbol    string
	ucum      string // UCUM has no code for degrees of hardness: an annotated mg/L stands there with its factor
	family    Family
	factor    float64
	offset    float64
	spellings []string
}{
	mgL:        {"mg/L", "mg/L", MassPerVolume, 1, 0, []string{"mg/l", "mg/dm3", "ppm", "[ppm]", "g/m3", "mg.l-1", "mg l-1"}},
	ugL:        {"ug/L", "ug/L", MassPerVolume, 0.001, 0, []string{"ug/l", "ppb", "[ppb]", "mcg/l", "ug/dm3", "mg/m3"}},
	gL:         {"g/L", "g/L", MassPerVolume, 1000, 0, []string{"g/l", "g/dm3", "kg/m3"}},
	mmolL:      {"mmol/L", "mmol/L", AmountPerVolume, 1, 0, []string{"mmol/l", "mmol/dm3", "mol/m3", "mm"}},
	meqL:       {"meq/L", "meq/L", ChargePerVolume, 1, 0, []string{"meq/l", "mval/l", "meq/dm3"}},
	dH:         {"dH", "", HardnessDegree, 10, 0, []string{"dh", "odh", "dgh", "odgh"}},
	dKH:        {"dKH", "", AlkalinityDegree, 10, 0, []string{"dkh", "odkh"}},
	fH:         {"fH", "", CarbonateDegree, 10, 0, []string{"fh", "ofh", "of", "tf"}},
	eH:         {"eH", "[gr]/[gal_br]", CarbonateDegree, 64.79891 / 4.54609, 0, []string{"eh", "oeh", "oe", "clark", "oclark", "[gr]/[gal_br]", "grain/imperial gallon"}},
	gpg:        {"gpg", "[gr]/[gal_us]", CarbonateDegree, 64.79891 / 3.785411784, 0, []string{"gpg", "gr/gal", "grain/gal", "grains/gallon", "grains per gallon", "[gr]/[gal_us]", "gr/gal us"}},
	uScm:       {"uS/cm", "uS/cm", Conductivity, 1, 0, []string{"us/cm", "us.cm-1", "us/cm at 25 degc", "us/cm at 25 oc", "us/cm @25c", "us/cm at 25c", "micros/cm", "umho/cm", "umhos/cm", "micromhos/cm"}},
	mSm:        {"mS/m", "mS/m", Conductivity, 10, 0, []string{"ms/m"}},
	mScm:       {"mS/cm", "mS/cm", Conductivity, 1000, 0, []string{"ms/cm", "ds/m", "mmho/cm", "mmhos/cm"}},
	degC:       {"degC", "Cel", Temperature, 1, 0, []string{"degc", "oc", "cel", "c", "celsius"}},
	degF:       {"degF", "[degF]", Temperature, 5.0 / 9, -32, []string{"degf", "of", "[degf]", "f", "fahrenheit"}},
	ntu:        {"NTU", "{NTU}", Turbidity, 1, 0, []string{"ntu", "{ntu}", "fnu", "{fnu}", "ftu"}},
	percent:    {"%", "%", Fraction, 1, 0, []string{"%", "percent", "pct"}},
	gram:       {"g", "g", Mass, 1, 0, []string{"g", "gram", "grams"}},
	kilogram:   {"kg", "kg", Mass, 1000, 0, []string{"kg"}},
	milligram:  {"mg", "mg", Mass, 0.001, 0, []string{"mg"}},
	ounce:      {"oz", "[oz_av]", Mass, 28.349523125, 0, []string{"oz", "[oz_av]", "ounce", "ounces"}},
	pound:      {"lb", "[lb_av]", Mass, 453.59237, 0, []string{"lb", "lbs", "[lb_av]", "pound", "pounds"}},
	litre:      {"L", "L", Volume, 1, 0, []string{"l", "litre", "litres", "liter", "liters", "dm3"}},
	millilitre: {"mL", "mL", Volume, 0.001, 0, []string{"ml", "cm3"}},
	hectolitre: {"hL", "hL", Volume, 100, 0, []string{"hl"}},
	cubicMetre: {"m3", "m3", Volume, 1000, 0, []string{"m3"}},
	gallonUS:   {"gal_us", "[gal_us]", Volume, 3.785411784, 0, []string{"gal_us", "[gal_us]", "us gal", "us gallon", "us gallons"}},
	gallonUK:   {"gal_br", "[gal_br]", Volume, 4.54609, 0, []string{"gal_br", "[gal_br]", "imp gal", "imperial gallon", "imperial gallons"}},
	barrelUS:   {"bbl_us", "", Volume, 31 * 3.785411784, 0, []string{"bbl_us", "us bbl", "us beer barrel"}},
	barrelUK:   {"bbl_br", "", Volume, 36 * 4.54609, 0, []string{"bbl_br", "uk bbl", "uk barrel"}},
	second:     {"s", "s", Duration, 1, 0, []string{"s", "sec"}},
	minute:     {"min", "min", Duration, 60, 0, []string{"min", "minutes"}},
	hour:       {"h", "h", Duration, 3600, 0, []string{"h", "hours"}},
	day:        {"d", "d", Duration, 86400, 0, []string{"d", "days"}},
	week:       {"wk", "wk", Duration, 7 * 86400, 0, []string{"wk", "weeks"}},
	month:      {"mo", "mo", Duration, 30.4375 * 86400, 0, []string{"mo", "months"}},
	metre:      {"m", "m", Length, 1, 0, []string{"m"}},
	kilometre:  {"km", "km", Length, 1000, 0, []string{"km"}},
}

// Unit is a unit of measurement together with the basis of a concentration.
// The zero Unit is no unit, as for pH and ratios. Units can be compared.
type Unit struct {
	id    unitID
	basis Basis
}

// The units that the program itself writes.
var (
	None            = Unit{}
	MilligramLitre  = Unit{id: mgL}
	MgLCaCO3        = Unit{mgL, AsCaCO3}
	MillimolLitre   = Unit{id: mmolL}
	MilliequivLitre = Unit{id: meqL}
	DegreeCelsius   = Unit{id: degC}
	MicrosiemensCm  = Unit{id: uScm}
	TurbidityUnit   = Unit{id: ntu}
	Percent         = Unit{id: percent}
	Gram            = Unit{id: gram}
	Millilitre      = Unit{id: millilitre}
	Litre           = Unit{id: litre}
	Hectolitre      = Unit{id: hectolitre}
	Second          = Unit{id: second}
	Day             = Unit{id: day}
	Metre           = Unit{id: metre}
)

// String is the one spelling in which the unit is written: "mg/L CaCO3".
func (u Unit) String() string {
	if u.basis == NoBasis {
		return unitTable[u.id].symbol
	}
	return unitTable[u.id].symbol + " " + bases[u.basis].name
}

// Family is the family that the unit belongs to.
func (u Unit) Family() Family { return unitTable[u.id].family }

// Basis is the species that the unit expresses a mass as.
func (u Unit) Basis() Basis { return u.basis }

// IsNone reports whether there is no unit at all.
func (u Unit) IsNone() bool { return u.id == noUnit }

// With is the same unit on another basis.
func (u Unit) With(b Basis) Unit { return Unit{u.id, b} }

// UCUM is the unit in the Unified Code for Units of Measure, version 2.1; the
// basis is an annotation. Units that UCUM lacks (German and French degrees,
// beer barrels) give "".
func (u Unit) UCUM() string {
	code := unitTable[u.id].ucum
	if code == "" || u.basis == NoBasis {
		return code
	}
	return code + "{" + bases[u.basis].name + "}"
}

// base converts v in the unit to the family's base unit.
func (u Unit) base(v float64) float64 {
	row := &unitTable[u.id]
	return (v + row.offset) * row.factor
}

// fromBase converts v in the family's base unit to the unit.
func (u Unit) fromBase(v float64) float64 {
	row := &unitTable[u.id]
	return v/row.factor - row.offset
}

// Scale is the factor of a difference in the unit to one in the base unit of
// its family (offsets of temperature scales do not enter).
func (u Unit) Scale() float64 { return unitTable[u.id].factor }

// exactUnits maps the written form of each unit, with and without each basis.
// It is the fast road; ParseUnit normalises what it does not find here.
var exactUnits = func() map[string]Unit {
	m := make(map[string]Unit, 200)
	for id := noUnit + 1; id < numUnits; id++ {
		u := Unit{id: id}
		m[u.String()] = u
		if u.Family() == MassPerVolume {
			for b := NoBasis + 1; int(b) < len(bases); b++ {
				m[u.With(b).String()] = u.With(b)
			}
		}
	}
	return m
}()

// looseUnits maps the folded spellings of unitTable, and looseBases those of
// the basis table.
var looseUnits = func() map[string]unitID {
	m := make(map[string]unitID, 120)
	for id := noUnit + 1; id < numUnits; id++ {
		for _, s := range unitTable[id].spellings {
			if _, taken := m[s]; !taken {
				m[s] = id
			}
		}
	}
	return m
}()

var looseBases = func() map[string]Basis {
	m := make(map[string]Basis, 60)
	for b := NoBasis + 1; int(b) < len(bases); b++ {
		for _, s := range bases[b].spellings {
			m[s] = b
		}
	}
	return m
}()

// unitFolder writes look-alike characters in one way: both micro signs, the
// degree sign, sub- and superscript digits and signs, the dot and the slash.
var unitFolder = strings.NewReplacer(
	"\u00b5", "u", "\u03bc", "u", "°", "o", "º", "o", "\u02da", "o",
	"₀", "0", "₁", "1", "₂", "2", "₃", "3", "₄", "4", "²", "2", "³", "3", "⁺", "+", "⁻", "-", "¹", "1", "−", "-",
	"·", ".", "⁄", "/", "∕", "/", "\u00a0", " ", "\u202f", " ", "\u2009", " ", "per ", "/", "_", " ",
)

// longestUnit, in bytes, is far more than any spelling has.
const longestUnit = 64

// ParseUnit reads a unit in any accepted spelling: "mg/l", "ppm", "°dH",
// "µS/cm", "mg/L as CaCO3", "mg/L{CaCO3}". ok is false for anything else.
func ParseUnit(s string) (u Unit, ok bool) {
	if u, ok = exactUnits[s]; ok {
		return u, true
	}
	if len(s) > longestUnit {
		return Unit{}, false
	}
	folded := strings.Join(strings.Fields(unitFolder.Replace(s)), " ")
	// mM is millimolar, mm would be a length; M and m differ, so this one
	// spelling is looked up before case is folded.
	switch folded {
	case "mM":
		return Unit{id: mmolL}, true
	case "mm", "M":
		return Unit{}, false
	case "oF", "°F":
		return Unit{id: degF}, true
	}
	folded = strings.ToLower(folded)
	folded = strings.ReplaceAll(folded, " / ", "/")
	folded = strings.ReplaceAll(folded, " /", "/")
	folded = strings.ReplaceAll(folded, "/ ", "/")
	folded = strings.ReplaceAll(folded, "/litre", "/l")
	folded = strings.ReplaceAll(folded, "/liter", "/l")
	if id, ok := looseUnits[folded]; ok {
		return Unit{id: id}, true
	}
	if id, ok := looseUnits[strings.ReplaceAll(folded, " ", "_")]; ok {
		return Unit{id: id}, true
	}
	head, tail := splitBasis(folded)
	id, ok := looseUnits[head]
	if !ok || tail == "" {
		return Unit{}, false
	}
	b, ok := looseBases[tail]
	if !ok {
		return Unit{}, false
	}
	u = Unit{id, b}
	switch u.Family() {
	case MassPerVolume:
		return u, true
	case AmountPerVolume, ChargePerVolume:
		// "mmol/L CaCO3" and "meq/L CaCO3" count moles and charges; which ion
		// they are said of does not change the number.
		return Unit{id: id}, b == AsCaCO3 || b == AsHCO3
	case CarbonateDegree:
		return Unit{id: id}, b == AsCaCO3
	}
	return Unit{}, false
}

// splitBasis cuts "mg/l as caco3", "mg/l (caco3)", "mg/l{caco3}" and
// "mg caco3/l" into the unit and the basis.
func splitBasis(s string) (unit, basis string) {
	if i := strings.IndexAny(s, "({"); i > 0 && strings.ContainsAny(s[len(s)-1:], ")}") {
		return strings.TrimSpace(s[:i]), strings.TrimPrefix(strings.TrimSpace(s[i+1:len(s)-1]), "as ")
	}
	unit, basis, found := strings.Cut(s, " ")
	if !found {
		return s, ""
	}
	basis = strings.TrimPrefix(strings.TrimSpace(basis), "as ")
	if rest, perLitre := strings.CutSuffix(basis, "/l"); perLitre {
		return unit + "/l", rest
	}
	if unit == "grains" || unit == "grain" || unit == "us" || unit == "imp" {
		return s, ""
	}
	return unit, basis
}

// Spellings are the written forms of a unit, without a basis: the symbol, the UCUM code, and
// what people write. Case, look-alike signs and blanks may differ from them.
func (u Unit) Spellings() []string {
	t := &unitTable[u.id]
	out := []string{t.symbol}
	for _, s := range append([]string{t.ucum}, t.spellings...) {
		if s != "" && !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}

// UnitNames lists the written form of every unit, for messages and completion.
func UnitNames() []string {
	names := make([]string, 0, numUnits)
	for id := noUnit + 1; id < numUnits; id++ {
		names = append(names, unitTable[id].symbol)
	}
	return names
}
