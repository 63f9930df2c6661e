package main

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
	"wj/journal/history"
	"wj/journal/judge"
	"wj/journal/plan"
	"wj/lint"
	"wj/render"
)

type verifyCmd struct {
	Base   string   `placeholder:"REF" help:"The branch that judges, whose people, keys and policy count; by default main (or master)."`
	Since  string   `placeholder:"REV" help:"Judge only what came after this revision, as for a pull request."`
	Anchor []string `placeholder:"LINE|FILE" help:"The receipt of an anchor that you kept, or a file that holds it; may be repeated."`
	Root   string   `placeholder:"COMMIT" help:"Trust people, keys and policy as they were at this commit, and judge what came after by the rules from there."`
	Format string   `enum:"text,json" default:"text" help:"${enum}."`
	All    bool     `help:"Show every sign-off, also those in force and old ones that no longer matter."`

	atFlag
}

func (c *verifyCmd) Help() string {
	return "Judges every sign-off by the people, keys and policy that the main branch had before it; looks for records that were deleted, or rewritten without an amendment, in history and in the working files; " +
		"judges signatures of commits, tags and anchors. Three outcomes: proven (all that the policy asks for holds, exit status 0), wrong (1), or cannot tell (2: nothing is wrong, but something that the policy asks for cannot be told, " +
		"as without history). A name that no signature shows is reported as not verified.\n\n" +
		"In the data folder of a bundle the history is read from the bundle."
}

func (c *verifyCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	a.collect(keeping) // history lives beside the sessions
	opt := evidence.Options{Base: c.Base, Since: c.Since, Root: c.Root}
	for _, word := range c.Anchor {
		line, err := receiptText(word)
		if err != nil {
			return err
		}
		opt.Anchors = append(opt.Anchors, line)
	}
	report, err := a.verify(j, root, opt)
	if err != nil {
		return err
	}
	if c.Format == "json" {
		err = a.showJSON(reportJSON(report))
	} else {
		err = a.out.Print(reportText(report, a.out, c.All))
	}
	if err != nil {
		return err
	}
	switch report.Outcome() {
	case evidence.Wrong:
		return errFindings
	case evidence.Untold:
		return errUntold
	}
	return nil
}

// receiptText is a receipt as it was given: the line itself or a file.
func receiptText(word string) (string, error) {
	if _, err := evidence.ParseReceipt(word); err == nil {
		return word, nil
	}
	info, err := os.Stat(word)
	if err != nil || !info.Mode().IsRegular() || info.Size() > frontmatter.MaxFile {
		return "", withHint("the line that wj anchor printed, in quotes, or a file that holds it", "%.60q is no receipt of an anchor and no file", word)
	}
	content, err := os.ReadFile(word)
	if err != nil {
		return "", fmt.Errorf("read the receipt: %w", err)
	}
	if _, err := evidence.ParseReceipt(string(content)); err != nil {
		return "", withHint("it holds the line that wj anchor printed", "%w", err)
	}
	return string(content), nil
}

// verify judges a journal. Without a repository only what the files show is
// judged.
func (a *app) verify(j *journal.Journal, root string, opt evidence.Options) (*evidence.Report, error) {
	opt.Now, opt.Moved = a.now(), plan.Open(j).MovedWords
	opt.Wrong = func(p string) bool { return a.hasErrors(j, p) }
	opt.IsError = lint.IsErrorIn
	w, err := a.bundledProvenance(j, root, opt)
	if w == nil && err == nil {
		w, err = a.openProvenance(j, root, opt, true)
	}
	switch {
	case errors.Is(err, history.ErrNoRepository):
		w = &provenance{}
	case unreadable(err):
		w = &provenance{}
		opt.Unreadable = reasonOf(err)
	case err != nil:
		return nil, err
	}
	defer w.close()
	if w.line == nil && (opt.Base != "" || opt.Since != "" || opt.Root != "") {
		return nil, err
	}
	opt.Working, opt.Staged = w.working, w.staged
	facts := a.facts(j, w)
	facts.Unreadable = opt.Unreadable
	judgement := judge.NewChanges(j, facts)
	var explained []string
	if w.line != nil {
		opt.Others = func() (found []evidence.Finding) {
			found, explained = judgement.Brewed()
			return found
		}
	}
	report, err := evidence.Verify(a.ctx, j, w.line, opt, judgement.Settled)
	if err != nil {
		return nil, err
	}
	for _, text := range explained {
		report.Say("%s.", text)
	}
	return report, nil
}

