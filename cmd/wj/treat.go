package main

import (
	"cmp"
	"errors"
	"strings"

	"wj/journal"
	"wj/journal/history"
	"wj/journal/judge"
	"wj/journal/plan"
	"wj/journal/writer"
	"wj/lint"
	"wj/query/report"
)

type treatCmd struct {
	For          string   `arg:"" optional:"" name:"target" help:"The target to reach; --target is the same."`
	Basis        []string `placeholder:"SESSION[=SHARE]" help:"A water by the session that measured it: 2026-06-09-north-well=40%. A share of 30..60% is found between the two, none at all between 0 and 100 %; 400L is what a tank holds, ..400L at most that."`
	Site         []string `placeholder:"SITE[=SHARE]" help:"A water by its site: the newest session that has enough readings is taken."`
	Water        []string `placeholder:"ID[=SHARE]" help:"A water by session or site."`
	Target       string   `placeholder:"ID" help:"The target to reach."`
	Volume       string   `placeholder:"QUANTITY" help:"How much liquor is treated: \"1500 L\"; by default that of the target's usual batch."`
	Mash         string   `placeholder:"QUANTITY" help:"Treat mash and sparge apart: the liquor of the mash, which is led to the target's mash pH by its grist; by default as in the target, where it has a mash pH."`
	Sparge       string   `placeholder:"QUANTITY" help:"The liquor of the sparge, acidified to pH 5.6 to 6.0; its salts go into the kettle."`
	Add          []string `sep:"none" placeholder:"WHAT=AMOUNT" help:"Do not search, but work this dose out: gypsum=\"210 g\" or lactic_acid=\"75 mL, 80 % w/w\"."`
	Acid         []string `sep:"none" placeholder:"\"WHAT AMOUNT\"" help:"The same for an acid at the tank: \"hydrochloric_acid 40 mL\"."`
	Only         []string `placeholder:"SUBSTANCE" help:"Dose nothing but these."`
	Without      []string `placeholder:"SUBSTANCE" help:"Dose anything but these."`
	MaxAdditions int      `default:"-1" placeholder:"N" help:"Use at most so many additions; 0 for the blend alone."`
	AcidTo       string   `placeholder:"VALUE" help:"Where the acid is to lead: \"alkalinity=50 mg/L CaCO3\", residual_alkalinity=…, pH=6.5 of the liquor or mash_pH=5.4."`
	Dechlorinate string   `placeholder:"SUBSTANCE" help:"What takes chlorine and chloramine out: sodium_metabisulfite or potassium_metabisulfite, with or without a target; none for none. By default the one in stock, where a water holds chlorine and no carbon filter takes it."`
	Chance       string   `default:"95 %" placeholder:"PERCENT" help:"How sure all limits must be kept together."`
	Temperature  string   `placeholder:"QUANTITY" help:"The liquor's temperature, where it is not that of the samples: \"75 degC\"."`
	Apart        bool     `help:"Let mash and sparge have shares of their own, even where one blend serves both."`
	Price        []string `sep:"none" placeholder:"SITE=PRICE" help:"What a water costs, with what is rejected for it: ro-permeate=\"2.40 EUR/m3\"; by default the price in the site's record. Cheaper blends are shown with their chance."`
	Open         bool     `help:"The liquor is open to the air or heated until its carbon dioxide is that of the air."`
	Soften       bool     `help:"Soften one water with lime: a procedure in steps that wait for readings."`
	Exact        bool     `help:"Aim for the middle of every range, even where an addition less would do."`
	Trained      string   `placeholder:"NAME" help:"The trained person who handles a concentrated mineral acid."`
	Write        string   `placeholder:"NAME" help:"Write the result as a draft change with this name, and commit it."`
	Supersedes   string   `placeholder:"CHANGE" help:"The change that the draft replaces; by default the approved one for the target; none for none."`
	Note         string   `short:"m" placeholder:"TEXT" help:"Why, for the body of the draft."`
	By           string   `placeholder:"ID" help:"The author; by default the person with your git address."`
	NoCommit     bool     `help:"Write the file, do not commit."`
	DryRun       bool     `short:"n" help:"Print the draft and write nothing."`
	Format       string   `enum:"text,markdown,json" default:"text" help:"${enum}."`
}

func (c *treatCmd) looksAt() (string, bool) { return "", c.Write == "" }

