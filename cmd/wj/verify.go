package main

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/audit"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/render"
)

type verifyCmd struct {
	Base   string `placeholder:"REV" help:"Take people, keys and policy from this revision; by default from main (or master), or from the last commit when that is checked out."`
	Format string `enum:"text,json" default:"text" help:"${enum}."`
	All    bool   `help:"Show sign-offs that are settled too: those in force, and old ones that a newer one or a newer change has taken over."`
}

func (c *verifyCmd) Help() string {
	return "Judges every sign-off (in force, void, lapsed, claim only, not allowed) and says why; compares digests; looks for records that were deleted, or rewritten without an amendment; " +
		"judges the signatures of commits and tags; says what this copy of the repository cannot tell. People and keys are read at the base, so that a proposal cannot approve itself. " +
		"A name on an unsigned commit is a claim. Exit status 1 when something is wrong.\n\n" +
		"Without a Git repository the digests are compared and the rest is said to be unknown."
}

func (c *verifyCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	report, err := a.verify(j, root, c.Base)
	if err != nil {
		return err
	}
	if c.Format == "json" {
		err = a.showJSON(report.json())
	} else {
		err = a.out.Print(report.text(a.out, c.All))
	}
	if err == nil && report.wrong() > 0 {
		return errFindings
	}
	return err
}

// trust is what verify finds out about a whole journal.
type trust struct {
	base      string // whose people, keys and policy were taken
	verdicts  []evidence.Verdict
	settled   map[string]string // sign-off id → why its standing no longer matters
	findings  []trustFinding
	facts     []string // what was looked at, and what cannot be told
	committed map[string]int
}

// trustFinding is one thing that is wrong, with the next step.
type trustFinding struct{ subject, text, help string }

func (t *trust) find(subject, help, format string, args ...any) {
	t.findings = append(t.findings, trustFinding{subject, fmt.Sprintf(format, args...), help})
}

func (t *trust) say(format string, args ...any) {
	t.facts = append(t.facts, fmt.Sprintf(format, args...))
}

// wrong counts what makes the exit status 1.
func (t *trust) wrong() int {
	n := len(t.findings)
	for _, v := range t.verdicts {
		if t.matters(v) {
			n++
		}
	}
	return n
}

// matters reports whether a sign-off's standing is something to act upon. That
// an approval lapsed is the way of things; wj status asks for the next one.
func (t *trust) matters(v evidence.Verdict) bool {
	return v.Standing != evidence.InForce && v.Standing != evidence.Lapsed && t.settled[v.Signoff.ID] == ""
}

// verify gathers the facts and judges. Without a repository only what the
// files tell is judged.
func (a *app) verify(j *journal.Journal, root, base string) (*trust, error) {
	t := &trust{settled: map[string]string{}, committed: map[string]int{}}
	w, err := a.witness(j, root, base)
	switch {
	case errors.Is(err, history.ErrNoRepository), errors.Is(err, history.ErrUnsupported), errors.Is(err, history.ErrUnborn):
		if base != "" {
			return nil, err
		}
		t.base = "the files themselves"
		t.say("history is not known (%s): who signed, what was deleted and what was rewritten cannot be told", reasonOf(err))
		w = &witness{}
	case err != nil:
		return nil, err
	default:
		defer w.h.Close()
		t.base = w.baseName
		for _, line := range unreadableKeys(w.base) {
			t.find("people", "mend the key in people/: a line as in a .pub file, or an armored OpenPGP public key", "%s", line)
		}
		if changed := rulesChanged(w.base, j); len(changed) > 0 {
			t.say("not as at the base, and without effect until merged: %s; whoever merges them changes who may sign", strings.Join(changed, ", "))
		}
		if err := t.history(a, w); err != nil {
			return nil, err
		}
	}
	facts := a.facts(j, w)
	judgement := audit.NewJudgement(j, facts)
	for _, s := range j.Signoffs.List {
		t.verdicts = append(t.verdicts, evidence.Judge(j, s, facts))
	}
	if w.walkErr != nil {
		t.find("history", "git fsck", "could not be read to its end: %s", w.walkErr)
	}
	t.settle(j, judgement)
	t.attachments(j)
	return t, nil
}

// settle says of which sign-offs the standing no longer matters: a newer one
// in force says the same, or the change itself is over.
func (t *trust) settle(j *journal.Journal, g *audit.Judgement) {
	inForce := map[string]*journal.Signoff{}
	for _, v := range t.verdicts {
		if v.Standing == evidence.InForce {
			if old := inForce[v.Signoff.Of]; old == nil || v.Signoff.On.After(old.On) {
				inForce[v.Signoff.Of] = v.Signoff
			}
		}
	}
	for _, v := range t.verdicts {
		if void := v.Signoff.Void; void != nil {
			t.settled[v.Signoff.ID] = "declared void by " + void.By + ": " + void.Reason
			continue
		}
		if v.Standing == evidence.NotAllowed {
			continue
		}
		if newer := inForce[v.Signoff.Of]; newer != nil && newer.On.After(v.Signoff.On) {
			t.settled[v.Signoff.ID] = "taken over by " + newer.ID
			continue
		}
		c, ok := j.Changes.Get(v.Signoff.Of)
		if !ok {
			continue
		}
		if state := g.Change(c).State; state == audit.Superseded || c.Void != nil {
			t.settled[v.Signoff.ID] = "the change is " + state.String()
		} else if newer := t.newerChange(j, g, c); newer != "" {
			t.settled[v.Signoff.ID] = newer + " is newer, and signed"
		}
	}
}

