package report

import (
	"cmp"
	"fmt"
	"strings"
	"wj/docs/schema"
	"wj/journal"
	"wj/journal/evidence"
	"wj/render"
)

// Verification is what a journal's history and signatures prove.
type Verification struct {
	Verdict string `json:"verdict"` // first, as what is asked: proven, wrong or unknown
	Wrong   int    `json:"wrong"`
	Unknown int    `json:"unknown"`
	Schema  string `json:"schema"`
	Reason  string `json:"reason"`
	Base    string `json:"base"` // whose people, keys and policy count
	// BaseCommit is its commit, in full.
	BaseCommit string          `json:"base_commit"`
	Trust      string          `json:"trust"`
	Signoffs   []VerifiedSign  `json:"signoffs"`
	Findings   []VerifyFinding `json:"findings"`  // what is wrong
	Undecided  []VerifyFinding `json:"undecided"` // what is unknown
	Facts      []string        `json:"facts"`
}

// VerifyFinding is one thing that is wrong or is unknown.
type VerifyFinding struct {
	Subject string `json:"subject"`
	Text    string `json:"text"`
	Cause   string `json:"cause"`
	Help    string `json:"help"`
}

// VerifiedSign is a sign-off and what it is worth.
type VerifiedSign struct {
	ID          string   `json:"id"`
	Of          string   `json:"of"`
	By          string   `json:"by"`
	On          Moment   `json:"on"`
	Decision    string   `json:"decision"`
	Proof       string   `json:"proof"`
	Order       string   `json:"order"` // when it came to the mainline
	InForce     bool     `json:"in_force"`
	Standing    string   `json:"standing"`
	Why         []string `json:"why"`
	Settled     string   `json:"settled"`
	Key         string   `json:"key,omitempty"`
	Commit      string   `json:"commit,omitempty"`
	CommittedBy string   `json:"committed_by,omitempty"`
}

// NewVerification draws up a report of evidence.
func NewVerification(r *evidence.Report) *Verification {
	v := &Verification{Schema: schema.ID("verify"), Verdict: string(r.Outcome()), Reason: r.Reason, Base: r.Base, BaseCommit: r.BaseCommit, Trust: r.Trust, Signoffs: []VerifiedSign{}, Facts: append([]string{}, r.Facts...)}
	v.Wrong, v.Unknown = r.Count()
	v.Findings, v.Undecided = verifyFindings(r.Wrong), verifyFindings(r.Unknown)
	for _, s := range r.Signoffs {
		one := VerifiedSign{ID: s.Signoff.ID, Of: s.Signoff.Of, By: s.Signoff.By, On: Moment{s.Signoff.On}, Decision: s.Signoff.Decision, Proof: string(s.Proof), Order: s.Order,
			InForce: s.Standing == evidence.InForce, Standing: s.Standing.String(), Why: append(append([]string{}, s.Why...), s.Notes...), Settled: s.Settled, Key: s.Key}
		if s.Known {
			one.Commit, one.CommittedBy = s.Origin.ID(), s.Origin.Name+" <"+s.Origin.Email+">"
		}
		v.Signoffs = append(v.Signoffs, one)
	}
	return v
}

func verifyFindings(list []evidence.Finding) []VerifyFinding {
	out := []VerifyFinding{}
	for _, f := range list {
		out = append(out, VerifyFinding{f.Subject, f.Text, f.Cause, f.Help})
	}
	return out
}

// VerdictLine is the verdict in one line.
func VerdictLine(r *evidence.Report) string {
	wrong, unknown := r.Count()
	switch r.Outcome() {
	case evidence.Wrong:
		text := "Wrong: " + journal.Count(wrong, "finding")
		if causes := r.Causes(); causes < wrong {
			text += " from " + journal.Count(causes, "cause")
		}
		if unknown > 0 {
			text += fmt.Sprintf("; %d unknown", unknown)
		}
		return text + "."
	case evidence.Unknown:
		return "Cannot tell: nothing wrong found, but " + journal.Count(unknown, "thing") + " that the policy asks for is unknown."
	}
	return "All that the policy asks for holds: nothing wrong found."
}

// VerificationText writes what was found for a terminal.
func VerificationText(r *evidence.Report, out render.Output, all bool) string {
	var b strings.Builder
	state := map[evidence.Outcome]render.State{evidence.Wrong: render.Error, evidence.Unknown: render.Warning}[r.Outcome()]
	fmt.Fprintf(&b, "%s\n", out.Paint(state, VerdictLine(r)))
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
		paint := map[evidence.Outcome]render.State{evidence.Wrong: render.Error, evidence.Unknown: render.Warning}[s.Outcome()]
		reasons := reasonsOf(s)
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
	line := journal.Count(len(r.Signoffs), "sign-off") + ": " + cmp.Or(strings.Join(parts, ", "), "none")
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

// reasonsOf are why a sign-off's standing is what it is, what should be
// known besides, and what shows who signed.
func reasonsOf(s evidence.Judged) []string {
	out := append([]string{}, s.Why...)
	if s.Settled != "" {
		out = append(out, s.Settled)
	}
	out = append(out, s.Notes...)
	return append(out, s.Describe()+"; came with "+s.Order)
}
