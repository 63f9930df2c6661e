package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"wj/docs/schema"
	"wj/journal"
	"wj/journal/diff"
	"wj/journal/evidence"
	"wj/journal/judge"
	"wj/lint"
	"wj/render"
)

// Branch is what a reviewer must see of a branch before it is merged: what it
// changes of what it is judged by, what was measured, then each change of the water.
type Branch struct {
	Schema string `json:"schema"`
	From   string `json:"from"`
	To     string `json:"to"`
	// FromCommit and ToCommit are the two in full.
	FromCommit string         `json:"from_commit"`
	ToCommit   string         `json:"to_commit"`
	Base       string         `json:"base"` // whose people and policy judge
	Answer     []string       `json:"answer"`
	Guards     []GuardLine    `json:"guards"`
	Measured   []BranchRecord `json:"measured"`
	Others     []BranchRecord `json:"others"`
	Findings   []string       `json:"findings"` // of the linter in the files that differ, the worst first
	Changes    []*Review      `json:"changes"`
	// Shortened are sites with so long a series that a part of it was looked at.
	Shortened []string `json:"shortened"`

	name, local string // of the branch, as it was typed, and as one switches to it
	more        int    // findings left out
}

// GuardLine is a change of what everything is judged by.
type GuardLine struct {
	Path   string `json:"path"`
	Text   string `json:"text"`
	Signed bool   `json:"signed"` // by as many authorised others as the policy asks for
	Lacks  string `json:"lacks,omitempty"`
}

// BranchRecord is a record that differs.
type BranchRecord struct {
	What     string   `json:"what"`
	Kind     string   `json:"kind"`
	ID       string   `json:"id"`
	Path     string   `json:"path"`
	By       string   `json:"by,omitempty"` // of a session
	Values   []string `json:"values"`
	Remarks  []string `json:"remarks"` // amendments and the reason of a void record
	RestOnIt []string `json:"rest_on_it"`
}

// BranchRequest is what the review of a branch needs.
type BranchRequest struct {
	Name     string // of the branch
	States   *diff.States
	Names    [2]string // of the states
	Earlier  *journal.Journal
	Later    *journal.Journal
	Facts    evidence.Facts
	Base     *journal.Journal // whose people and policy count
	BaseName string
	Switch   string // the branch to be on for signing
	Digest   func(journal.Any) string
}

// NewBranch draws up the review of a branch.
func NewBranch(q BranchRequest) (*Branch, error) {
	j := q.Later
	b := &Branch{Schema: schema.ID("branch"), From: q.Names[0], To: q.Names[1], FromCommit: q.States.From.Hash.String(), ToCommit: q.States.To.Hash.String(), Base: q.BaseName, Answer: []string{}, Guards: []GuardLine{}, Measured: []BranchRecord{}, Others: []BranchRecord{},
		Findings: []string{}, Changes: []*Review{}, Shortened: append([]string{}, q.States.Shortened...), name: q.Name, local: q.Switch}
	for _, g := range q.States.Guards(q.Earlier, j, revisionOf(q.Names[0]), isErrorRule) {
		line := GuardLine{Path: g.Path, Text: g.Text}
		if q.Facts.Line != nil {
			line.Signed, line.Lacks = q.Facts.GuardSigned(j, g.Path)
		}
		b.Guards = append(b.Guards, line)
	}
	records := diff.Differences(q.Earlier, j, q.States.Pairs)
	judged := judge.NewChanges(j, q.Facts)
	var paths []string
	d := Diff{After: j}
	for _, r := range records {
		paths = append(paths, r.Path)
		x := BranchRecord{What: r.What.String(), Kind: r.Kind.String(), ID: r.ID, Path: r.Path, Values: []string{}, Remarks: []string{}, RestOnIt: []string{}}
		for _, f := range d.shownFields(r) {
			x.Values = append(x.Values, fieldChangeText(f))
			if f.Amendment != nil {
				x.Remarks = append(x.Remarks, fmt.Sprintf("%s amended by %s: %s", shortField(f.Path), f.Amendment.By, cmp.Or(f.Amendment.Reason, "no reason given")))
			}
		}
		if r.Reason != "" {
			x.Remarks = append(x.Remarks, "void: "+r.Reason)
		}
		for _, f := range r.Resting {
			x.RestOnIt = append(x.RestOnIt, f.Kind.String()+" "+f.ID)
		}
		switch r.Kind {
		case journal.KindSession:
			if s, ok := j.Sessions.Get(r.ID); ok {
				x.By = j.PersonName(s.By)
			}
			b.Measured = append(b.Measured, x)
		case journal.KindChange:
			if r.What == diff.Deleted {
				b.Others = append(b.Others, x)
				continue
			}
			review, err := NewReview(j, r.File, ReviewRequest{Now: q.Facts.Now, Changes: judged, Base: q.Base, BaseName: q.BaseName, Digest: q.Digest(mustChange(j, r.ID))})
			if err != nil {
				b.Findings = append(b.Findings, err.Error())
				b.Others = append(b.Others, x)
				continue
			}
			b.Changes = append(b.Changes, review)
		default:
			b.Others = append(b.Others, x)
		}
	}
	b.lint(j, paths, q.Facts)
	b.answer(records)
	return b, nil
}

