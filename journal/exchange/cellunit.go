package exchange

import (
	"regexp"
	"strings"
	"sync"

	"wj/water"
)

// numberWords are what files write in the column of units where a number has none.
// Folded as foldName does; common practice, no source.
var numberWords = map[string]bool{"": true, "su": true, "dimsls": true, "sansobjet": true, "dimensionless": true, "dimensionslos": true, "sansunite": true, "adimensional": true, "ohne": true}

// speciesUnit is a unit that names what is weighed in brackets: mg(NO3)/L.
var speciesUnit = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^([\pL]+)\s*\(([\pL0-9]+)\)\s*/\s*([lL])$`) })

// unitOf reads the unit of a result as a file states it: the spellings that package
// water knows, words for a number without a unit, and mg(NO3)/L. mg(Cl)/L of chloride
// is mg/L, since what is weighed is the analyte itself.
func unitOf(text string, id water.ID) (water.Unit, bool) {
	text = tidy(text)
	if u, ok := water.ParseUnit(text); ok {
		return u, true
	}
	if folded := foldName(text); id.Info().Unit.IsNone() && (numberWords[folded] || strings.Contains(folded, "unit") || strings.HasPrefix(folded, "ph") || text == "-") {
		return water.Unit{}, true
	}
	if m := speciesUnit().FindStringSubmatch(text); m != nil {
		plain := m[1] + "/" + m[3]
		if u, ok := water.ParseUnit(plain + " " + m[2]); ok && id.Info().FitUnit(u) == nil {
			return u, true
		}
		if same, ok := analyteNamed(m[2]); ok && same == id {
			return water.ParseUnit(plain)
		}
	}
	return water.ParseUnit(strings.Replace(text, "deg ", "deg", 1))
}

// apart takes a cell apart: the number, without a bound, and the unit that is in the cell
// with it; "" for a cell that has none.
func apart(text string) (number, unit string) {
	text = tidy(strings.TrimLeft(text, "<>≤≥ "))
	i := strings.IndexFunc(text, func(r rune) bool { return r == ' ' || r > '9' && r != 'e' && r != 'E' })
	if i <= 0 {
		return text, ""
	}
	return text[:i], tidy(text[i:])
}

// unitsIn are the units that the cells of a column state with their numbers: of all
// rows, or of those with this name in the column of analytes. bare counts the numbers
// without one.
func (g *guesser) unitsIn(column int, name string, id water.ID) (units []water.Unit, bare int) {
	seen := map[water.Unit]bool{}
	for i := range g.lines {
		if name != "" && g.lines[i].cell(g.role["name"]).Text != name {
			continue
		}
		number, text := apart(g.lines[i].cell(column).Text)
		if !plainNumber().MatchString(strings.Replace(number, ",", ".", 1)) {
			continue
		}
		u, ok := unitOf(text, id)
		switch {
		case text == "" || !ok:
			bare++
		case !seen[u]:
			seen[u] = true
			units = append(units, u)
		}
	}
	return units, bare
}
