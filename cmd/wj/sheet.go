package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/audit"
	"wj/journal/evidence"
	"wj/journal/plan"
	"wj/lint"
	"wj/render"
	"wj/water"
	"wj/water/treat"
)

type sheetCmd struct {
	ID     string `arg:"" help:"The approved change."`
	Volume string `placeholder:"QUANTITY" help:"How much liquor is treated today: \"1480 L\"; by default the volume of the change."`
	Format string `enum:"text,markdown,html" default:"text" help:"${enum}; html prints on one A4 page."`
	Output string `short:"o" placeholder:"FILE" help:"Write it to a file instead of standard output."`
}

func (c *sheetCmd) Help() string {
	return "Prints the sheet to dose from: waters, weighed amounts, the order of work, cautions, boxes for what was weighed and two initials. " +
		"Only from a change whose approval is valid at this moment, recomputed with the newest session of each site; else it says why not. Print it fresh for every brew."
}

// brewSheet is the sheet's content.
type brewSheet struct {
	brewery, change, digest, target string
	volume                          string
	printed                         time.Time
	approval                        []string // who approved, until when
	emergency                       string
	waters                          []string
	doses                           []treat.Dose
	steps                           []treat.Step
	expected                        []plan.Verdict
	mash                            string
	chlorine                        string // what the metabisulfite takes out
	verify                          string
	cautions                        []string
	notes                           []string
	record                          string // the command that records the batch
	scale                           string
}

// staleSample is how old the newest sample of a site may be before the sheet
// asks for another; common practice, no source.
const staleSample = 30 * 24 * time.Hour

func (c *sheetCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	f, err := find(j, c.ID)
	if err != nil {
		return err
	}
	change, ok := j.Changes.Get(f.ID)
	if !ok || f.Kind != journal.KindChange {
		return withHint("wj ls changes lists them", "%s is a %s, not a change", f.ID, f.Kind)
	}
	if c.Volume == "" {
		c.Volume = change.Volume.String()
	}
	_, litres, err := plan.LitresOf(c.Volume, "--volume \"1480 L\"")
	if err != nil {
		return advised(err)
	}
	w, err := a.witnessIfAny(j, root)
	if err != nil {
		return err
	}
	defer w.close()
	judged := audit.NewJudgement(j, a.facts(j, w)).Change(change)
	s, reasons, err := a.brewSheet(j, w, judged, litres)
	if err != nil {
		return err
	}
	if len(reasons) > 0 {
		for _, r := range reasons {
			a.say("no sheet: %s", r)
		}
		hint := "wj review " + f.ID + "; wj treat finds a new dose"
		if judged.State == audit.VoidState {
			hint = "wj review " + f.ID + "; take the edit back, or have it reviewed and signed anew"
		}
		return withHint(hint, "%s may not be dosed today", f.ID)
	}
	var text string
	switch c.Format {
	case "html":
		if text, err = s.html(); err != nil {
			return err
		}
	case "markdown":
		text = render.Clean(s.panel().markdown())
	default:
		out := a.out
		if c.Output != "" {
			out.Colour = false
		}
		text = render.Gate(s.panel().text(out), out.Colour)
	}
	if c.Output != "" {
		return a.replaceFile(c.Output, []byte(text))
	}
	return a.print(text)
}