// headline is the verdict in one line.
func headline(r *evidence.Report) string {
	wrong, unknown := r.Count()
	switch r.Outcome() {
	case evidence.Wrong:
		text := "Wrong: " + count(wrong, "finding")
		if causes := r.Causes(); causes < wrong {
			text += " from " + count(causes, "cause")
		}
		if unknown > 0 {
			text += fmt.Sprintf("; %d cannot be told", unknown)
		}
		return text + "."
	case evidence.Untold:
		return "Cannot tell: nothing wrong found, but " + count(unknown, "thing") + " that the policy asks for cannot be told."
	}
	return "All that the policy asks for holds: nothing wrong found."
}

func reportText(r *evidence.Report, out render.Output, all bool) string {
	var b strings.Builder
	state := map[evidence.Outcome]render.State{evidence.Wrong: render.Error, evidence.Untold: render.Warning}[r.Outcome()]
	fmt.Fprintf(&b, "%s\n", out.Paint(state, headline(r)))
	fmt.Fprintf(&b, "%s\n", out.Paint(render.Dim, render.Line("People, keys and policy: "+r.Base+".")))
	if r.Trust != "" {
		fmt.Fprintf(&b, "%s\n", out.Paint(render.Dim, render.Line("Trust: "+r.Trust+".")))
	}
	if r.Reason != "" {
		fmt.Fprintf(&b, "%s\n", render.Wrap(render.Line("Reason: "+r.Reason+"."), out.Width))
	}
	b.WriteString("\n")
	hidden := 0
	var shown []evidence.Judged
	for _, s := range r.Signoffs {
		if !all && s.Outcome() == evidence.Proven && s.Standing != evidence.Lapsed || !all && s.Settled != "" {
			hidden++
			continue
		}
		shown = append(shown, s)
	}
	for _, group := range grouped(shown, r.SignoffsByCause, all) {
		s := group[0]
		paint := map[evidence.Outcome]render.State{evidence.Wrong: render.Error, evidence.Untold: render.Warning}[s.Outcome()]
		reasons := signoffReasons(s)
		if len(group) > 1 {
			fmt.Fprintf(&b, "%s %d sign-offs for one reason, such as %s\n", out.Paint(paint, fmt.Sprintf("%-11s", s.Standing)), len(group), render.Line(s.Signoff.ID))
			reasons = reasons[:1]
		} else {
			fmt.Fprintf(&b, "%s %s, %s\n", out.Paint(paint, fmt.Sprintf("%-11s", s.Standing)), render.Line(s.Signoff.ID), render.Line(s.Signoff.Decision))
		}
		for _, why := range reasons {
			for i, line := range strings.Split(render.Wrap(render.Line(why), out.Width-14), "\n") {
				fmt.Fprintf(&b, "            %s%s\n", []string{"- ", "  "}[min(i, 1)], line)
			}
		}
	}
	b.WriteString(signoffCount(r, hidden) + "\n")
	findings := func(word string, state render.State, list []evidence.Finding) {
		for _, group := range grouped(list, r.ByCause, all) {
			f := group[0]
			if len(group) > 1 {
				fmt.Fprintf(&b, "%s %d findings: %s\n  such as %s%s\n  help: wj verify --all lists them\n", out.Paint(state, word), len(group), render.Line(r.Shared(f)), render.Line(f.Subject), render.Line(strings.TrimPrefix(f.Text, f.Cause)))
				continue
			}
			fmt.Fprintf(&b, "%s %s: %s\n", out.Paint(state, word), render.Line(f.Subject), render.Line(f.Text))
			if f.Help != "" {
				fmt.Fprintf(&b, "  help: %s\n", render.Line(f.Help))
			}
		}
	}
	findings("wrong", render.Error, r.Wrong)
	findings("unknown", render.Warning, r.Unknown)
	for _, f := range r.Facts {
		b.WriteString(render.Line(f) + "\n")
	}
	return b.String()
}

