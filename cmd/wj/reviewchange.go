package main

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/judge"
	"wj/journal/plan"
	"wj/lint"
	"wj/render"
	"wj/water"
	"wj/water/treat"
)

// changeReview is what a reviewer must see of a change.
type changeReview struct {
	a         *app
	j         *journal.Journal
	w         *witness
	judgement *judge.Changes
	judged    *judge.Change
	book      *plan.Book
	now       time.Time

	proposed, today *plan.Work
	before          *judge.Change // what is approved for the same target until now
	beforeToday     *plan.Work
	balance         *treat.Equilibrium
	balanceErr      error
}

// reviewChange shows a change on one screen: what the water is, what the dose
// in force makes of it today, what is proposed, and how far that is from the
// target's limits; then the doses, and everything that the decision hangs on.
func (a *app) reviewChange(format string, j *journal.Journal, w *witness, judgement *judge.Changes, c *journal.Change) error {
	r := &changeReview{a: a, j: j, w: w, judgement: judgement, judged: judgement.Change(c), book: plan.Open(j), now: a.now().In(j.Settings.Zone)}
	var err error
	if r.proposed, err = r.book.OnBasis(c); err != nil {
		return withHint("wj lint "+c.ID, "%w", err)
	}
	if r.today, err = r.book.OnDay(c, r.now); err != nil {
		return withHint("wj lint "+c.ID, "%w", err)
	}
	r.findBefore()
	r.balance, r.balanceErr = r.proposed.Prediction.Equilibrate()
	p := &panel{title: fmt.Sprintf("change %s: %s", c.ID, r.judged.State)}
	r.head(p)
	p.table("", r.ions())
	p.table("", doseTable(r.proposed, r.beforeToday, r.before != nil))
	r.facts(p)
	r.ending(p)
	return a.showPanel(p, format)
}

// findBefore finds what this change would replace: what it supersedes, else the
// newest other change for the same target that anybody accepted.
func (r *changeReview) findBefore() {
	c := r.judged.Change
	var best *journal.Change
	if s, ok := r.j.Changes.Get(c.Supersedes); ok && s.ID != c.ID {
		best = s
	} else {
		for _, other := range r.j.Changes.List {
			if other.For != c.For || other.ID == c.ID || other.Void != nil || other.Proposed.After(c.Proposed) || best != nil && !other.Proposed.After(best.Proposed) {
				continue
			}
			for _, v := range r.judgement.Signoffs(other.ID) {
				if !v.Refused() && v.Standing != evidence.NotAllowed {
					best = other
				}
			}
		}
	}
	if best == nil {
		return
	}
	if w, err := r.book.OnDay(best, r.now); err == nil {
		r.before, r.beforeToday = r.judgement.Change(best), w
	}
}

func (r *changeReview) head(p *panel) {
	c := r.judged.Change
	if changed := r.inputs(); len(changed) > 0 {
		p.line("inputs", "not as on %s: %s", r.w.baseName, strings.Join(changed, " · "))
	}
	by := fmt.Sprintf("%s, %s · by %s, proposed %s", c.For, c.Volume, c.Author, journal.FormatDate(c.Proposed))
	if c.Supersedes != "" {
		by += " · supersedes " + c.Supersedes
	}
	p.line("for", "%s", by)
	p.list("basis", r.sources(r.proposed))
	if !r.sameWater() {
		p.list("today", r.sources(r.today))
	}
	p.list("state", append(append([]string{}, r.judged.Why...), r.judged.Notes...))
	if r.judged.Emergency != nil {
		p.line("EMERGENCY", "%s, %s: %s; dose maxima and health limits stand", r.judged.Emergency.By, journal.FormatTime(r.judged.Emergency.On), r.judged.Emergency.Reason)
	}
}

