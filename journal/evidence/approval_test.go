package evidence

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wj/journal"
)

func asked(p journal.Policy) []Demand { return []Demand{{Reviewers: p.Reviewers}} }

func verdict(by, decision string, at int, standing Standing, policy journal.Policy) Verdict {
	return Verdict{Signoff: &journal.Signoff{By: by, Decision: decision, On: time.Date(2026, 6, 1, at, 0, 0, 0, time.UTC)}, At: at, Standing: standing, Policy: policy, Demands: asked(policy), Proof: Claim, Claim: true}
}

func TestApprove(t *testing.T) {
	one, two := journal.Policy{Reviewers: 1}, journal.Policy{Reviewers: 2}
	proof := journal.Policy{Reviewers: 1, Proof: true}
	for _, c := range []struct {
		name     string
		verdicts []Verdict
		now      journal.Policy
		reached  bool
		refused  string
	}{
		{"nobody", nil, one, false, ""},
		{"one accepts", []Verdict{verdict("jonas", "accepted", 1, InForce, one)}, one, true, ""},
		{"not in force", []Verdict{verdict("jonas", "accepted", 1, ClaimOnly, one)}, one, false, ""},
		{"the same one twice is one", []Verdict{verdict("jonas", "accepted", 1, InForce, two), verdict("jonas", "accepted", 2, InForce, two)}, two, false, ""},
		{"two", []Verdict{verdict("jonas", "accepted", 1, InForce, two), verdict("ines", "accepted", 2, InForce, two)}, two, true, ""},
		{"a policy tightened later unmakes nothing", []Verdict{verdict("jonas", "accepted", 1, InForce, one)}, two, true, ""},
		{"a later refusal takes it back", []Verdict{verdict("jonas", "accepted", 1, InForce, one), verdict("jonas", "refused", 2, InForce, one)}, one, false, "jonas"},
		{"the order of coming counts, not that of the list", []Verdict{verdict("jonas", "refused", 2, InForce, one), verdict("jonas", "accepted", 1, InForce, one)}, one, false, "jonas"},
		{"an acceptance after a refusal", []Verdict{verdict("jonas", "refused", 1, InForce, one), verdict("jonas", "accepted", 2, InForce, one)}, one, true, ""},
		{"another one refuses", []Verdict{verdict("jonas", "accepted", 1, InForce, one), verdict("ines", "refused", 2, InForce, one)}, one, true, "ines"},
		{"proof: the author has not signed", []Verdict{verdict("jonas", "accepted", 1, InForce, proof)}, proof, false, ""},
		{"proof: somebody else proposes", []Verdict{verdict("ines", "proposed", 0, InForce, proof), verdict("jonas", "accepted", 1, InForce, proof)}, proof, false, ""},
		{"proof: both signed, in either order", []Verdict{verdict("jonas", "accepted", 1, InForce, proof), verdict("pia", "proposed", 2, InForce, proof)}, proof, true, ""},
		{"nobody is asked for", nil, journal.Policy{}, true, ""},
		{"nobody is asked for, but proof is", nil, journal.Policy{Proof: true}, false, ""},
	} {
		a := Approve(c.verdicts, "pia", c.now, asked(c.now))
		if a.Reached != c.reached || strings.Join(a.Refused, ",") != c.refused {
			t.Errorf("%s: reached %v, refused %v", c.name, a.Reached, a.Refused)
		}
	}
}

// The order in which a list holds its sign-offs changes nothing.
func TestApproveInAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		policy := journal.Policy{Reviewers: rapid.IntRange(0, 2).Draw(t, "reviewers"), Proof: rapid.Bool().Draw(t, "proof")}
		var list []Verdict
		for at := range rapid.IntRange(0, 6).Draw(t, "n") {
			list = append(list, verdict(rapid.SampledFrom([]string{"ines", "jonas", "pia"}).Draw(t, "by"), rapid.SampledFrom([]string{"accepted", "refused", "proposed"}).Draw(t, "decision"), at, InForce, policy))
		}
		want := Approve(list, "pia", policy, asked(policy))
		mixed := rapid.Permutation(list).Draw(t, "order")
		got := Approve(mixed, "pia", policy, asked(policy))
		if got.Reached != want.Reached || !slices.Equal(got.By, want.By) || !slices.Equal(got.Refused, want.Refused) {
			t.Fatalf("%+v, in another order %+v", want, got)
		}
		if got.Reached && len(got.By) < got.Needed {
			t.Fatalf("approved by %v of %d", got.By, got.Needed)
		}
	})
}

func TestReceiptReadsBack(t *testing.T) {
	r := Receipt{Date: "2026-06-03", By: "ines", Commit: strings.Repeat("ab", 20), Journal: strings.Repeat("cd", 32), Files: 17, Anchor: strings.Repeat("ef", 32)}
	got, err := ParseReceipt("Printed sheet\n  " + r.String() + "\nmore")
	if err != nil || got != r {
		t.Errorf("%+v, %v", got, err)
	}
	for _, bad := range []string{"", "wj-anchor-1", "wj-anchor-1 a b c d e f", strings.Replace(r.String(), " 17 ", " x ", 1), strings.Replace(r.String(), r.Commit, r.Commit[:12], 1)} {
		if _, err := ParseReceipt(bad); err == nil {
			t.Errorf("%q: no error", bad)
		}
	}
}

func FuzzParseReceipt(f *testing.F) {
	f.Add("wj-anchor-1 2026-06-03 ines " + strings.Repeat("ab", 20) + " " + strings.Repeat("cd", 32) + " 17 " + strings.Repeat("ef", 32))
	f.Fuzz(func(t *testing.T, text string) {
		r, err := ParseReceipt(text)
		if err != nil {
			return
		}
		if again, err := ParseReceipt(r.String()); err != nil || again != r {
			t.Errorf("%+v reads back as %+v, %v", r, again, err)
		}
	})
}