// brewSheet works the sheet out; reasons say why there may be none.
func (a *app) brewSheet(j *journal.Journal, w *witness, judged *audit.Change, litres float64) (s *brewSheet, reasons []string, err error) {
	now := a.now().In(j.Settings.Zone)
	change := judged.Change
	policy := j.Settings.Policy
	if w.base != nil {
		policy = w.base.Settings.Policy
	}
	s = &brewSheet{brewery: j.Settings.Name, change: change.ID, target: change.For, volume: litresText(litres), printed: now}
	if s.digest, err = journal.DigestFile(j.FS, change.Path); err != nil {
		return nil, nil, err
	}
	switch {
	case judged.State.Approved():
		s.approved(judged, policy)
	case judged.State == audit.Emergency && judged.Emergency != nil && !now.After(judged.Emergency.On.Add(policy.EmergencyReview)):
		s.emergency = fmt.Sprintf("EMERGENCY, not reviewed yet: %s, %s: %s. It must be reviewed by %s; dose maxima and health limits stand.", j.PersonName(judged.Emergency.By),
			journal.FormatTime(judged.Emergency.On), judged.Emergency.Reason, journal.FormatTime(judged.Emergency.On.Add(policy.EmergencyReview).In(j.Settings.Zone)))
	default:
		reasons = append(reasons, fmt.Sprintf("the change is %s: %s", judged.State, strings.Join(judged.Why, "; ")))
	}
	book := plan.Open(j)
	today, note, err := sheetWork(book, change, now, litres)
	if err != nil {
		return nil, append(reasons, err.Error()), nil
	}
	if note != "" {
		s.notes = append(s.notes, note)
	}
	p := today.Prediction
	balance, _ := p.Equilibrate()
	for _, k := range lint.DoseLimits(j).Check(p, balance) {
		if k.Severity == treat.Error {
			reasons = append(reasons, fmt.Sprintf("%s: %s; %s", k.Rule, k.Message, k.Help))
		} else {
			s.notes = append(s.notes, fmt.Sprintf("%s; %s", k.Message, k.Help))
		}
	}
	for _, d := range p.Doses {
		if d.Over() {
			reasons = append(reasons, fmt.Sprintf("%s is over its upper bound", d))
		}
	}
	if r := p.Removal(); r != nil {
		s.chlorine = r.String()
	}
	reasons = append(reasons, s.lots(j, change, now)...)
	s.notes = append(s.notes, shortages(book, p, now)...)
	for i := range today.Sources {
		src := &today.Sources[i]
		newest := src.Session()
		s.waters = append(s.waters, fmt.Sprintf("%s of %s (%.4g %%; sampled %s, %s)", litresText(src.Share*litres), src.Site, 100*src.Share, journal.FormatDate(newest.Sampled.In(j.Settings.Zone)), newest.Source))
		if age := now.Sub(newest.Sampled); age > staleSample {
			s.notes = append(s.notes, fmt.Sprintf("the newest sample of %s is %s old: sample it before you dose", src.Site, ageText(age)))
			continue
		}
		if last := src.Sessions[len(src.Sessions)-1]; now.Sub(last.Sampled) > staleSample {
			s.notes = append(s.notes, fmt.Sprintf("what the newest sample of %s does not tell is %s old, from %s", src.Site, ageText(now.Sub(last.Sampled)), last.ID))
		}
	}
	s.doses, s.steps, s.expected = p.Doses, treat.Steps(p), book.Verdicts(today)
	if m, err := book.MashPH(today, now); err == nil {
		s.mash = fmt.Sprintf("%s, indicative (%s)", mashText(m), m.From)
	}
	s.verify = verifyText(j, judged)
	s.cautions = cautionsOf(p)
	s.record = batchCommand(change, litres)
	s.scale = scaleText(j)
	return s, reasons, nil
}

// sheetWork is what a sheet of a moment doses into a volume; note says what is
// not as it was approved.
func sheetWork(book *plan.Book, c *journal.Change, at time.Time, litres float64) (w *plan.Work, note string, err error) {
	if w, err = book.OnDay(c, at); err != nil {
		return nil, "", err
	}
	if w, err = w.Scaled(litres); err != nil {
		return nil, "", err
	}
	return w.SulfiteToday()
}

func (s *brewSheet) approved(judged *audit.Change, policy journal.Policy) {
	for _, v := range judged.Verdicts {
		if v.Standing != evidence.InForce || v.Refused() {
			continue
		}
		text := fmt.Sprintf("%s, %s", v.Signoff.By, v.Signoff.On.Format("2006-01-02 15:04"))
		if policy.ValidFor > 0 {
			text += ", valid to " + journal.FormatDate(v.Signoff.On.Add(policy.ValidFor))
		}
		if v.Claim {
			text += " (signer not verified)"
		}
		s.approval = append(s.approval, text)
	}
	if len(s.approval) == 0 {
		s.approval = []string{"self-approved: policy asks for no reviewer"}
	}
}