// inputs lists what the decision rests on that is not the same on the base
// branch: reviewers miss changes of inputs.
func (r *changeReview) inputs() []string {
	if r.w.base == nil {
		return nil
	}
	needed, _ := evidence.Covers(r.j, r.judged.Change)
	paths := []string{journal.SettingsFile}
	for _, n := range needed {
		if n.Kind != journal.KindChange {
			paths = append(paths, n.Path)
		}
	}
	for _, b := range r.judged.Basis {
		if s, ok := r.j.Sessions.Get(b.Session); ok {
			if site, ok := r.j.Sites.Get(s.Site); ok {
				paths = append(paths, site.Path)
			}
		}
	}
	var out []string
	for _, p := range paths {
		here, err := journal.DigestFile(r.j.FS, p)
		there, errThere := journal.DigestFile(r.w.base.FS, p)
		switch {
		case err != nil:
		case errThere != nil:
			out = append(out, p+" is new")
		case here != there:
			out = append(out, p+" differs")
		}
	}
	return out
}

func (r *changeReview) sameWater() bool {
	for i := range r.today.Sources {
		if r.today.Sources[i].Session() != r.proposed.Sources[i].Session() {
			return false
		}
	}
	return true
}

// moved reports whether today's water gives visibly other values: by more than
// a tenth of a standard uncertainty.
func (r *changeReview) moved() bool {
	for _, id := range r.book.Values(r.judged.Change) {
		was, is := r.book.Verdict(r.proposed, id), r.book.Verdict(r.today, id)
		if was.Known != is.Known || was.Known && math.Abs(was.Value.Value-is.Value.Value) > 0.1*math.Max(was.Value.U, is.Value.U) {
			return true
		}
	}
	return false
}

// sources names each water: site, day, whose figures, age and share.
func (r *changeReview) sources(w *plan.Work) []string {
	var out []string
	for i := range w.Sources {
		src := &w.Sources[i]
		s := src.Session()
		text := fmt.Sprintf("%s %s (%s, %s, %.4g %%)", src.Site, journal.FormatDate(s.Sampled.In(r.j.Settings.Zone)), s.Source, ageText(r.now.Sub(s.Sampled)), 100*src.Share)
		out = append(out, text)
	}
	return out
}

// ions is the table of values: blend, the dose before on today's water, what
// is proposed, on today's water too where that is newer, target and margin.
func (r *changeReview) ions() render.Table {
	t := render.Table{Columns: []render.Column{{Head: "mg/L, ± is 95 %"}, {Head: "blend", Right: true}}}
	if r.before != nil {
		t.Columns = append(t.Columns, render.Column{Head: "before*", Right: true})
		t.Notes = append(t.Notes, fmt.Sprintf("* %s (%s), its dose recomputed with today's water; u is one standard uncertainty", r.before.ID, r.before.State))
	}
	t.Columns = append(t.Columns, render.Column{Head: "proposed", Right: true})
	moved := r.moved()
	if moved {
		t.Columns = append(t.Columns, render.Column{Head: "today", Right: true})
	}
	t.Columns = append(t.Columns, render.Column{Head: "target", Right: true}, render.Column{Head: "margin", Right: true})
	for _, id := range r.book.Values(r.judged.Change) {
		v := r.book.Verdict(r.proposed, id)
		if !v.Known && !v.Limited() {
			continue
		}
		blend, err := r.proposed.Prediction.Blend(id)
		row := []render.Cell{{Text: labelOf(id)}, {Text: tenths(blend.Value, err == nil)}}
		if r.before != nil {
			row = append(row, stateCell(r.book.Verdict(r.beforeToday, id), false))
		}
		row = append(row, stateCell(v, true))
		if moved {
			row = append(row, stateCell(r.book.Verdict(r.today, id), true))
		}
		t.Rows = append(t.Rows, append(row, render.Cell{Text: limitText(v.Min, v.Max)}, render.Cell{Text: marginText(v.Margin)}))
	}
	return t
}

