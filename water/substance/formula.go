package substance

import (
	"fmt"
	"strings"
)

// atomicWeight holds the abridged standard atomic weights, g/mol, of the elements that waters and what is added to them
// are made of. Source: IUPAC/CIAAW, Prohaska et al., Pure Appl. Chem. 94 (2022) 573, abridged to five figures.
var atomicWeight = map[string]float64{
	"H": 1.008, "Li": 6.94, "B": 10.81, "C": 12.011, "N": 14.007, "O": 15.999, "F": 18.998, "Na": 22.990, "Mg": 24.305,
	"Al": 26.982, "Si": 28.085, "P": 30.974, "S": 32.06, "Cl": 35.45, "K": 39.098, "Ca": 40.078, "Cr": 51.996, "Mn": 54.938,
	"Fe": 55.845, "Ni": 58.693, "Cu": 63.546, "Zn": 65.38, "As": 74.922, "Se": 78.971, "Br": 79.904, "Sr": 87.62,
	"Cd": 112.41, "I": 126.90, "Ba": 137.33, "Hg": 200.59, "Pb": 207.2, "U": 238.03,
}

// MolarMass returns the molar mass in g/mol of a formula such as "CaSO4.2H2O", "Ca(OH)2" or "C6H8O7.H2O".
// A full stop or a middle dot separates the water of a hydrate and may be followed by a count. Charges are not
// written: the mass of the electron (0.0005 g/mol) is ignored.
// It returns an error naming the place when the formula cannot be read or has an element outside the table.
func MolarMass(formula string) (float64, error) {
	if formula == "" {
		return 0, fmt.Errorf("read chemical formula: it is empty")
	}
	if len(formula) > 200 {
		return 0, fmt.Errorf("read chemical formula: %d characters are more than the 200 allowed", len(formula))
	}
	sum := 0.0
	rest := strings.ReplaceAll(formula, "·", ".")
	for _, part := range strings.Split(rest, ".") {
		p := formulaReader{text: part}
		count := 1
		if p.digit() {
			count = p.number()
		}
		mass, err := p.group(0)
		if err == nil && p.at < len(p.text) {
			err = fmt.Errorf("character %q is not expected", p.text[p.at])
		}
		if err == nil && mass == 0 {
			err = fmt.Errorf("a part is empty")
		}
		if err != nil {
			return 0, fmt.Errorf("read chemical formula %q: %w", formula, err)
		}
		sum += float64(count) * mass
	}
	return sum, nil
}

type formulaReader struct {
	text string
	at   int
}

func (p *formulaReader) digit() bool {
	return p.at < len(p.text) && p.text[p.at] >= '0' && p.text[p.at] <= '9'
}

// number reads a count; it is capped so that a long run of digits cannot overflow.
func (p *formulaReader) number() int {
	n := 0
	for p.digit() {
		n = min(n*10+int(p.text[p.at]-'0'), 100_000)
		p.at++
	}
	return n
}

func (p *formulaReader) group(depth int) (float64, error) {
	sum := 0.0
	for p.at < len(p.text) {
		c := p.text[p.at]
		var mass float64
		switch {
		case c == '(':
			if depth == 4 {
				return 0, fmt.Errorf("brackets are nested more than four deep")
			}
			p.at++
			inner, err := p.group(depth + 1)
			if err != nil {
				return 0, err
			}
			if p.at >= len(p.text) || p.text[p.at] != ')' {
				return 0, fmt.Errorf("a bracket is not closed")
			}
			p.at++
			mass = inner
		case c == ')' && depth > 0:
			return sum, nil
		case c >= 'A' && c <= 'Z':
			end := p.at + 1
			for end < len(p.text) && p.text[end] >= 'a' && p.text[end] <= 'z' {
				end++
			}
			w, ok := atomicWeight[p.text[p.at:end]]
			if !ok {
				return 0, fmt.Errorf("element %q is not in the table", p.text[p.at:end])
			}
			mass, p.at = w, end
		default:
			return 0, fmt.Errorf("character %q is not expected", c)
		}
		if p.digit() {
			mass *= float64(p.number())
		}
		sum += mass
	}
	return sum, nil
}