// lots looks at the packs that the change names.
func (s *brewSheet) lots(j *journal.Journal, c *journal.Change, now time.Time) (reasons []string) {
	for _, x := range c.Add {
		lot, ok := j.Lots.Get(x.Lot)
		if !ok {
			continue
		}
		switch {
		case lot.Recalled != nil:
			reasons = append(reasons, fmt.Sprintf("lot %s of %s is recalled: %s", lot.ID, x.Substance, lot.Recalled.Reason))
		case lot.ExpiredOn(now):
			s.notes = append(s.notes, fmt.Sprintf("lot %s of %s expired on %s: take another of the same form and strength, and write its lot down", lot.ID, x.Substance, journal.FormatDate(lot.Expires)))
		case !lot.Finished.IsZero() && lot.Finished.Before(now):
			s.notes = append(s.notes, fmt.Sprintf("lot %s of %s is used up: take another of the same form and strength, and write its lot down", lot.ID, x.Substance))
		}
	}
	return reasons
}

// shortages tells which lots hold less than a plan doses.
func shortages(book *plan.Book, p *treat.Prediction, now time.Time) []string {
	var out []string
	for _, d := range p.Doses {
		lot, ok := book.Journal().Lots.Get(d.Lot)
		if !ok {
			continue
		}
		if left, known := book.Left(lot, d.Unit, now); known && left < d.Amount {
			out = append(out, fmt.Sprintf("lot %s of %s holds %s %s by the records, less than the %s %s of the dose: have another lot of the same form and strength at hand", lot.ID, substanceText(d), water.Round(left, 3), d.Unit, d.AmountText(), d.Unit))
		}
	}
	return out
}

// nextToVerify is the index, among a change's batches in the order of brewing, of
// the next whose liquor has to be tested, counted as change/not-verified counts;
// up to their number it is the one that comes.
func nextToVerify(j *journal.Journal, change string, batches []*journal.Batch) int {
	const rule = "change/not-verified"
	within := time.Duration(lint.Setting(j, rule, "within") * 24 * float64(time.Hour))
	batches = slices.Clone(batches)
	slices.SortStableFunc(batches, func(a, b *journal.Batch) int { return a.Brewed.Compare(b.Brewed) })
	tested := make([]bool, len(batches))
	for _, s := range j.Sessions.List {
		if s.Void != nil || s.Sample != "verification" || s.Change != change {
			continue
		}
		for i, b := range batches {
			tested[i] = tested[i] || plan.Tests(s, b, within)
		}
	}
	_, next := plan.Due(tested, int(max(lint.Setting(j, rule, "every"), 1)))
	return next
}

// verifyText tells whether the liquor of the batch that comes has to be tested.
func verifyText(j *journal.Journal, c *audit.Change) string {
	next := nextToVerify(j, c.ID, c.Batches)
	switch n := len(c.Batches); {
	case n == 0:
		return "due: first use of this change"
	case next <= n:
		return fmt.Sprintf("due: batch %d with this change", n+1)
	default:
		return fmt.Sprintf("not due: batch %d with this change, at batch %d at the latest", n+1, next+1)
	}
}

// batchCommand is what to type when the brew is done.
func batchCommand(c *journal.Change, litres float64) string {
	return fmt.Sprintf("wj new batch YEAR-NUMBER change=%s volume=%q weighed=sheet witnessed_by=… mash_pH=… (weighed=sheet where the scale showed the amounts above; else each as it was, such as gypsum=\"207 g\")", c.ID, litresText(litres))
}

func scaleText(j *journal.Journal) string {
	var parts []string
	if q := j.Settings.Scale.Mass; !q.Unit.IsNone() {
		parts = append(parts, "scale "+q.String())
	}
	if q := j.Settings.Scale.Volume; !q.Unit.IsNone() {
		parts = append(parts, "cylinder "+q.String())
	}
	if len(parts) == 0 {
		return "amounts are not rounded to a scale: set scale: in wj.yaml"
	}
	return "amounts are rounded to " + strings.Join(parts, ", ")
}