// facts are the lines on limits, cautions, checks and assumptions.
func (r *changeReview) facts(p *panel) {
	if m, err := r.book.MashPH(r.proposed, r.now); err == nil {
		text := mashText(m)
		if r.beforeToday != nil {
			if old, err := r.book.MashPH(r.beforeToday, r.now); err == nil {
				text += fmt.Sprintf(", before %.2f", old.PH)
			}
		}
		p.line("mash pH", "%s (indicative; %s)", text, m.From)
	}
	if removed := r.proposed.Prediction.Removal(); removed != nil {
		p.line("chlorine", "%s", removed)
	}
	p.list("limits", r.limits())
	for _, c := range r.cautions() {
		p.line(string(c.Severity), "%s: %s; %s (%s)", c.Rule, c.Message, c.Help, c.Source)
	}
	p.list("checks", r.checks())
	p.list("assumes", append(append([]string{}, r.proposed.Prediction.Assumptions...), plan.Version))
}

// limits holds the result against the limits in force for brewing liquor, by its
// 95 % interval, and for information against the indicator values of drinking
// water.
func (r *changeReview) limits() []string {
	var out []string
	known := judge.NewLimits(r.j)
	for _, l := range append(slices.Clone(known.Liquor(r.now)), known.Indicators()...) {
		v, err := r.proposed.Prediction.Value(l.ID)
		if err != nil {
			continue
		}
		conformity := judge.Conform(v, l.Min, l.Max)
		if conformity == judge.Within && (l.Max == nil || v.Value < *l.Max/2) {
			continue // far from it
		}
		word := conformity.String()
		if conformity != judge.Within {
			word = strings.ToUpper(word)
		}
		out = append(out, fmt.Sprintf("%s %s: %s, %s %s", l.ID, valueText(l.ID, v.Value, v.Expanded()), word, l.Label(), l.Words()))
	}
	for _, anion := range []string{"lactate", "citrate", "phosphate"} {
		if v, _ := r.proposed.Prediction.Acid(anion); v > 0 {
			out = append(out, fmt.Sprintf("%s %s mg/L", anion, water.Round(v, 2)))
		}
	}
	if len(r.proposed.Prediction.Doses) == 0 {
		return out
	}
	switch {
	case r.balance == nil:
		out = append(out, fmt.Sprintf("pH and dissolving not computed: %v", r.balanceErr))
	case len(r.balance.Undissolved) == 0:
		out = append(out, "dissolves: yes")
	default:
		for _, u := range r.balance.Undissolved {
			out = append(out, fmt.Sprintf("%s g of %s stay UNDISSOLVED", water.Round(u.Grams, 2), u.Substance))
		}
	}
	if r.balance != nil {
		out = append(out, fmt.Sprintf("liquor pH %.2f ± %.2f", r.balance.PH.Value, r.balance.PH.Expanded()))
	}
	if v, err := r.proposed.Prediction.Value(water.Alkalinity); err == nil {
		answer := "yes"
		least := lint.DoseLimits(r.j).LeastAlkalinity
		if v.Value < least {
			answer = "NO"
		}
		out = append(out, fmt.Sprintf("alkalinity stays over %g: %s", least, answer))
	}
	return out
}

func (r *changeReview) cautions() []treat.Caution {
	return lint.DoseLimits(r.j).Check(r.proposed.Prediction, r.balance)
}

// checks says what was looked at and found right or wrong: the linter on the
// change and all it rests on, and the last check of each meter.
func (r *changeReview) checks() []string {
	needed, err := evidence.Covers(r.j, r.judged.Change)
	if err != nil {
		return []string{err.Error()}
	}
	var paths, out []string
	for _, n := range needed {
		paths = append(paths, n.Path)
	}
	found := 0
	for _, d := range lint.Run(r.j, lint.Options{Paths: paths, Now: r.now}).Diagnostics {
		if d.Severity < lint.Warning || shownElsewhere(d.Rule) {
			continue
		}
		if found++; found <= 4 {
			out = append(out, fmt.Sprintf("%s %s in %s: %s", d.Severity, d.Rule, d.Path, d.Message))
		}
	}
	switch {
	case found == 0:
		out = append(out, fmt.Sprintf("linter: nothing wrong with the change and the %s it rests on", count(len(paths)-1, "record")))
	case found > 4:
		out = append(out, fmt.Sprintf("and %d more (wj lint)", found-4))
	}
	said := map[string]bool{}
	for i := range r.proposed.Sources {
		s := r.proposed.Sources[i].Basis
		if s.Instrument == "" || said[s.Instrument] {
			continue
		}
		said[s.Instrument] = true
		out = append(out, r.meterCheck(s))
	}
	return out
}

