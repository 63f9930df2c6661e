package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/judge"
	"wj/journal/plan"
	"wj/lint"
	"wj/water"
)

// state gives the estimates, limits, cautions, checks and assumptions that a decision needs.
func (w *changeWork) state(p *ChangePart) {
	if m, err := w.book.MashPH(w.proposed, w.now); err == nil {
		p.MashPH = fmt.Sprintf("%.2f ± %.2f", m.PH, math.Max(m.HalfWidth, 0.01))
		if w.beforeToday != nil {
			if old, err := w.book.MashPH(w.beforeToday, w.now); err == nil {
				p.MashPH += fmt.Sprintf(", before %.2f", old.PH)
			}
		}
		if v, ok := p.Treatment.Result[mashPH]; ok && (v.Min != nil || v.Max != nil) {
			p.MashPH += fmt.Sprintf(" (limits %s, chance %s)", limitText(orNaN(v.Min), orNaN(v.Max)), plan.ChanceText(p.Treatment.Chances[mashPH]))
		}
		for _, n := range p.Treatment.NotJudged {
			if n.Name == mashPH {
				p.MashPH += fmt.Sprintf(" (NOT judged, limits %s)", limitText(orNaN(n.Min), orNaN(n.Max)))
			}
		}
		p.MashPH += fmt.Sprintf(", indicative (%s)", m.From)
	}
	if removed := w.proposed.Prediction.Removal(); removed != nil {
		p.Chlorine = fmt.Sprint(removed)
	}
	p.Safe = w.safe()
	p.Cautions = []string{}
	for _, c := range lint.DoseLimits(w.j).Check(w.proposed.Prediction, w.balance) {
		p.Cautions = append(p.Cautions, fmt.Sprintf("%s %s: %s; %s (%s)", c.Severity, c.Rule, c.Message, c.Help, c.Source))
	}
	p.Checks = w.checks()
	p.Assumes = append(append([]string{}, w.proposed.Prediction.Assumptions...), plan.Version)
	if w.judged.Checked != nil {
		p.Verified = fmt.Sprintf("%s by %s", w.book.Verification(w.judged.Change, w.judged.Checked).Line(), w.judged.Checked.ID)
	}
}

func numberOrNaN(v *Number) float64 {
	if v == nil {
		return math.NaN()
	}
	return float64(*v)
}

func orNaN(v *float64) float64 {
	if v == nil {
		return math.NaN()
	}
	return *v
}

// safe holds the result against the limits in force for brewing liquor, by its 95 % interval, and for information against the
// indicator values of drinking water; and says whether the doses dissolve.
func (w *changeWork) safe() []string {
	out := []string{}
	known := judge.NewLimits(w.j)
	for _, l := range append(slices.Clone(known.Liquor(w.now)), known.Indicators()...) {
		v, err := w.proposed.Prediction.Value(l.ID)
		if err != nil {
			continue
		}
		conformity := judge.Conform(v, l.Min, l.Max)
		if conformity == judge.Unlimited || conformity == judge.Within && (l.Max == nil || v.Value < *l.Max/2) {
			continue // far from it
		}
		word := conformity.String()
		if conformity != judge.Within {
			word = strings.ToUpper(word)
		}
		out = append(out, fmt.Sprintf("%s %s: %s, %s %s", title(l.ID), valueOf(v.Value, v.U, v.Bound, l.ID.Info().Unit.String()), word, l.Label(), l.Words()))
	}
	for _, anion := range []string{"lactate", "citrate", "phosphate"} {
		if v, _ := w.proposed.Prediction.Acid(anion); v > 0 {
			out = append(out, fmt.Sprintf("%s %s mg/L", anion, water.Round(v, 2)))
		}
	}
	if len(w.proposed.Prediction.Doses) == 0 {
		return out
	}
	switch {
	case w.balance == nil:
		out = append(out, fmt.Sprintf("pH and dissolving not computed: %v", w.balanceErr))
	case len(w.balance.Undissolved) == 0:
		out = append(out, "dissolves: yes")
	default:
		for _, u := range w.balance.Undissolved {
			out = append(out, fmt.Sprintf("%s g of %s stay UNDISSOLVED", water.Round(u.Grams, 2), u.Substance))
		}
	}
	if w.balance != nil {
		out = append(out, fmt.Sprintf("liquor pH %.2f ± %.2f", w.balance.PH.Value, w.balance.PH.Expanded()))
	}
	if v, err := w.proposed.Prediction.Value(water.Alkalinity); err == nil {
		answer := "yes"
		least := lint.DoseLimits(w.j).LeastAlkalinity
		if v.Value < least {
			answer = "NO"
		}
		out = append(out, fmt.Sprintf("alkalinity stays over %g: %s", least, answer))
	}
	return out
}

