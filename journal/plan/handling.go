package plan

import (
	"strings"

	"wj/water/substance"
	"wj/water/treat"
)

// Handling is the cautions of all that is dosed: what is true of several
// substances is said once, of all of them.
func Handling(p *treat.Prediction) []string {
	names := map[string][]string{} // of each caution
	var order []string
	for _, d := range p.Doses {
		s, err := d.Entry()
		if err != nil || s.Caution == "" || d.Amount == 0 {
			continue
		}
		for _, part := range strings.Split(s.Caution, "; ") {
			if names[part] == nil {
				order = append(order, part)
			}
			names[part] = append(names[part], substanceText(&d))
		}
	}
	said := map[string]int{}
	var out []string
	for _, part := range order {
		who := strings.Join(names[part], ", ")
		if at, ok := said[who]; ok {
			out[at] += "; " + part
			continue
		}
		said[who] = len(out)
		out = append(out, who+": "+part)
	}
	if p.Plan.IntoMash {
		for _, d := range p.Doses {
			if s, err := d.Entry(); err == nil && s.Kind == substance.Acid && d.Amount > 0 {
				out = append(out, substanceText(&d)+": into the mash with the malt in it, never into the liquor alone, which it would make far too acid")
			}
		}
	}
	return out
}
