package evidence

import (
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"wj/journal"
	"wj/journal/history"
)

// Approval is what the sign-offs of one record come to.
type Approval struct {
	By       []string // who approves, by sign-offs in force, sorted
	Refused  []string // who refuses
	Asked    []string // who asks for changes
	Needed   int      // how many the policy asks for
	Demands  []Demand // of whom: by the policy when enough had signed, or of now
	Reached  bool     // enough approve
	At       int      // the position on the mainline at which enough did
	On       time.Time
	Verified bool   // each of them is proven by a signature
	Lacks    string // what else policy asks for, "" where nothing
	// Unproposed: who proposes it has to sign and has not.
	Unproposed bool
}

// Approve composes the verdicts on the sign-offs of a record, in the order of
// their coming. Each person's last word counts. How many are needed is what the
// policy asked when the last of them came: a policy that is tightened later
// unmakes no approval. author is who proposed it, who signs as well where the
// policy asks for proof; demands are what the policy of now asks for.
func Approve(verdicts []Verdict, author string, now journal.Policy, demands []Demand) Approval {
	list := slices.Clone(verdicts)
	slices.SortStableFunc(list, func(a, b Verdict) int {
		switch {
		case a.At != b.At && a.At != Unplaced && b.At != Unplaced:
			return a.At - b.At
		case !a.Signoff.On.Equal(b.Signoff.On):
			return a.Signoff.On.Compare(b.Signoff.On)
		case a.Refused() == b.Refused():
			return 0
		case b.Refused(): // of two at once a refusal is the last word
			return -1
		}
		return 1
	})
	a := Approval{Needed: most(demands), Demands: demands, Verified: true}
	last, asked := map[string]Verdict{}, map[string]bool{}
	proposed := false
	for _, v := range list {
		if v.Standing != InForce {
			continue
		}
		switch v.Signoff.Decision {
		case journal.DecidedProposed:
			proposed = proposed || v.Signoff.By == author
		case journal.DecidedAccepted, journal.DecidedRefused:
			last[v.Signoff.By] = v
			delete(asked, v.Signoff.By)
		case journal.DecidedRequested:
			asked[v.Signoff.By] = true
			continue
		default:
			continue
		}
		var by []string
		for id, x := range last {
			if x.Accepts() {
				by = append(by, id)
			}
		}
		of := v.Demands
		if !a.Reached && len(Unmet(of, by)) == 0 && (len(by) > 0 || most(of) == 0) && (proposed || !v.Policy.Proof) {
			a.Reached, a.At, a.On, a.Needed, a.Demands = true, v.At, v.Signoff.On, most(of), of
		}
	}
	for by, v := range last {
		if v.Refused() {
			a.Refused = append(a.Refused, by)
		} else {
			a.By = append(a.By, by)
			a.Verified = a.Verified && v.Proof == BySignature && !v.Claim
		}
	}
	slices.Sort(a.By)
	slices.Sort(a.Refused)
	if a.Needed == 0 && !now.Proof {
		a.Reached = true
	}
	// A later refusal takes an acceptance back.
	if a.Reached && len(Unmet(a.Demands, a.By)) > 0 {
		a.Reached = false
	}
	if a.Asked = slices.Sorted(maps.Keys(asked)); len(a.Asked) > 0 {
		a.Reached = false
	}
	var lacks []string
	for _, d := range Unmet(demands, a.By) {
		if d.Special && !a.Reached {
			lacks = append(lacks, d.Text()+" must sign")
		}
	}
	a.Lacks = strings.Join(lacks, "; ")
	if !a.Reached && now.Proof && !proposed {
		a.Unproposed = true
		a.Lacks = fmt.Sprintf("%s, who proposes it, has not signed (wj sign --propose)", author)
	}
	return a
}

// Precedes reports whether a sign-off was there before a record, or came with
// it: by the order of the mainline, and by the times that were typed. known is
// false where the order is unknown.
func (f Facts) Precedes(v Verdict, path string, typed time.Time) (before, known bool) {
	if journal.Day(v.Signoff.On).After(journal.Day(typed)) {
		return false, true
	}
	if f.Line == nil {
		return true, f.Unreadable == ""
	}
	at, ok := f.Line.At(path)
	if !ok || v.At == Unplaced {
		return true, false
	}
	return v.At <= at, true
}