// checks says what was looked at and found right or wrong: the linter on the change and all it depends on, and the last check of
// each meter.
func (w *changeWork) checks() []string {
	needed, err := evidence.Covers(w.j, w.judged.Change)
	if err != nil {
		return []string{err.Error()}
	}
	var paths, out []string
	for _, n := range needed {
		paths = append(paths, n.Path)
	}
	found := 0
	for _, d := range lint.Run(w.j, lint.Options{Paths: paths, Now: w.now, Facts: w.facts}).Diagnostics {
		if d.Severity < lint.Warning || shownElsewhere(d.Rule) {
			continue
		}
		if found++; found <= 4 {
			out = append(out, fmt.Sprintf("%s %s in %s: %s", d.Severity, d.Rule, d.Path, d.Message))
		}
	}
	switch {
	case found == 0:
		out = append(out, fmt.Sprintf("no findings in the change and the %s it depends on", journal.Count(len(paths)-1, "record")))
	case found > 4:
		out = append(out, fmt.Sprintf("and %d more (wj lint)", found-4))
	}
	seen := map[string]bool{}
	for i := range w.proposed.Sources {
		s := w.proposed.Sources[i].Basis
		if s.Instrument == "" || seen[s.Instrument] {
			continue
		}
		seen[s.Instrument] = true
		out = append(out, w.meterCheck(s))
	}
	return out
}

// shownElsewhere are the families of rules whose matter the screen shows by itself: what a water is, and the cautions of the doses.
func shownElsewhere(rule string) bool {
	r, ok := lint.Find(rule)
	return ok && slices.Contains([]lint.Family{lint.FamilySite, lint.FamilyLimit, lint.FamilyDose}, r.Family) || rule == "change/lapsed"
}

// meterCheck is the last check of a session's meter before it, with the worst recovery.
func (w *changeWork) meterCheck(s *journal.Session) string {
	list := judge.NewChecks(w.j).Meter(s.Instrument, judge.TestedAt(s, nil))
	if len(list) == 0 {
		return s.Instrument + " was never checked before"
	}
	var newest, failed, worst *judge.Check
	off := func(c *judge.Check) float64 { return math.Abs(c.Found/c.Truth - 1) }
	for i := range list {
		c := &list[i]
		if newest == nil || c.At.After(newest.At) {
			newest = c
		}
		if !c.Passed && failed == nil {
			failed = c
		}
		if c.Reading.Analyte.Scales() && c.Truth > 0 && (worst == nil || off(c) > off(worst)) {
			worst = c
		}
	}
	text := fmt.Sprintf("%s checked %s", s.Instrument, dayText(newest.At.In(w.j.Settings.Zone), w.now))
	if worst != nil {
		text += fmt.Sprintf(", farthest off: %s %.0f %%", title(worst.Reading.Analyte), 100*worst.Found/worst.Truth)
	}
	if failed != nil {
		text += fmt.Sprintf("; its last check for %s FAILED", title(failed.Reading.Analyte))
	}
	return text
}

// expires says what would end the approval.
func (w *changeWork) expires(policy journal.Policy) []string {
	out := []string{}
	if bounds := w.book.Bounds(w.today); len(bounds) > 0 {
		out = append(out, boundText(bounds[0]))
	}
	out = append(out, "if newer water takes a value out of the target or moves an expected one, by more than chance", "if a covered file changes")
	if policy.ValidFor > 0 {
		from := w.now
		for _, v := range w.judged.Verdicts {
			if v.Standing == evidence.InForce && !v.Refused() {
				from = v.Signoff.On
			}
		}
		out = append(out, "on "+journal.FormatDate(from.Add(policy.ValidFor)))
	}
	return out
}

// boundText says between what a site's reading must stay; both ends are rounded inwards.
func boundText(b plan.Bound) string {
	text := fmt.Sprintf("if %s %s ", b.Site, title(b.ID))
	switch {
	case math.IsNaN(b.Low):
		text += fmt.Sprintf("passes %.0f", math.Floor(b.High))
	case math.IsNaN(b.High):
		text += fmt.Sprintf("falls below %.0f", math.Ceil(b.Low))
	default:
		text += fmt.Sprintf("leaves %.0f–%.0f", math.Ceil(b.Low), math.Floor(b.High))
	}
	return text + fmt.Sprintf(" (now %s)", water.Round(b.Now, 3))
}
