package main

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/plan"
	"wj/lint"
	"wj/water"
	"wj/water/substance"
	"wj/water/treat"
)

type treatCmd struct {
	Basis        []string `placeholder:"SESSION[=SHARE]" help:"A water by the session that measured it: 2026-06-09-north-well=40%. A share of 30..60% is found between the two, none at all between 0 and 100 %."`
	Site         []string `placeholder:"SITE[=SHARE]" help:"A water by its site: the newest session that tells enough is taken."`
	Target       string   `placeholder:"ID" help:"The target to reach."`
	Volume       string   `required:"" placeholder:"QUANTITY" help:"How much liquor is treated: \"1500 L\"."`
	Add          []string `sep:"none" placeholder:"WHAT=AMOUNT" help:"Do not search, but work this dose out: gypsum=\"210 g\" or lactic_acid=\"75 mL, 80 % w/w\"."`
	Only         []string `placeholder:"SUBSTANCE" help:"Dose nothing but these."`
	Without      []string `placeholder:"SUBSTANCE" help:"Dose anything but these."`
	MaxAdditions int      `default:"-1" placeholder:"N" help:"Use at most so many additions; 0 for the blend alone."`
	AcidTo       string   `placeholder:"VALUE" help:"Where the acid is to lead: \"alkalinity=50 mg/L CaCO3\", residual_alkalinity=… or pH=6.5 of the liquor."`
	Dechlorinate string   `placeholder:"SUBSTANCE" help:"What takes chlorine and chloramine out: sodium_metabisulfite or potassium_metabisulfite, with or without a target; none for none. By default the one in stock, where a water holds chlorine and no carbon filter takes it."`
	Exact        bool     `help:"Aim for the middle of every range, even where an addition less would do."`
	Trained      string   `placeholder:"NAME" help:"The trained person who handles a concentrated mineral acid."`
	Write        string   `placeholder:"NAME" help:"Write the result as a draft change with this name, and commit it."`
	Supersedes   string   `placeholder:"CHANGE" help:"The change that the draft replaces; by default the approved one for the target; none for none."`
	Note         string   `short:"m" placeholder:"TEXT" help:"Why, for the body of the draft."`
	By           string   `placeholder:"ID" help:"The author; by default the person with your git address."`
	NoCommit     bool     `help:"Write the file and leave the commit to me."`
	DryRun       bool     `short:"n" help:"Print the draft and write nothing."`
	Format       string   `enum:"text,markdown,json" default:"text" help:"${enum}."`
}

func (c *treatCmd) Help() string {
	return "Finds the shares and doses that bring waters into a target, or with --add works out a dose that you name. Doses come from the lots of additives in stock, with their strength and price, rounded to the steps of scale and cylinder in wj.yaml.\n\n" +
		"wj treat --basis 2026-06-09-north-well=40% --basis 2026-06-05-ro-permeate=60% --target wicket-bitter --volume \"1500 L\"\n\n" +
		"It proposes; a person reads, another signs: wj treat --write NAME, wj review NAME, wj sign NAME. The label, the safety data sheet and the local code come first."
}

// treatment is what is asked and found.
type treatment struct {
	a        *app
	j        *journal.Journal
	book     *plan.Book
	now      time.Time
	volume   float64
	supplies []treat.Supply
	sources  map[string]plan.Source // by the name of the supply
	sessions map[string]*journal.Session
	target   *journal.Target
	notes    []string

	change *journal.Change
	work   *plan.Work
	answer *treat.Solution // nil where a dose was named
	others []alternative
}

// alternative is another answer: fewer additions, or none of one sort.
type alternative struct {
	what   string
	answer *treat.Solution
	err    error
}

func (c *treatCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	t := &treatment{a: a, j: j, book: plan.Open(j), now: a.now().In(j.Settings.Zone), sources: map[string]plan.Source{}, sessions: map[string]*journal.Session{}}
	if err := c.ask(t); err != nil {
		return err
	}
	if len(c.Add) > 0 || c.Target == "" {
		err = c.workOut(t)
	} else {
		err = c.solve(t)
	}
	if err != nil {
		return err
	}
	if c.Format == "json" {
		if err := a.showJSON(t.json()); err != nil {
			return err
		}
	} else if !c.DryRun {
		if err := a.showPanel(t.panel(), c.Format); err != nil {
			return err
		}
	}
	if c.Write != "" || c.DryRun {
		return c.write(t, root)
	}
	if t.answer != nil && !t.answer.Met() {
		return errFindings
	}
	return nil
}