// shownElsewhere reports rules whose matter the screen shows by itself: what a
// water is, and the cautions of the doses.
func shownElsewhere(rule string) bool {
	return strings.HasPrefix(rule, "site/") || strings.HasPrefix(rule, "limit/") || strings.HasPrefix(rule, "dose/") || rule == "change/lapsed"
}

// meterCheck is the last check of a session's meter before it, with the worst
// recovery.
func (r *changeReview) meterCheck(s *journal.Session) string {
	list := judge.NewChecks(r.j).Meter(s.Instrument, judge.TestedAt(s, nil))
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
	text := fmt.Sprintf("%s checked %s", s.Instrument, journal.FormatDate(newest.At.In(r.j.Settings.Zone)))
	if worst != nil {
		text += fmt.Sprintf(" (farthest off: %s %.0f %%)", worst.Reading.Analyte, 100*worst.Found/worst.Truth)
	}
	if failed != nil {
		text += fmt.Sprintf("; its last check for %s FAILED", failed.Reading.Analyte)
	}
	return text
}

// ending says what would end the approval, what became of the change, who
// signed and who may.
func (r *changeReview) ending(p *panel) {
	policy := r.j.Settings.Policy
	base := r.j
	if r.w.base != nil {
		base = r.w.base
		policy = base.Settings.Policy
	}
	var ends []string
	for i, b := range r.book.Bounds(r.today) {
		if i == 0 {
			ends = append(ends, boundText(b))
		}
	}
	ends = append(ends, "if newer water takes a value out of the target or moves an expected one by more than 2 u", "if a covered file changes")
	if policy.ValidFor > 0 {
		from := r.now
		for _, v := range r.judged.Verdicts {
			if v.Standing == evidence.InForce && !v.Refused() {
				from = v.Signoff.On
			}
		}
		ends = append(ends, "on "+journal.FormatDate(from.Add(policy.ValidFor)))
	}
	p.line("lapses", "%s", strings.Join(ends, ", "))
	if r.judged.Checked != nil {
		p.line("verified", "%s by %s", r.book.Verification(r.judged.Change, r.judged.Checked).Line(), r.judged.Checked.ID)
	}
	for _, v := range r.judged.Verdicts {
		text := fmt.Sprintf("%s %s %s: %s", v.Signoff.By, v.Signoff.Decision, v.Signoff.On.Format("2006-01-02 15:04"), v.Standing)
		if why := append(append([]string{}, v.Why...), v.Notes...); len(why) > 0 {
			text += ": " + strings.Join(why, "; ")
		} else if v.Claim {
			text += ", signer not verified"
		}
		p.line("signed", "%s", text)
	}
	may := evidence.Reviewers(base, r.j, r.judged.Change, r.now)
	who := orElse(strings.Join(may, ", "), "nobody: roles are in people/")
	ask := fmt.Sprintf("%s must sign", count(policy.Reviewers, "reviewer"))
	if policy.Reviewers == 0 {
		ask = "no reviewer is asked for: self-approved"
	}
	if !r.judged.State.Approved() && r.judged.State != judge.Superseded && r.judged.State != judge.Refused {
		p.line("next", "%s; may: %s · wj sign %s --digest %s [--refuse] -m \"…\"", ask, who, r.judged.ID, digestOf(r.j, r.judged.Change))
	} else if r.judged.State.Approved() {
		p.line("next", "wj sheet %s --volume %q", r.judged.ID, r.judged.Volume.String())
	}
}