// newerChange is a later change for the same target that somebody accepted.
func (t *trust) newerChange(j *journal.Journal, g *audit.Judgement, c *journal.Change) string {
	for _, other := range j.Changes.List {
		if other.For != c.For || !other.Proposed.After(c.Proposed) || other.Void != nil {
			continue
		}
		for _, v := range g.Change(other).Verdicts {
			if !v.Refused() && v.Standing != evidence.NotAllowed {
				return other.ID
			}
		}
	}
	return ""
}

// attachments compares photos and certificates with their digests.
func (t *trust) attachments(j *journal.Journal) {
	j.Each(func(record journal.Any) {
		r := record.Base()
		for _, name := range slices.Sorted(maps.Keys(r.Attachments)) {
			content, err := readAttachment(j.FS, r.Path, name)
			switch {
			case err != nil:
				t.find(r.Path, "put the file back, or amend the record", "its attachment %s is not there", name)
			case !strings.EqualFold(attachmentDigest(content), r.Attachments[name]):
				t.find(r.Path, "compare the file with the original", "its attachment %s does not have the digest that the record gives", name)
			}
		}
	})
}

func (t *trust) text(out render.Output, all bool) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n\n", out.Paint(render.Dim, render.Line("people, keys and policy from "+t.base)))
	hidden := 0
	for _, v := range t.verdicts {
		if !all && (t.settled[v.Signoff.ID] != "" || !t.matters(v) && v.Standing != evidence.Lapsed) {
			hidden++
			continue
		}
		fmt.Fprintf(&b, "%s %s, %s\n", out.Paint(t.paint(v), fmt.Sprintf("%-11s", v.Standing)), render.Line(v.Signoff.ID), render.Line(v.Signoff.Decision))
		for _, why := range t.reasons(v) {
			for i, line := range strings.Split(render.Wrap(render.Line(why), out.Width-14), "\n") {
				fmt.Fprintf(&b, "            %s%s\n", []string{"- ", "  "}[min(i, 1)], line)
			}
		}
	}
	if hidden < len(t.verdicts) {
		b.WriteString("\n")
	}
	n := map[evidence.Standing]int{}
	for _, v := range t.verdicts {
		n[v.Standing]++
	}
	var parts []string
	for s := evidence.InForce; s <= evidence.NotAllowed; s++ {
		if n[s] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n[s], s))
		}
	}
	line := count(len(t.verdicts), "sign-off") + ": " + orElse(strings.Join(parts, ", "), "none")
	if hidden > 0 {
		line += fmt.Sprintf("; %d need nothing and are not shown (--all)", hidden)
	}
	b.WriteString(line + "\n")
	for _, f := range t.findings {
		fmt.Fprintf(&b, "%s %s: %s\n", out.Paint(render.Error, "wrong"), render.Line(f.subject), render.Line(f.text))
		if f.help != "" {
			fmt.Fprintf(&b, "  help: %s\n", render.Line(f.help))
		}
	}
	for _, f := range t.facts {
		b.WriteString(render.Line(f) + "\n")
	}
	if t.wrong() == 0 {
		b.WriteString("nothing wrong found\n")
	}
	return b.String()
}

func (t *trust) paint(v evidence.Verdict) render.State {
	switch {
	case t.matters(v):
		return render.Error
	case v.Standing == evidence.Lapsed:
		return render.Warning
	}
	return render.Plain
}

// reasons are what is said of a sign-off: why its standing is what it is, what
// should be known besides, and what its commit proves.
func (t *trust) reasons(v evidence.Verdict) []string {
	out := append([]string{}, v.Why...)
	if why := t.settled[v.Signoff.ID]; why != "" {
		out = append(out, why)
	}
	out = append(out, v.Notes...)
	switch {
	case !v.Known:
	case v.Claim && v.Standing != evidence.ClaimOnly:
		out = append(out, "a claim: "+v.Origin.Describe())
	case !v.Claim:
		out = append(out, v.Origin.Describe())
	}
	return out
}

func (t *trust) json() render.Object {
	signoffs, findings, facts := []any{}, []any{}, []any{}
	for _, v := range t.verdicts {
		signoffs = append(signoffs, verdictJSON(v, t.settled[v.Signoff.ID]))
	}
	for _, f := range t.findings {
		findings = append(findings, render.Object{{Name: "subject", Value: f.subject}, {Name: "text", Value: f.text}, {Name: "help", Value: f.help}})
	}
	for _, f := range t.facts {
		facts = append(facts, f)
	}
	return render.Object{{Name: "base", Value: t.base}, {Name: "wrong", Value: t.wrong()}, {Name: "signoffs", Value: signoffs}, {Name: "findings", Value: findings}, {Name: "facts", Value: facts}}
}

func verdictJSON(v evidence.Verdict, settled string) render.Object {
	why, notes := []any{}, []any{}
	for _, w := range v.Why {
		why = append(why, w)
	}
	for _, n := range v.Notes {
		notes = append(notes, n)
	}
	o := render.Object{{Name: "signoff", Value: v.Signoff.ID}, {Name: "of", Value: v.Signoff.Of}, {Name: "by", Value: v.Signoff.By}, {Name: "on", Value: journal.FormatTime(v.Signoff.On)},
		{Name: "decision", Value: v.Signoff.Decision}, {Name: "standing", Value: v.Standing.String()}, {Name: "why", Value: why}, {Name: "notes", Value: notes}, {Name: "settled", Value: settled},
		{Name: "proven", Value: v.Known && !v.Claim}}
	if v.Known {
		o = append(o, render.Member{Name: "commit", Value: v.Origin.Commit}, render.Member{Name: "committed_by", Value: v.Origin.Name + " <" + v.Origin.Email + ">"})
	}
	return o
}