// grouped puts what has one cause together, or nothing where all is asked for.
func grouped[T any](list []T, by func([]T) [][]T, all bool) [][]T {
	if !all {
		return by(list)
	}
	var out [][]T
	for _, x := range list {
		out = append(out, []T{x})
	}
	return out
}

// signoffCount counts sign-offs by their standing.
func signoffCount(r *evidence.Report, hidden int) string {
	n := map[evidence.Standing]int{}
	for _, s := range r.Signoffs {
		n[s.Standing]++
	}
	var parts []string
	for s := evidence.InForce; s <= evidence.NotAllowed; s++ {
		if n[s] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n[s], s))
		}
	}
	line := count(len(r.Signoffs), "sign-off") + ": " + orElse(strings.Join(parts, ", "), "none")
	if claims := r.Claims(); claims > 0 {
		line += fmt.Sprintf("; signer not verified: %d", claims)
	}
	switch {
	case hidden == 1:
		line += "; 1 needs nothing and is not shown (--all)"
	case hidden > 1:
		line += fmt.Sprintf("; %d need nothing and are not shown (--all)", hidden)
	}
	return line
}

// signoffReasons are why a sign-off's standing is what it is, what should be
// known besides, and what shows who signed.
func signoffReasons(s evidence.Judged) []string {
	out := append([]string{}, s.Why...)
	if s.Settled != "" {
		out = append(out, s.Settled)
	}
	out = append(out, s.Notes...)
	return append(out, s.Describe()+"; came with "+s.Order)
}

func reportJSON(r *evidence.Report) render.Object {
	texts := func(list []string) []any {
		out := []any{}
		for _, t := range list {
			out = append(out, t)
		}
		return out
	}
	findings := func(list []evidence.Finding) []any {
		out := []any{}
		for _, f := range list {
			out = append(out, render.Object{{Name: "subject", Value: f.Subject}, {Name: "text", Value: f.Text}, {Name: "cause", Value: f.Cause}, {Name: "help", Value: f.Help}})
		}
		return out
	}
	signoffs := []any{}
	for _, s := range r.Signoffs {
		signoffs = append(signoffs, signoffJSON(s))
	}
	wrong, unknown := r.Count()
	return render.Object{{Name: "verdict", Value: string(r.Outcome())}, {Name: "wrong", Value: wrong}, {Name: "unknown", Value: unknown}, {Name: "reason", Value: r.Reason}, {Name: "base", Value: r.Base}, {Name: "trust", Value: r.Trust},
		{Name: "signoffs", Value: signoffs}, {Name: "findings", Value: findings(r.Wrong)}, {Name: "untold", Value: findings(r.Unknown)}, {Name: "facts", Value: texts(r.Facts)}}
}

func signoffJSON(s evidence.Judged) render.Object {
	why := []any{}
	for _, w := range append(append([]string{}, s.Why...), s.Notes...) {
		why = append(why, w)
	}
	o := render.Object{{Name: "id", Value: s.Signoff.ID}, {Name: "of", Value: s.Signoff.Of}, {Name: "by", Value: s.Signoff.By}, {Name: "on", Value: journal.FormatTime(s.Signoff.On)}, {Name: "decision", Value: s.Signoff.Decision},
		{Name: "proof", Value: string(s.Proof)}, {Name: "order", Value: s.Order}, {Name: "in_force", Value: s.Standing == evidence.InForce}, {Name: "standing", Value: s.Standing.String()}, {Name: "why", Value: why}, {Name: "settled", Value: s.Settled}}
	if s.Key != "" {
		o = append(o, render.Member{Name: "key", Value: s.Key})
	}
	if s.Known {
		o = append(o, render.Member{Name: "commit", Value: s.Origin.Commit}, render.Member{Name: "committed_by", Value: s.Origin.Name + " <" + s.Origin.Email + ">"})
	}
	return o
}