// stepText is a step without what the table of doses says already.
func stepText(s treat.Step) string {
	if s.Dose == nil {
		return s.Do
	}
	name := substanceText(*s.Dose)
	if s.Dose.Unit == water.Millilitre {
		name += " " + s.Dose.StrengthText()
	}
	return strings.Replace(s.Do, s.Dose.String(), name, 1)
}

func stepAmount(s treat.Step) string {
	if s.Dose == nil || s.Amount == 0 {
		return ""
	}
	d := treat.Dose{Addition: s.Dose.Addition}
	d.Amount = s.Amount
	return d.AmountText() + " " + d.Unit.String()
}

// panel is the sheet for a terminal and for Markdown.
func (s *brewSheet) panel() *panel {
	p := &panel{title: strings.TrimSpace(s.brewery + " · water sheet · " + s.volume + " for " + s.target)}
	p.line("change", "%s", s.change)
	p.line("digest", "sha256 %s", s.digest)
	p.line("printed", "%s; for this brew alone, print it fresh for the next", s.printed.Format("2006-01-02 15:04 -07:00"))
	if s.emergency != "" {
		p.line("EMERGENCY", "%s", s.emergency)
	} else {
		p.list("approved", s.approval)
	}
	p.list("waters", s.waters)
	for _, n := range s.notes {
		p.line("note", "%s", n)
	}
	t := render.Table{Columns: []render.Column{{Head: "dose for " + s.volume, Wrap: true, Min: 16}, {Head: "strength", Wrap: true, Min: 12}, {Head: "lot"}, {Head: "amount", Right: true}, {Head: "per hL", Right: true}, {Head: "at most", Right: true}}, Notes: []string{s.scale}}
	for _, d := range s.doses {
		t.Rows = append(t.Rows, []render.Cell{{Text: substanceText(d)}, {Text: shortStrength(d)}, {Text: d.Lot}, {Text: d.AmountText() + " " + d.Unit.String()}, {Text: water.Round(d.PerHectolitre(), 3) + " " + d.Unit.String()},
			{Text: floorAmount(d.Most) + " " + d.Unit.String()}})
	}
	p.table("", t)
	t = render.Table{Columns: []render.Column{{Head: "", Right: true}, {Head: "do", Wrap: true, Min: 30}, {Head: "amount", Right: true}, {Head: "weighed"}, {Head: "initials"}}}
	for i, step := range s.steps {
		row := []render.Cell{{Text: fmt.Sprint(i + 1)}, {Text: stepText(step)}, {Text: stepAmount(step)}}
		if step.Tick {
			row = append(row, render.Cell{Text: "[         ]"}, render.Cell{Text: "[    ] [    ]"})
		}
		t.Rows = append(t.Rows, row)
	}
	p.table("", t)
	p.list("expect", s.expectation())
	p.line("chlorine", "%s", s.chlorine)
	p.line("mash pH", "%s", s.mash)
	p.line("verify", "%s", s.verify)
	for _, c := range s.cautions {
		p.line("care", "%s", c)
	}
	p.line("care", "the label, the safety data sheet and the local code come before this sheet; a second person reads every label")
	p.line("record", "%s", s.record)
	return p
}

func (s *brewSheet) expectation() []string {
	var out []string
	for _, v := range s.expected {
		if !v.Known || !v.Limited() && v.ID != water.ResidualAlkalinity {
			continue
		}
		text := fmt.Sprintf("%s %s", labelOf(v.ID), strings.TrimSuffix(strings.TrimSuffix(plan.Text(v.Value), " mg/L CaCO3"), " mg/L"))
		if limit := limitText(v.Min, v.Max); limit != "" {
			text += " (" + limit + ")"
		}
		if !v.Inside() {
			text += " OUTSIDE"
		}
		out = append(out, text)
	}
	return out
}
