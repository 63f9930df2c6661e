package main

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"

	"wj/journal"
	"wj/journal/audit"
	"wj/journal/evidence"
	"wj/render"
	"wj/water"
)

type reviewCmd struct {
	ID     string `arg:"" help:"The record to look at before signing it."`
	Format string `enum:"text,markdown" default:"text" help:"${enum}."`

	asOf
}

func (c *reviewCmd) Help() string {
	return "What a reviewer must see, on one screen: the record with what follows from it, what the linter says, its history and corrections, what rests on it, the sign-offs so far, and who may sign."
}

func (c *reviewCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{Check: true, Sessions: true})
	if err != nil {
		return err
	}
	if err := c.set(a, j.Settings.Zone); err != nil {
		return err
	}
	f, err := find(j, c.ID)
	if err != nil {
		return err
	}
	_, record, err := j.ReadRecord(f)
	if err != nil {
		return err
	}
	if record == nil {
		return withHint("wj lint "+f.ID, "%s has no front matter that can be read", f.Path)
	}
	w, err := a.witness(j, root, "")
	if err != nil {
		a.say("history is not known here: %s", reasonOf(err))
		w = a.witnessOrNone(j, root)
	} else {
		defer w.h.Close()
	}
	judgement := audit.NewJudgement(j, a.facts(j, w))
	if change, ok := record.(*journal.Change); ok {
		return a.reviewChange(c.Format, j, w, judgement, change)
	}
	shown, err := a.record(j, f)
	if err != nil {
		return err
	}
	var b strings.Builder
	b.WriteString(shown.Document(false).Markdown())
	if w.h != nil {
		if err := a.historyPage(&b, w, j, root, f); err != nil {
			return err
		}
	}
	restsPage(&b, j, f)
	signPage(&b, a, j, w, record, judgement.Signoffs(f.ID))
	if c.Format == "markdown" {
		return a.print(render.Clean(b.String()))
	}
	return a.markdown(b.String())
}

// historyPage is the record's history in a few lines.
func (a *app) historyPage(b *strings.Builder, w *witness, j *journal.Journal, root string, f journal.File) error {
	entries, err := a.recordLog(w.h, j, root, f, 0)
	if err != nil {
		return err
	}
	b.WriteString("\n## History\n\n")
	for i, e := range entries {
		if i == 8 {
			fmt.Fprintf(b, "- and %d older (wj log %s)\n", len(entries)-i, f.ID)
			break
		}
		who := plain(e.name)
		if e.commit == "" {
			who = "**not committed**"
		}
		fmt.Fprintf(b, "- %s %s %s%s", dateText(e), e.what, who, plain(e.proof))
		if e.commit != "" {
			fmt.Fprintf(b, " (%s)", strings.TrimSpace(e.commit))
		}
		b.WriteString("\n")
		for _, s := range e.settings {
			fmt.Fprintf(b, "  - %s", plain(settingText(s)))
			if s.Amendment != nil {
				fmt.Fprintf(b, ": %s", plain(s.Amendment.Reason))
			}
			if s.Silent {
				b.WriteString(" **without an amendment**")
			}
			b.WriteString("\n")
		}
	}
	return nil
}

func dateText(e logEntry) string {
	if e.when.IsZero() {
		return ""
	}
	return e.when.Format("2006-01-02 15:04")
}

// restsPage lists what rests on the record.
func restsPage(b *strings.Builder, j *journal.Journal, f journal.File) {
	tree := audit.NewGraph(j).Walk(f, true)
	b.WriteString("\n## What rests on it\n\n")
	if len(tree.Below) == 0 {
		b.WriteString("Nothing.\n")
		return
	}
	for i, t := range tree.Below {
		if i == 12 {
			fmt.Fprintf(b, "- and %d more (wj trace %s --down)\n", len(tree.Below)-i, f.ID)
			break
		}
		fmt.Fprintf(b, "- %s %s: %s\n", t.File.Kind, plain(t.File.ID), plain(t.Why))
	}
}

// signPage shows the sign-offs so far and who may sign.
func signPage(b *strings.Builder, a *app, j *journal.Journal, w *witness, record journal.Any, verdicts []evidence.Verdict) {
	b.WriteString("\n## Sign-offs\n\n")
	var rows [][]string
	for _, v := range verdicts {
		why := append(append([]string{}, v.Why...), v.Notes...)
		why = append(why, v.Describe())
		rows = append(rows, []string{v.Signoff.By, journal.FormatTime(v.Signoff.On), v.Signoff.Decision, v.Signoff.Meaning, v.Standing.String(), strings.Join(why, "; ")})
	}
	mdTable(b, []string{"by", "on", "decision", "meaning", "standing", "why"}, []bool{false, false, false, false, false, false}, rows)
	base := j
	if w.base != nil {
		base = w.base
	}
	policy := base.Settings.Policy
	may := evidence.Reviewers(base, j, record, a.now())
	for i := range may {
		may[i] = plain(may[i])
	}
	who := orElse(strings.Join(may, ", "), "nobody: roles are in people/")
	if _, ok := record.(*journal.Change); ok {
		asks := fmt.Sprintf("%s must sign", count(policy.Reviewers, "reviewer"))
		if policy.Reviewers == 0 {
			asks = "no reviewer is asked for: self-approved"
		}
		if policy.OtherThanAuthor {
			asks += ", other than the author"
		}
		if policy.Proof {
			asks += ", with their own signature"
		}
		fmt.Fprintf(b, "Policy: %s. ", asks)
	}
	fmt.Fprintf(b, "May sign: %s.\n\n", who)
	if needed, err := evidence.Covers(j, record); err != nil {
		fmt.Fprintf(b, "Cannot be signed: %s.\n", plain(err.Error()))
	} else {
		var paths []string
		for _, n := range needed {
			paths = append(paths, "`"+n.Path+"`")
		}
		fmt.Fprintf(b, "A sign-off covers %s.\n\nNext: `wj sign %s --digest %s` or `wj sign %s --refuse -m \"…\"`\n", strings.Join(paths, ", "), record.Base().ID, digestOf(j, record), record.Base().ID)
	}
}

// valueText writes a value in its standard unit with its 95 % half-width.
func valueText(id water.ID, v, half float64) string {
	value, spread := water.Spread(v, half)
	text := value
	if spread != "" {
		text += " ± " + spread
	}
	if unit := id.Info().Unit; !unit.IsNone() {
		text += " " + unit.String()
	}
	return text
}

// attachmentDigest is the SHA-256 of a photo or certificate, byte for byte.
func attachmentDigest(content []byte) string {
	sum := sha256.Sum256(content)
	return hex.EncodeToString(sum[:])
}

// digestOf is the short digest of all that a sign-off of the record covers.
func digestOf(j *journal.Journal, record journal.Any) string {
	r := record.Base()
	statement, err := evidence.Prepare(j, journal.File{Kind: r.Kind, ID: r.ID, Path: r.Path}, record, nil)
	if err != nil {
		return "…"
	}
	return statement.Short()
}