func (c *treatCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	book := plan.Open(j)
	question, err := c.question(a, j)
	if err != nil {
		return err
	}
	if c.Soften {
		s, err := book.Soften(question)
		if err != nil {
			return advised(err)
		}
		if c.Format == "json" {
			return a.document("soften", s)
		}
		return a.show(report.SofteningDocument(s), c.Format)
	}
	found, err := book.Ask(question)
	if err != nil {
		return advised(err)
	}
	both := report.NewTreatment(book, found, lint.DoseLimits(j))
	answer := both[0].Judged
	if c.Format == "json" {
		if err := a.document("treat", answer); err != nil {
			return err
		}
	} else if !c.DryRun {
		for i, x := range both {
			if i > 0 {
				if err := a.print("\n"); err != nil {
					return err
				}
			}
			if err := a.show(x.Document(), c.Format); err != nil {
				return err
			}
		}
	}
	if c.Write != "" || c.DryRun {
		return c.write(a, j, root, book, both)
	}
	if answer.Fails(found.Answer != nil) {
		return errFindings
	}
	return nil
}

// advised gives an error of the planner its next step on the screen.
func advised(err error) error {
	var advice *plan.Advice
	if errors.As(err, &advice) {
		return withHint(advice.Next, "%w", err)
	}
	return err
}

func (c *treatCmd) question(a *app, j *journal.Journal) (plan.Question, error) {
	if c.For != "" && c.Target != "" && c.For != c.Target {
		return plan.Question{}, withHint("name one target", "two targets are named: %s and %s", c.For, c.Target)
	}
	q := plan.Question{Waters: c.Water, Basis: c.Basis, Sites: c.Site, Target: cmp.Or(c.Target, c.For), Volume: c.Volume, Mash: c.Mash, Sparge: c.Sparge, Add: c.Add, Only: c.Only, Without: c.Without, MaxAdditions: c.MaxAdditions,
		AcidTo: c.AcidTo, Dechlorinate: c.Dechlorinate, Exact: c.Exact, Trained: c.Trained, Temperature: c.Temperature, Open: c.Open, Apart: c.Apart, Price: c.Price, Change: c.Write != "", Now: a.Now().In(j.Settings.Zone)}
	for _, text := range c.Acid {
		what, amount, _ := strings.Cut(strings.TrimSpace(text), " ")
		q.Add = append(q.Add, what+"="+amount)
	}
	q.Doubts = func(s *journal.Session) []string {
		var out []string
		for _, d := range lint.Run(j, lint.Options{Paths: []string{s.Path}, Now: q.Now}).Diagnostics {
			if d.Severity == lint.Error {
				out = append(out, d.Message)
			}
		}
		return out
	}
	var err error
	q.Chance, err = plan.ParseChance(c.Chance)
	return q, advised(err)
}

// write puts the drafts into the journal: one change, or one for each tank.
func (c *treatCmd) write(a *app, j *journal.Journal, root string, book *plan.Book, all []*report.Treatment) error {
	record := writer.Record{Kept: c.NoCommit}
	var ids []string
	for i, x := range all {
		if err := x.Judged.Safe(x.Work.Prediction); err != nil {
			return advised(err)
		}
		if x.Target == nil {
			return withHint("--target ID", "a change is for a target")
		}
		name := cmp.Or(c.Write, x.Target.ID)
		if i > 0 {
			name += "-sparge"
		}
		d := a.draft(j, root, journal.KindChange)
		if err := d.Other(name); err != nil {
			return err
		}
		var err error
		if x.Change.Author = c.By; x.Change.Author == "" {
			if x.Change.Author, err = d.Person(x.Question.Now); err != nil {
				return err
			}
		}
		switch c.Supersedes {
		case "none":
		case "":
			x.Change.Supersedes = a.inForce(j, root, x.Change)
		default:
			if err := resolve(j, &c.Supersedes, journal.KindChange); err != nil {
				return err
			}
			x.Change.Supersedes = c.Supersedes
		}
		for _, doubt := range x.Judged.Basis {
			a.say("doubtful basis: %s", doubt)
		}
		record.Files = append(record.Files, writer.File{Path: d.Path, New: book.Compose(x.Change, x.Work, x.Judged, c.Note)})
		record.Trailers = append(record.Trailers, history.Trailer{Key: "Proposes", Value: d.ID})
		ids = append(ids, d.ID)
	}
	record.Subject = "Propose change " + strings.Join(ids, " and ")
	out, err := a.put(j, root, record, c.DryRun)
	if err != nil || c.DryRun {
		return err
	}
	for _, path := range out.Paths {
		a.say("wrote %s", a.relative(root, path))
	}
	a.saidCommit(root, out)
	a.say("next: read it, say why in its body, then wj review %s", ids[0])
	return nil
}

// inForce is the change that a draft takes the place of; "" where there is none.
func (a *app) inForce(j *journal.Journal, root string, draft *journal.Change) string {
	w := a.ProvenanceOrNone(j, root)
	defer w.Close()
	if w.Unreadable != "" {
		return ""
	}
	return judge.NewChanges(j, a.Facts(j, w)).Replaced(draft)
}
