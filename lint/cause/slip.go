package cause

import (
	"math"
	"strconv"
	"strings"

	"wj/water"
)

// factor is a way in which a number may be another one than was meant: the value
// as typed, times f, is what was in the cup.
type factor struct {
	f      float64
	weight float64
	unit   water.Unit
	twice  bool // the factor was applied once too often
}

// rareUnits are seldom shown by a meter for water.
func rareUnit(u water.Unit) float64 {
	switch name := u.String(); {
	case strings.HasPrefix(name, "ug/L"), strings.HasPrefix(name, "g/L"), strings.HasSuffix(name, "CaO"):
		return 0.05
	case name == "eH", name == "fH":
		return 0.3
	}
	return 1
}

// saltToChloride is mg/L Cl in a mg/L NaCl (IUPAC 2021 weights).
const saltToChloride = 35.45 / 58.44

// unitFactors are the units that the number may have been in, each with what it
// makes of the value: from the unit table, and the few that no unit has.
func unitFactors(id water.ID, typed water.Unit) []factor {
	info := id.Info()
	was, err := info.Convert(1, typed, info.Unit)
	if err != nil || id == water.PHValue {
		return nil
	}
	var out []factor
	add := func(f, weight float64, u water.Unit, twice bool) {
		if math.Abs(f-1) < 0.01 {
			return
		}
		for i := range out {
			if math.Abs(out[i].f/f-1) < 0.005 {
				if weight > out[i].weight {
					out[i] = factor{f, weight, u, twice}
				}
				return
			}
		}
		out = append(out, factor{f, weight, u, twice})
	}
	for _, u := range info.Units() {
		is, err := info.Convert(1, u, info.Unit)
		if err != nil {
			continue
		}
		add(is/was, rareUnit(u), u, false)
	}
	switch id {
	case water.Chloride:
		add(saltToChloride, 1, water.None, false)
	case water.ElectricalConductivity: // solids, by the factors that pens use
		add(1/0.5, 1, water.MilligramLitre, false)
		add(1/0.64, 0.5, water.MilligramLitre, false)
		add(1/0.7, 0.5, water.MilligramLitre, false)
	}
	// The factor applied once too often: of a number that was right as shown.
	for _, o := range append([]factor(nil), out...) {
		add(1/o.f, 0.2*o.weight, o.unit, true)
	}
	return out
}

// original is a number that one slip turns into the one typed.
type original struct {
	value float64
	share float64
}

// originals are the numbers one slip away from the one typed, with the share of
// each: digits transposed, lost, doubled or replaced (Damerau 1964).
func originals(typed string) []original {
	if typed == "" || len(typed) > 12 {
		return nil
	}
	var at []int // places of the digits
	for i := range len(typed) {
		if typed[i] >= '0' && typed[i] <= '9' {
			at = append(at, i)
		}
	}
	n := float64(len(at))
	var out []original
	add := func(text string, share float64) {
		if v, err := strconv.ParseFloat(text, 64); err == nil && !(len(text) > 1 && text[0] == '0' && text[1] != '.') {
			out = append(out, original{v, share})
		}
	}
	for k := 1; k < len(at); k++ {
		if typed[at[k]] != typed[at[k-1]] {
			b := []byte(typed)
			b[at[k]], b[at[k-1]] = b[at[k-1]], b[at[k]]
			add(string(b), transposed/(n-1))
		} else {
			add(typed[:at[k]]+typed[at[k]+1:], doubled/(n-1))
		}
	}
	for k := 0; k <= len(typed); k++ {
		for d := byte('0'); d <= '9'; d++ {
			if k > 0 && typed[k-1] == d {
				continue // the same number as one place before
			}
			add(typed[:k]+string(d)+typed[k:], lost/(n+1))
		}
	}
	for _, k := range at {
		for d := byte('0'); d <= '9'; d++ {
			if d != typed[k] {
				b := []byte(typed)
				b[k] = d
				add(string(b), replaced/(9*n))
			}
		}
	}
	return out
}