func mustChange(j *journal.Journal, id string) journal.Any {
	c, ok := j.Changes.Get(id)
	if !ok {
		return nil
	}
	return c
}

func revisionOf(name string) string {
	short, _, _ := strings.Cut(name, " ")
	return short
}

func isErrorRule(name string) bool {
	r, ok := lint.Find(name)
	return ok && r.Severity == lint.Error
}

// maxBranchFindings is how many findings are reported one by one.
const maxBranchFindings = 6

func (b *Branch) lint(j *journal.Journal, paths []string, facts evidence.Facts) {
	if len(paths) == 0 {
		return
	}
	found := slices.DeleteFunc(lint.Run(j, lint.Options{Paths: paths, Now: facts.Now, Facts: facts}).Diagnostics, func(d lint.Diagnostic) bool { return d.Severity < lint.Warning })
	slices.SortStableFunc(found, func(x, y lint.Diagnostic) int { return int(y.Severity) - int(x.Severity) })
	for i, d := range found {
		if i == maxBranchFindings {
			b.more = len(found) - i
			break
		}
		b.Findings = append(b.Findings, fmt.Sprintf("%s %s in %s: %s", d.Severity, d.Rule, d.Path, d.Message))
	}
}

// answer says first what a reviewer has to decide.
func (b *Branch) answer(records []diff.RecordChange) {
	unsigned, open := map[string]bool{}, 0
	for _, g := range b.Guards {
		if !g.Signed {
			unsigned[g.Path] = true
		}
	}
	for _, c := range b.Changes {
		if c.open {
			open++
		}
	}
	var parts []string
	if n := len(unsigned); n > 0 {
		parts = append(parts, journal.Count(n, "file")+" that everything is judged by changed and not signed by another person")
	} else if len(b.Guards) > 0 {
		parts = append(parts, "what it changes of the rules is signed")
	}
	if open > 0 {
		parts = append(parts, journal.Count(open, "change")+" to decide on")
	}
	if n := len(b.Findings) + b.more; n > 0 {
		parts = append(parts, journal.Count(n, "finding"))
	}
	text := (&Diff{Changes: records}).Count()
	if len(parts) > 0 {
		text += "; " + strings.Join(parts, ", ")
	}
	b.Answer = append(b.Answer, text+".")
}

// Document lays the review out: guards, what was measured, what else differs,
// then each change as a reviewer sees it. With all nothing is shortened.
func (b *Branch) Document(all bool) render.Document {
	d := render.Document{Title: fmt.Sprintf("Branch %s against %s", b.name, b.From), Lead: slices.Clone(b.Answer)}
	d.Fact("judged by", "%s", b.Base)
	for i, g := range b.Guards {
		state := "signed"
		if !g.Signed {
			state = "NOT SIGNED" + parenthesis(g.Lacks)
		}
		d.Fact(label(i, "guards"), "%s: %s: %s", g.Path, g.Text, state)
	}
	b.list(&d, "measured", b.Measured, all)
	b.list(&d, "records", b.Others, all)
	for i, f := range b.Findings {
		d.Fact(label(i, "lint"), "%s", f)
	}
	if b.more > 0 {
		d.Fact("", "and %d more: wj lint --since", b.more)
	}
	if len(b.Shortened) > 0 {
		d.Fact("looked at", "of the long series of %s the first sessions and those around what differs; all: wj lint --since", strings.Join(b.Shortened, ", "))
	}
	for _, c := range b.Changes {
		part := c.Document(all)
		d.Blocks = append(d.Blocks, render.Block{Heading: part.Title, Text: strings.Join(part.Lead, " ")})
		for i, x := range part.Blocks {
			if x.Fact != nil && x.Fact.Label == "accept" { // a sign-off is a commit on the branch
				d.Command("to sign", "", "git switch "+b.local)
			}
			d.Blocks = append(d.Blocks, part.Blocks[i])
		}
		for i, x := range c.Depends {
			d.Fact(label(i, "used by"), "%s %s: %s", x.Kind, x.ID, x.Why)
		}
	}
	return d
}

// fewRecords is how many records of a sort are reported one by one.
const fewRecords = 12

func (b *Branch) list(d *render.Document, name string, records []BranchRecord, all bool) {
	for i, r := range records {
		if i == fewRecords && !all {
			d.Fact("", "and %d more: --all", len(records)-i)
			break
		}
		text := r.What + " " + r.ID
		if r.Kind != "session" {
			text = r.What + " " + r.Path
		}
		if r.By != "" {
			text += ", by " + r.By
		}
		values := r.Values
		if len(values) > 8 && !all {
			values = append(slices.Clone(values[:8]), fmt.Sprintf("%d more", len(r.Values)-8))
		}
		if len(values) > 0 {
			text += ": " + strings.Join(values, " · ")
		}
		d.Fact(label(i, name), "%s", text)
		for _, remark := range r.Remarks {
			d.Fact("", "%s", remark)
		}
		if len(r.RestOnIt) > 0 {
			rest := r.RestOnIt
			if len(rest) > 6 && !all {
				rest = append(slices.Clone(rest[:6]), fmt.Sprintf("and %d more", len(rest)-6))
			}
			d.Fact("", "depends on it: %s", strings.Join(rest, ", "))
		}
	}
}

func parenthesis(text string) string {
	if text == "" {
		return ""
	}
	return " (" + text + ")"
}
