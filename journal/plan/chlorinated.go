package plan

import (
	"fmt"
	"slices"
	"strings"

	"wj/journal"
	"wj/water"
	"wj/water/substance"
	"wj/water/treat"
)

// dechlorinates reports whether a metabisulfite is asked for by name.
func (q *Question) dechlorinates() bool { return q.Dechlorinate != "" && q.Dechlorinate != "none" }

// sulfite is what takes the chlorine out, nil for nothing, and the shelf without
// the metabisulfites: they are dosed for chlorine alone, in a step of their own.
// Where chlorine stays in, a note says so.
func (t *Treatment) sulfite(shelf []treat.Product) (*treat.Product, []treat.Product, error) {
	c := &t.Question
	only, err := substances(c.Only)
	if err != nil {
		return nil, nil, err
	}
	without, err := substances(c.Without)
	if err != nil {
		return nil, nil, err
	}
	var rest, found []treat.Product
	for _, g := range shelf {
		s, err := g.Entry()
		if err != nil {
			return nil, nil, err
		}
		barred, listed := t.book.j.Settings.Restricted[s.Key]
		if s.Kind != substance.Sulfite {
			rest = append(rest, g)
		} else if listed && barred.Covers(t.Question.Now) {
			continue
		} else if (len(only) == 0 || slices.Contains(only, s.Key)) && !slices.Contains(without, s.Key) {
			found = append(found, g)
		}
	}
	for _, text := range c.Add {
		key, _, _ := strings.Cut(text, "=")
		if s, ok := substance.ByKey(strings.TrimSpace(key)); ok && s.Kind == substance.Sulfite && !c.dechlorinates() {
			return nil, rest, nil // dosed by hand
		}
	}
	if c.dechlorinates() {
		g, err := t.namedSulfite(shelf)
		return g, rest, err
	}
	var chlorinated, onlyFree []string
	beyond := false
	for _, s := range t.supplies {
		held, _, free := treat.ChlorineIn([]treat.Portion{{Name: s.Name, Analysis: s.Analysis, Share: 1}})
		over := treat.ChlorineBeyond(s.Analysis)
		text := fmt.Sprintf("%s holds %s mg/L of chlorine", s.Name, water.Round(held.Total, 2))
		switch {
		case over:
			text = s.Name + " holds more chlorine than its test reads"
		case held.Total < treat.LeastChlorine:
			continue
		}
		if behind, ok := t.book.Filtered(t.sessions[s.Name].Site, t.Question.Now); ok {
			t.Notes = append(t.Notes, fmt.Sprintf("%s, and %s found none behind the carbon on %s: nothing is dosed for it", text, behind.Site, journal.FormatDate(behind.Sampled.In(t.book.zone()))))
			continue
		}
		beyond = beyond || over
		chlorinated = append(chlorinated, text)
		onlyFree = append(onlyFree, free...)
	}
	stays := ""
	switch {
	case len(chlorinated) == 0:
		return nil, rest, nil
	case c.Dechlorinate == "none" || len(c.Add) > 0:
		stays = "and nothing here takes it out"
	case beyond:
		stays = "so that no dose can be found: " + readHigher
	case len(onlyFree) > 0:
		if elsewhere := t.chlorineElsewhere(onlyFree); elsewhere != "" {
			t.Notes = append(t.Notes, elsewhere+": test all in one sample for a dose of metabisulfite")
		}
		stays = "measured as free chlorine alone, so chloramine would stay in: measure total_chlorine for a dose of metabisulfite, or lead it over carbon"
	case len(found) == 0:
		stays = "and no metabisulfite is in stock or allowed to take it out: --dechlorinate sodium_metabisulfite works a dose out, or lead it over carbon"
	default:
		return &found[0], rest, nil
	}
	t.Notes = append(t.Notes, strings.Join(chlorinated, ", ")+", "+stays)
	return nil, rest, nil
}

// readHigher is what to do about chlorine beyond the range of its test, which no
// dilution brings into it.
const readHigher = "measure total_chlorine by a method that reads higher, or lead the water over carbon"

// namedSulfite is the metabisulfite that was asked for: the lot in stock, else as
// the table has it.
func (t *Treatment) namedSulfite(shelf []treat.Product) (*treat.Product, error) {
	const hint = "sodium_metabisulfite or potassium_metabisulfite; none for none"
	keys, err := substances([]string{t.Question.Dechlorinate})
	if err != nil {
		return nil, advise(hint, "%w", err)
	}
	if s, _ := substance.ByKey(keys[0]); s.Kind != substance.Sulfite {
		return nil, advise(hint, "%s does not take chlorine out", keys[0])
	}
	var waters []treat.Portion
	for _, s := range t.supplies {
		waters = append(waters, treat.Portion{Name: s.Name, Analysis: s.Analysis, Share: 1 / float64(len(t.supplies))})
	}
	held, unknown, onlyFree := treat.ChlorineIn(waters)
	if newer := t.chlorineElsewhere(append(unknown, onlyFree...)); newer != "" && (len(onlyFree) > 0 || len(unknown) == len(waters)) {
		return nil, advise("test it with all the rest in one sample (wj enter), so that dose and prediction depend on one session", "%s", newer)
	}
	example := "wj new session " + t.sessions[t.supplies[0].Name].Site + " total_chlorine=\"0.6 mg/L\" free_chlorine=\"0.5 mg/L\""
	switch {
	case slices.ContainsFunc(waters, func(w treat.Portion) bool { return treat.ChlorineBeyond(w.Analysis) }):
		return nil, advise(readHigher, "chlorine of %s is more than its test reads", strings.Join(unknown, " and "))
	case len(onlyFree) > 0:
		return nil, advise(example, "of %s free chlorine alone was measured, and a dose on that would leave chloramine in", strings.Join(onlyFree, " and "))
	case len(unknown) == len(waters):
		return nil, advise(example, "chlorine of %s was not measured", strings.Join(unknown, " and "))
	case held.Total < treat.LeastChlorine/float64(len(waters)):
		t.Notes = append(t.Notes, "no chlorine was found: nothing is dosed for it")
		return nil, nil
	}
	if len(unknown) > 0 {
		t.Notes = append(t.Notes, fmt.Sprintf("chlorine of %s was not measured and is taken as none", strings.Join(unknown, " and ")))
	}
	for i := range shelf {
		if shelf[i].Substance == keys[0] {
			return &shelf[i], nil
		}
	}
	g, err := treat.NewProduct(keys[0], water.Quantity{}, "")
	if err != nil {
		return nil, err
	}
	g.Step = t.book.Step(g.Unit)
	t.Notes = append(t.Notes, fmt.Sprintf("%s is not in stock; taken as %s", keys[0], g.StrengthText()))
	return &g, nil
}

// chlorineElsewhere tells of a sample that tested total chlorine of a water whose
// basis did not; "" where there is none.
func (t *Treatment) chlorineElsewhere(names []string) string {
	for _, name := range names {
		basis := t.sessions[name]
		s, _, ok := t.book.NewestWith(basis.Site, t.Question.Now, water.TotalChlorine)
		if ok && s.Sampled.After(basis.Sampled) {
			return fmt.Sprintf("total chlorine of %s was tested in %s, and its water is from %s", basis.Site, s.ID, basis.ID)
		}
	}
	return ""
}
