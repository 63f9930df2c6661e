package plan

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"wj/journal"
	"wj/water"
)

// ChanceText is a chance in words, rounded down: "97 %", "> 99 %", "< 1 %".
func ChanceText(p float64) string {
	switch {
	case p > 0.99:
		return "> 99 %"
	case p < 0.01:
		return "< 1 %"
	}
	return fmt.Sprintf("%.0f %%", math.Floor(100*p+1e-9))
}

// Headline says first what counts, and what is not judged.
func (a *Answer) Headline() []string {
	out := a.likelihood()
	for _, n := range a.NotJudged {
		out = append(out, n.Sentence())
	}
	return out
}

func (a *Answer) likelihood() []string {
	chance, but := a.rest()
	if chance == nil {
		return nil
	}
	scope := "All limits are kept"
	if but != "" {
		scope = "All limits but " + but + " are kept"
	}
	var outside []string
	for name := range a.Chances {
		if r := a.Result[name]; r.Inside != nil && !*r.Inside {
			outside = append(outside, name)
		}
	}
	slices.Sort(outside)
	var out []string
	asked := ""
	if a.Asked > 0 {
		asked = fmt.Sprintf(" (%.4g %% asked)", 100*a.Asked)
	}
	switch {
	case len(outside) > 0:
		out = append(out, "NOT every limit of the target can be kept: outside "+spoken(outside...)+".")
	case a.Kept == nil || *a.Kept:
		out = append(out, fmt.Sprintf("%s with a chance of %s%s.", scope, ChanceText(*chance), asked))
	default:
		out = append(out, fmt.Sprintf("NOT sure enough: %s with a chance of %s%s.", lowered(scope), ChanceText(*chance), asked))
		out = append(out, a.doubtful()...)
	}
	for _, name := range a.Narrow {
		if slices.Contains(outside, name) {
			continue
		}
		out = append(out, fmt.Sprintf("%s is within its limits with a chance of %s: the range is narrower than it can be known. Measure and correct.", journal.Capital(spoken(name)), ChanceText(a.Chances[name])))
	}
	return out
}

// Brief is the chance in a few words; "" where there is none.
func (a *Answer) Brief() string {
	chance, but := a.rest()
	switch {
	case chance == nil && len(a.NotJudged) > 0:
		return "no limit is judged"
	case chance == nil:
		return ""
	case but == "":
		return fmt.Sprintf("chance of all limits: %s", ChanceText(*chance))
	}
	text := fmt.Sprintf("chance of all limits but %s: %s", but, ChanceText(*chance))
	if a.Chance != nil {
		return text + ", of all " + ChanceText(*a.Chance)
	}
	return text + "; not judged: " + spoken(a.unjudged()...)
}

// rest is the chance of the limits that a dose can be judged by, and the others in
// words; nil where none is judged.
func (a *Answer) rest() (chance *float64, but string) {
	if a.ChanceBut == nil {
		return a.Chance, ""
	}
	return a.ChanceBut, spoken(append(slices.Clone(a.Narrow), a.unjudged()...)...)
}

func (a *Answer) unjudged() []string {
	var out []string
	for _, n := range a.NotJudged {
		out = append(out, n.Name)
	}
	return out
}

// spoken are names as people write them.
func spoken(names ...string) string { return strings.ReplaceAll(strings.Join(names, ", "), "_", " ") }

// doubtful names the two least likely limits, and what most of the doubt comes from.
func (a *Answer) doubtful() []string {
	names := make([]string, 0, len(a.Chances))
	for name := range a.Chances {
		if !slices.Contains(a.Narrow, name) {
			names = append(names, name)
		}
	}
	slices.SortFunc(names, func(x, y string) int {
		switch d := a.Chances[x] - a.Chances[y]; {
		case d < 0:
			return -1
		case d > 0:
			return 1
		}
		return strings.Compare(x, y)
	})
	var least, doubts []string
	for _, name := range names[:min(2, len(names))] {
		least = append(least, fmt.Sprintf("%s %s", spoken(name), ChanceText(a.Chances[name])))
	}
	for _, d := range a.Doubts {
		doubts = append(doubts, fmt.Sprintf("%s %.0f %%", spoken(d.Source), 100*d.Part))
	}
	return []string{"Least likely: " + strings.Join(least, ", ") + ". The doubt comes from: " + strings.Join(doubts, ", ") + "."}
}

func lowered(s string) string { return strings.ToLower(s[:1]) + s[1:] }

// Settles says in words what solids do; "" where they do nothing.
func (a *Answer) Settles() []string {
	if a.Solids == nil {
		return nil
	}
	var out []string
	ends := func(name string) string {
		v := a.Result[name]
		if v.None == nil || v.Full == nil {
			return ""
		}
		return fmt.Sprintf("%s %s to %s", name, water.Round(*v.None, 3), water.Round(*v.Full, 3))
	}
	if a.Solids.FormedMost > 0 {
		text := fmt.Sprintf("up to %s g of calcium carbonate fall out", water.Round(a.Solids.FormedMost, 2))
		if e := ends("alkalinity"); e != "" {
			text += "; from least to equilibrium: " + e
			if c := ends("calcium"); c != "" {
				text += ", " + c
			}
		}
		out = append(out, text+". Stir and settle longer to come nearer to equilibrium; a cold still tank may lose nothing.")
	}
	if a.Solids.Magnesium > 0 {
		out = append(out, fmt.Sprintf("%s g of magnesium hydroxide fall out at equilibrium", water.Round(a.Solids.Magnesium, 2)))
	}
	for key, grams := range a.Solids.Undissolved {
		out = append(out, fmt.Sprintf("%s g of the %s stay undissolved at equilibrium", water.Round(grams, 2), spoken(key)))
	}
	slices.Sort(out)
	return out
}