// ask reads waters, volume and target.
func (c *treatCmd) ask(t *treatment) error {
	var err error
	if t.volume, err = litresOf(c.Volume, "--volume \"1500 L\""); err != nil {
		return err
	}
	if len(c.Basis)+len(c.Site) == 0 {
		return withHint("--basis SESSION=40% or --site north-well,ro-permeate", "no water is named")
	}
	for _, text := range c.Basis {
		id, share, _ := strings.Cut(text, "=")
		s, ok := t.j.Sessions.Get(strings.TrimSuffix(id, ".md"))
		if !ok {
			hint := "wj ls sessions lists them; a site is named with --site"
			if near := water.Nearest(id, t.j.IDs(journal.KindSession)); near != "" {
				hint = "did you mean " + near + "?"
			}
			return withHint(hint, "there is no session %q", id)
		}
		if err := t.water(s, share); err != nil {
			return err
		}
	}
	for _, text := range c.Site {
		id, share, _ := strings.Cut(text, "=")
		if _, ok := t.j.Sites.Get(id); !ok {
			hint := "wj ls sites lists them"
			if near := water.Nearest(id, t.j.IDs(journal.KindSite)); near != "" {
				hint = "did you mean " + near + "?"
			}
			return withHint(hint, "there is no site %q", id)
		}
		s, err := t.book.BestBasis(id, t.now)
		if err != nil {
			return err
		}
		if newest, ok := t.book.Newest(id, t.now); ok && newest != s {
			t.notes = append(t.notes, fmt.Sprintf("%s: rests on %s, since the newest, %s, does not tell enough", id, s.ID, newest.ID))
		}
		if err := t.water(s, share); err != nil {
			return err
		}
	}
	if c.Target != "" {
		target, ok := t.j.Targets.Get(c.Target)
		if !ok {
			hint := "wj ls targets lists them"
			if near := water.Nearest(c.Target, t.j.IDs(journal.KindTarget)); near != "" {
				hint = "did you mean " + near + "?"
			}
			return withHint(hint, "there is no target %q", c.Target)
		}
		t.target = target
	} else if len(c.Add) == 0 && !c.dechlorinates() || c.Write != "" {
		return withHint("wj ls targets lists them; --add or --dechlorinate works a dose out without a target", "no target is named")
	}
	return nil
}

// water adds a water to the blend.
func (t *treatment) water(s *journal.Session, share string) error {
	if s.Void != nil {
		return withHint("take another session of "+s.Site, "%s is void: %s", s.ID, s.Void.Reason)
	}
	least, most, err := parseShare(share)
	if err != nil {
		return fmt.Errorf("read the share of %s: %w", s.ID, err)
	}
	name := s.Site
	if _, taken := t.sources[name]; taken {
		name = s.ID
	}
	if _, taken := t.sources[name]; taken {
		return fmt.Errorf("%s is named twice", s.ID)
	}
	for _, d := range lint.Run(t.j, lint.Options{Paths: []string{s.Path}, Now: t.now}).Diagnostics {
		if d.Severity == lint.Error {
			t.notes = append(t.notes, fmt.Sprintf("%s is doubtful: %s; repeat the reading, or take another session with --basis", s.ID, d.Message))
		}
	}
	src := t.book.SourceOf(s)
	t.sources[name], t.sessions[name] = src, s
	t.supplies = append(t.supplies, treat.Supply{Name: name, Analysis: &src.Analysis, Least: least, Most: most, UShare: treat.TypicalShareUncertainty})
	return nil
}

// workOut works out the dose that was named.
func (c *treatCmd) workOut(t *treatment) error {
	p := treat.Plan{Volume: t.volume, Temperature: math.NaN(), Trained: c.Trained}
	for i, s := range t.supplies {
		share := s.Least
		if s.Least != s.Most {
			if len(t.supplies) > 1 {
				return withHint("--basis "+t.sessions[s.Name].ID+"=40%", "with --add the share of %s must be said", s.Name)
			}
			share = 1
		}
		p.Waters = append(p.Waters, treat.Portion{Name: s.Name, Analysis: t.supplies[i].Analysis, Share: share})
	}
	shelf, err := t.shelf()
	if err != nil {
		return err
	}
	for _, text := range c.Add {
		addition, err := namedDose(text, shelf)
		if err != nil {
			return err
		}
		p.Additions = append(p.Additions, addition)
	}
	sulfite, _, err := c.sulfite(t, shelf)
	if err != nil {
		return err
	}
	if sulfite != nil {
		if err := p.Dechlorinate(*sulfite); err != nil {
			return err
		}
	}
	return c.record(t, p)
}

// shelf is what can be dosed: the additives in stock.
func (t *treatment) shelf() ([]treat.Goods, error) {
	shelf, _, err := t.book.Shelf(t.now)
	if err != nil {
		return nil, withHint("wj lint lots says what to write there; wj amend LOT strength \"80 % w/w\" --reason \"as on the label\"", "%w", err)
	}
	return shelf, nil
}