// Came reports whether a sign-off was on the mainline before a record, or came
// with it, whatever its typed time.
func (f Facts) Came(v Verdict, path string) bool {
	if f.Line == nil || v.At == Unplaced {
		return false
	}
	at, ok := f.Line.At(path)
	return ok && v.At <= at
}

// WithdrawnBy reports whether the signer had taken a sign-off back when a record
// came. sure is false where the withdrawal was there and is dated after the record.
func (f Facts) WithdrawnBy(v Verdict, path string, typed time.Time) (gone, sure bool) {
	if f.Line == nil || f.Line.acts[v.Signoff.ID] == nil {
		return false, true
	}
	at, ok := f.Line.At(path)
	if !ok {
		return false, true
	}
	w := f.Line.withdrawn(f.Line.acts[v.Signoff.ID], at)
	return w != nil, w == nil || !journal.Day(w.signoff.On).After(journal.Day(typed))
}

// Stood says what of that which a sign-off covers was another in the commit that
// brought a record, "" where nothing was, or where it is unknown: what was
// brewed is what the records said on that day, not what they say now.
func (f Facts) Stood(v Verdict, path string) string {
	m := f.Line
	if m == nil {
		return ""
	}
	first := m.first(recordKey(path))
	if first.blob.IsZero() { // not committed: the files are as they are
		if v.Standing == Void {
			return v.Why[0]
		}
		return ""
	}
	brought := m.hashOf(first)
	if brought.IsZero() {
		return ""
	}
	then := sync.OnceValues(func() (fs.FS, error) { return m.repo.FS(brought) }) // settings are guards: see agreed.go
	differs := func(paths []string, digest string) bool {
		files, err := then()
		if err != nil {
			return false
		}
		for _, p := range paths {
			if content, err := readSmall(files, p); err == nil {
				return !slices.Contains(signedDigests(m.names(), p, lines(content)), strings.ToLower(digest))
			}
		}
		return true
	}
	for _, p := range slices.Sorted(maps.Keys(v.Signoff.Covers)) {
		key := recordKey(p)
		if n := m.contents(key); n == 0 || n == 1 && v.Standing < Void {
			continue // not followed, or never another
		}
		paths := []string{p}
		for _, other := range m.files[key].versions {
			paths = append(paths, other.path)
		}
		if differs(paths, v.Signoff.Covers[p]) {
			return p + " was not as it was signed when the batch was recorded (commit " + brought.Short() + ")"
		}
	}
	return ""
}

// Then is a record as it was in the commit that brought another one; ok is false
// where that is unknown, or where it never was another.
func (f Facts) Then(r *journal.Record, came string) (then journal.Any, ok bool) {
	m := f.Line
	if m == nil || m.contents(recordKey(r.Path)) < 2 {
		return nil, false
	}
	brought := m.hashOf(m.first(recordKey(came)))
	files, err := m.repo.FS(brought)
	if brought.IsZero() || err != nil {
		return nil, false
	}
	for _, v := range m.files[recordKey(r.Path)].versions {
		if content, err := readSmall(files, v.path); err == nil {
			_, then = Read(journal.File{Kind: r.Kind, ID: r.ID, Path: v.path}, content)
			return then, then != nil
		}
	}
	return nil, false
}

// contents counts the contents that a file ever had.
func (m *Mainline) contents(key string) int {
	if m.distinct == nil {
		m.distinct = map[string]int{}
		for o := range m.origins {
			m.distinct[o.key]++
		}
	}
	if m.files[key] == nil {
		return 0
	}
	return max(1, m.distinct[key])
}

// hashOf is the commit that made a version, on the branch on which it was made;
// zero where it is not known.
func (m *Mainline) hashOf(v fileVersion) history.Hash {
	if makers := m.originsOf(v.path, v.blob); len(makers) > 0 {
		return makers[len(makers)-1].hash
	}
	c, _ := m.commit(v.at)
	return c.hash
}