// solve finds the doses, and other answers beside.
func (c *treatCmd) solve(t *treatment) error {
	shelf, err := t.shelf()
	if err != nil {
		return err
	}
	shelf, err = c.shelf(t, shelf)
	if err != nil {
		return err
	}
	p := treat.Problem{Waters: t.supplies, Volume: t.volume, Temperature: math.NaN(), Shelf: shelf, Trained: c.Trained, Slack: treat.PracticalSlack, ShareStep: 0.01}
	if c.Exact {
		p.Slack = 0
	}
	if p.Only, err = substances(c.Only); err != nil {
		return err
	}
	if p.Without, err = substances(c.Without); err != nil {
		return err
	}
	for _, key := range p.Only {
		if slices.Contains(p.Without, key) {
			return withHint("leave it out of one of them", "%s stands in --only and in --without", key)
		}
	}
	for _, g := range shelf {
		if r, ok := t.j.Settings.Restricted[g.Substance]; ok && r.Covers(t.now.In(t.j.Settings.Zone)) {
			p.Without = append(p.Without, g.Substance)
			t.notes = append(t.notes, fmt.Sprintf("%s is not dosed: the journal's list keeps it out of beer (%s)", g.Substance, r.Source))
		}
	}
	if p.Sulfite, p.Shelf, err = c.sulfite(t, shelf); err != nil {
		return err
	}
	switch {
	case c.MaxAdditions == 0:
		p.MaxAdditions = -1
	case c.MaxAdditions > 0:
		p.MaxAdditions = c.MaxAdditions
	}
	var note string
	if p.Targets, note = t.book.Targets(t.target, t.now); note != "" {
		t.notes = append(t.notes, note)
	}
	if c.AcidTo != "" {
		if p.Targets, err = acidTo(c.AcidTo, p.Targets); err != nil {
			return err
		}
	}
	if t.answer, err = treat.Solve(p); err != nil {
		var absent *water.Absent
		if errors.As(err, &absent) {
			return withHint("take a basis that has it, such as a laboratory's session, or leave it out of the target", "%w", err)
		}
		return err
	}
	t.alternatives(p)
	return c.record(t, t.answer.Plan)
}

// shelf adds what is asked for by name and is in no lot, as the table has it.
func (c *treatCmd) shelf(t *treatment, shelf []treat.Goods) ([]treat.Goods, error) {
	only, err := substances(c.Only)
	if err != nil {
		return nil, err
	}
	for _, key := range only {
		found := false
		for _, g := range shelf {
			found = found || g.Substance == key
		}
		if found {
			continue
		}
		g, err := treat.NewGoods(key, water.Quantity{}, "")
		if err != nil {
			return nil, withHint("wj new lot … substance="+key+" strength=\"80 % w/w\"", "%s is not in stock: %w", key, err)
		}
		g.Step = t.book.Step(g.Unit)
		t.notes = append(t.notes, fmt.Sprintf("%s is not in stock; taken as %s", key, g.StrengthText()))
		shelf = append(shelf, g)
	}
	if len(shelf) == 0 && c.MaxAdditions != 0 {
		t.notes = append(t.notes, "no additive is in stock, so this is the blend alone; enter lots with their strength (wj new lot), or name substances with --only")
	}
	return shelf, nil
}

// alternatives are what other sets of additions would reach.
func (t *treatment) alternatives(p treat.Problem) {
	try := func(what string, change func(*treat.Problem)) {
		q := p
		change(&q)
		answer, err := treat.Solve(q)
		t.others = append(t.others, alternative{what, answer, err})
	}
	n := 0 // the metabisulfite is a step of its own
	for _, a := range t.answer.Plan.Additions {
		if s, err := a.Entry(); err == nil && s.Kind != substance.Sulfite {
			n++
		}
	}
	for k := n - 1; k >= 0; k-- {
		what := count(k, "addition")
		if k == 0 {
			what = "the blend alone"
			k = -1
		}
		at := k
		try(what, func(q *treat.Problem) { q.MaxAdditions = at })
		if k < 0 {
			break
		}
	}
	for _, a := range t.answer.Plan.Additions {
		if s, err := a.Entry(); err == nil && s.Kind != substance.Salt && s.Kind != substance.Sulfite && n > 1 {
			try("without "+strings.ReplaceAll(a.Substance, "_", " "), func(q *treat.Problem) { q.Without = append(append([]string{}, q.Without...), a.Substance) })
		}
	}
	if p.Slack > 0 {
		if exact, err := treat.Solve(func() treat.Problem { q := p; q.Slack = 0; return q }()); err == nil && len(exact.Plan.Additions) != len(t.answer.Plan.Additions) {
			t.others = append(t.others, alternative{"nearer to the aims", exact, nil})
		}
	}
}

// record writes the plan down as a change and reads it back, so that what is
// shown is what the file will say.
func (c *treatCmd) record(t *treatment, p treat.Plan) error {
	target := ""
	if t.target != nil {
		target = t.target.ID
	}
	trained := ""
	if c.Trained != "" {
		trained = "handled by " + c.Trained + ": goggles, gloves and apron, acid into water"
	}
	var err error
	if t.change, err = plan.Record(target, t.sessions, p, trained); err != nil {
		return err
	}
	t.change.ID = "this dose"
	t.change.Proposed = journal.Day(t.now)
	t.work, err = t.book.OnBasis(t.change)
	return err
}
