package report

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"wj/docs/schema"
	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/judge"
	"wj/journal/plan"
	"wj/journal/trace"
	"wj/lint"
	"wj/water"
)

// Review is what a reviewer must see of a record before signing it.
type Review struct {
	Schema string      `json:"schema"`
	Kind   string      `json:"kind"`
	ID     string      `json:"id"`
	State  string      `json:"state,omitempty"` // of a change
	Answer []string    `json:"answer"`
	Record *Record     `json:"record,omitempty"` // of anything else
	Change *ChangePart `json:"change,omitempty"`
	Inputs []string    `json:"inputs"` // what the decision depends on that is not the same on the base branch
	Base   string      `json:"base"`
	// BaseCommit is its commit, in full; "" where there is no history.
	BaseCommit string       `json:"base_commit"`
	Findings   []string     `json:"findings"`
	History    []string     `json:"history"` // the newest first
	Depends    []Dependent  `json:"depends"` // what depends on the record
	Signed     []SignedLine `json:"signed"`
	Policy     string       `json:"policy"`
	MaySign    []string     `json:"may_sign"`
	Covers     []string     `json:"covers"` // the files that a sign-off covers
	Digest     string       `json:"digest"`
	Expires    []string     `json:"expires"` // what ends an approval

	open   bool // a signature is asked for
	volume string
	older  int
	now    time.Time
}

// Dependent is a record that depends on the one under review.
type Dependent struct {
	Kind string `json:"kind"`
	ID   string `json:"id"`
	Why  string `json:"why"`
}

// SignedLine is a sign-off and what it counts for.
type SignedLine struct {
	By       string   `json:"by"`
	On       Moment   `json:"on"`
	Decision string   `json:"decision"`
	Meaning  string   `json:"meaning"`
	Standing string   `json:"standing"`
	Why      []string `json:"why"`
	Words    string   `json:"words"` // what they wrote
	ID       string   `json:"id"`
}

// wordsOf is what a signer wrote below the fields.
func wordsOf(j *journal.Journal, s *journal.Signoff) string {
	d, _, err := j.ReadRecord(journal.File{Kind: journal.KindSignoff, ID: s.ID, Path: s.Path})
	if err != nil || !d.OK() {
		return ""
	}
	return strings.Join(strings.Fields(string(d.Source[d.Body:])), " ")
}

// answered is what a remark is that answers another one.
const answered = "answered"

// line is a sign-off, a remark or an answer on one line.
func (s SignedLine) line(all bool) string {
	if s.Decision == journal.DecidedRemarked || s.Decision == journal.DecidedRequested || s.Decision == answered {
		text := fmt.Sprintf("%s %s %s", s.By, map[string]string{journal.DecidedRemarked: "remarks", journal.DecidedRequested: "asks for changes", answered: "answers"}[s.Decision], s.On.Format("2006-01-02 15:04"))
		if s.Meaning != "" {
			text += " " + s.Meaning
		}
		if s.Standing != evidence.InForce.String() {
			text += " (" + s.Standing + ")"
		}
		return text + ": " + shortened(s.Words, 200, all)
	}
	text := fmt.Sprintf("%s %s %s", s.By, s.Decision, s.On.Format("2006-01-02 15:04"))
	if s.Meaning != "" && all {
		text += ", " + s.Meaning
	}
	return text + ": " + s.Standing + s.why(all)
}

// ChangePart is a water change: its waters, its doses, what it makes of them, and how far that is from the target.
type ChangePart struct {
	For        string        `json:"for"`
	Volume     Figure        `json:"volume_l"`
	Author     string        `json:"author"`
	Proposed   Day           `json:"proposed"`
	Supersedes string        `json:"supersedes,omitempty"`
	Rivals     []string      `json:"rivals"` // approved for the same target as well, and neither supersedes the other
	Why        []string      `json:"why"`    // of its state
	Emergency  string        `json:"emergency,omitempty"`
	NoSheet    []string      `json:"no_sheet"` // why no sheet is printed of it today, though it is approved
	Waters     []Water       `json:"waters"`
	Today      []Water       `json:"today"` // where newer samples are there
	Before     string        `json:"before,omitempty"`
	Doses      []Dose        `json:"doses"`
	Cost       *Number       `json:"cost"`
	Currency   string        `json:"currency"`
	Values     []ChangeValue `json:"values"` // nearest to its limit first
	MashPH     string        `json:"mash_pH,omitempty"`
	// Treatment is the dose worked out on its basis, in the form of wj treat.
	Treatment *plan.Answer `json:"treatment"`
	Chlorine  string       `json:"chlorine,omitempty"`
	Safe      []string     `json:"safe"` // health and indicator values, dissolving, pH
	Cautions  []string     `json:"cautions"`
	Checks    []string     `json:"checks"`
	Assumes   []string     `json:"assumes"`
	Verified  string       `json:"verified,omitempty"`
	Says      string       `json:"says,omitempty"`

	liters            float64
	moved, hadBefore  bool
	beforeState, name string
}

// Water is one water of a blend.
type Water struct {
	Site    string  `json:"site"`
	Session string  `json:"session"`
	Sampled Moment  `json:"sampled"`
	Source  string  `json:"source"`
	AgeDays int     `json:"age_days"`
	Share   Number  `json:"share"`
	Liters  Number  `json:"liters"`
	Sulfate *Number `json:"sulfate,omitempty"`
	figure  string
}

// Dose is one addition.
type Dose struct {
	Substance string `json:"substance"`
	Strength  string `json:"strength"`
	Lot       string `json:"lot,omitempty"`
	Unit      string `json:"unit"`   // of all amounts
	Amount    Figure `json:"amount"` // null where it is only in the change before
	PerHL     Figure `json:"per_hl"`
	Before    Figure `json:"before"` // null where it is not in the change before, or there is none
	AtMost    Figure `json:"at_most"`
	Cost      Figure `json:"cost"`
	Over      bool   `json:"over"`
}

// ChangeValue is one value of the liquor against its target, in the standard unit.
type ChangeValue struct {
	Analyte string  `json:"analyte"`
	Blend   *Number `json:"blend"`
	Before  *Number `json:"before"` // of the change that this one replaces, with today's water
	Value   *Number `json:"value"`
	U       *Number `json:"u"`
	Today   *Number `json:"today"` // with today's water
	Min     *Number `json:"min"`
	Max     *Number `json:"max"`
	Margin  *Number `json:"margin"` // to the nearer limit, in standard uncertainties
	Verdict string  `json:"verdict"`

	id         water.ID
	conformity judge.Conformity
	todayU     float64
}

// ReviewRequest is what a review needs besides the records: the judgement of changes and what history says.
type ReviewRequest struct {
	Now      time.Time
	Changes  *judge.Changes
	Base     *journal.Journal // whose people and policy count; nil for the journal itself
	BaseName string
	History  []string // the newest first
	Older    int      // how many more there are
	Digest   string   // of all that a sign-off would cover
}

// NewReview draws up the review of a record.
func NewReview(j *journal.Journal, f journal.File, q ReviewRequest) (*Review, error) {
	_, record, err := j.ReadRecord(f)
	if err != nil {
		return nil, err
	}
	if record == nil {
		return nil, journal.Hint("wj lint "+f.ID, "%s has no front matter that can be read", f.Path)
	}
	base := q.Base
	if base == nil {
		base = j
	}
	r := &Review{Schema: schema.ID("review"), Kind: f.Kind.String(), ID: f.ID, Answer: []string{}, Inputs: []string{}, Base: q.BaseName, BaseCommit: baseCommit(q.Changes), Findings: []string{}, History: append([]string{}, q.History...), Depends: []Dependent{},
		Signed: []SignedLine{}, MaySign: []string{}, Covers: []string{}, Digest: q.Digest, Expires: []string{}, older: q.Older, now: q.Now.In(j.Settings.Zone)}
	r.signed(j, q.Changes, f.ID)
	r.MaySign = append(r.MaySign, evidence.Reviewers(base, j, record, q.Now)...)
	if needed, err := evidence.Covers(j, record); err == nil {
		for _, n := range needed {
			r.Covers = append(r.Covers, n.Path)
		}
	} else {
		r.Findings = append(r.Findings, "cannot be signed: "+err.Error())
	}
	if change, ok := record.(*journal.Change); ok {
		return r, r.change(j, base, change, q)
	}
	if r.Record, err = NewRecord(j, f, RecordRequest{Now: q.Now, Facts: q.Changes.Facts()}); err != nil {
		return nil, err
	}
	r.Answer, r.open, r.Policy = r.Record.Answer, true, specialDemands(base, j, record, r.now)
	for _, t := range trace.NewGraph(j).Walk(f, true).Below {
		r.Depends = append(r.Depends, Dependent{t.File.Kind.String(), t.File.ID, t.Why})
	}
	return r, nil
}

// baseCommit is the commit of the branch that judges, in full.
func baseCommit(changes *judge.Changes) string {
	line := changes.Facts().Line
	if line == nil {
		return ""
	}
	return line.Base().Commit.Hash.String()
}

// specialDemands are what policy.required asks of a record's signatures, in words.
func specialDemands(base, j *journal.Journal, record journal.Any, now time.Time) string {
	var out []string
	for _, d := range evidence.Demands(base, j, record, now) {
		if d.Special {
			out = append(out, d.Text()+" must sign")
		}
	}
	return strings.Join(out, "; ")
}

func (r *Review) signed(j *journal.Journal, changes *judge.Changes, id string) {
	for _, v := range changes.Signoffs(id) {
		why := append(append([]string{}, v.Why...), v.Notes...)
		if text := v.Describe(); text != "" {
			why = append(why, text)
		}
		r.Signed = append(r.Signed, SignedLine{v.Signoff.By, Moment{v.Signoff.On}, v.Signoff.Decision, v.Signoff.Meaning, v.Standing.String(), why, wordsOf(j, v.Signoff), v.Signoff.ID})
		for _, answer := range changes.Signoffs(v.Signoff.ID) {
			if s := answer.Signoff; s.Decision == journal.DecidedRemarked {
				r.Signed = append(r.Signed, SignedLine{s.By, Moment{s.On}, answered, s.Meaning, answer.Standing.String(), []string{}, wordsOf(j, s), s.ID})
			}
		}
	}
}

// NewSettingsReview draws up the review of wj.yaml: what in it decides, and is
// not as on the base branch.
func NewSettingsReview(j *journal.Journal, q ReviewRequest) *Review {
	base := q.Base
	if base == nil {
		base = j
	}
	r := &Review{Schema: schema.ID("review"), Kind: journal.KindSettings.String(), ID: journal.SettingsFile, Answer: []string{"Nothing that decides differs from the branch that judges."}, Inputs: []string{}, Base: q.BaseName, BaseCommit: baseCommit(q.Changes), Findings: []string{},
		History: []string{}, Depends: []Dependent{}, Signed: []SignedLine{}, MaySign: evidence.Reviewers(base, j, nil, q.Now), Covers: []string{journal.SettingsFile}, Digest: q.Digest, Expires: []string{}, open: true, now: q.Now.In(j.Settings.Zone)}
	for _, c := range evidence.Guards(base, j, q.BaseName, func(string) bool { return false }) {
		if c.Path == journal.SettingsFile {
			r.Inputs = append(r.Inputs, c.Text)
		}
	}
	switch n := len(r.Inputs); {
	case n == 1:
		r.Answer = []string{"1 value that decides differs from the branch that judges."}
	case n > 1:
		r.Answer = []string{fmt.Sprintf("%d values that decide differ from the branch that judges.", n)}
	}
	r.signed(j, q.Changes, journal.SettingsFile)
	return r
}

// change works a water change out: with the waters of its basis, with today's, and against what it replaces.
func (r *Review) change(j, base *journal.Journal, c *journal.Change, q ReviewRequest) error {
	w := &changeWork{j: j, judged: q.Changes.Change(c), facts: q.Changes.Facts(), book: plan.Open(j), now: r.now}
	var err error
	if w.proposed, err = w.book.OnBasis(c); err != nil {
		return journal.Hint("wj lint "+c.ID, "%w", err)
	}
	if w.today, err = w.book.OnDay(c, r.now); err != nil {
		return journal.Hint("wj lint "+c.ID, "%w", err)
	}
	w.findBefore(q.Changes)
	w.balance, w.balanceErr = w.proposed.Prediction.Equilibrate()
	r.State, r.volume = w.judged.Words(), c.Volume.String()
	p := &ChangePart{For: c.For, Volume: Figure{w.proposed.Prediction.Plan.Volume, c.Volume.String()}, Author: c.Author, Proposed: Day{c.Proposed}, Supersedes: c.Supersedes, Why: append(append([]string{}, w.judged.Why...), w.judged.Notes...),
		Rivals: append([]string{}, q.Changes.RivalsOf(c)...), NoSheet: []string{}, Doses: []Dose{}, Values: []ChangeValue{}, Today: []Water{}, Currency: w.proposed.Currency, name: j.PersonName(c.Author), liters: w.proposed.Prediction.Plan.Volume}
	p.Waters = w.waters(w.proposed, p.liters)
	if !plan.SameWaters(w.today.Sources, w.proposed.Sources) {
		p.Today = w.waters(w.today, p.liters)
	}
	if e := w.judged.Emergency; e != nil {
		p.Emergency = fmt.Sprintf("%s, %s: %s; dose maxima and health limits still apply", e.By, journal.FormatTime(e.On), e.Reason)
	}
	if w.before != nil {
		p.Before, p.beforeState, p.hadBefore = w.before.ID, w.before.Words(), true
	}
	p.Treatment = w.book.Judged(w.proposed, r.now, lint.DoseLimits(j))
	w.doses(p)
	w.values(p)
	w.state(p)
	if d, _, err := j.ReadRecord(journal.File{Kind: journal.KindChange, ID: c.ID, Path: c.Path}); err == nil {
		p.Says = strings.Join(strings.Fields(string(d.Source[d.Body:])), " ")
	}
	r.Change, r.Inputs = p, w.inputs(q.Base)
	r.Answer = []string{p.answer()}
	policy := base.Settings.Policy
	if w.judged.State.Approved() {
		_, reasons, err := w.book.Sheet(w.judged, policy, r.now.In(j.Settings.Zone), c.Volume, lint.DoseLimits(j), plan.Verifying{})
		if err != nil {
			return err
		}
		if p.NoSheet = append(p.NoSheet, reasons...); len(reasons) > 0 {
			r.Answer = slices.Insert(r.Answer, 0, "It may not be dosed today: "+reasons[0]+".")
		}
	}
	r.Policy = journal.Count(policy.Reviewers, "reviewer") + " must sign"
	if policy.Reviewers == 0 {
		r.Policy = "no reviewer is asked for: self-approved"
	}
	if policy.OtherThanAuthor {
		r.Policy += ", other than the author"
	}
	if policy.Proof {
		r.Policy += ", with their own signature"
	}
	if special := specialDemands(base, j, c, r.now); special != "" {
		r.Policy += "; " + special
	}
	r.open = w.judged.Asks()
	r.Expires = w.expires(policy)
	return nil
}

// answer counts the values that meet the target, and names those that do not or are too close to it.
func (p *ChangePart) answer() string {
	var out, close, left []string
	total, listed := 0, map[string]bool{}
	for _, v := range p.Values {
		if listed[v.Analyte] = true; v.Min == nil && v.Max == nil {
			continue
		}
		total++
		switch {
		case v.Value == nil:
			left = append(left, title(v.id))
		case v.conformity.Outside() || v.Margin != nil && *v.Margin < 0:
			out = append(out, title(v.id))
		case v.conformity != judge.Within:
			close = append(close, title(v.id))
		}
	}
	if p.Treatment != nil { // what is no value of the liquor's own: the mash pH, the pH of sparge liquor
		for _, name := range slices.Sorted(maps.Keys(p.Treatment.Chances)) {
			if listed[name] {
				continue
			}
			total++
			if v, words := p.Treatment.Result[name], strings.ReplaceAll(name, "_", " "); v.Inside != nil && !*v.Inside {
				out = append(out, words)
			} else if orNaN(v.Low) < orNaN(v.Min) || orNaN(v.High) > orNaN(v.Max) {
				close = append(close, words)
			}
		}
		for _, n := range p.Treatment.NotJudged {
			if !listed[n.Name] {
				total, left = total+1, append(left, strings.ReplaceAll(n.Name, "_", " "))
			}
		}
	}
	if total == 0 {
		return "The target limits no value that is known here."
	}
	met, verb := total-len(out)-len(close)-len(left), "meet"
	if met == 1 {
		verb = "meets"
	}
	text := fmt.Sprintf("%d of %s %s the target", met, journal.Count(total, "value"), verb)
	if len(out)+len(close)+len(left) == 0 {
		if total == 1 {
			return "The one value asked for meets the target, by 2 standard uncertainties or more."
		}
		return fmt.Sprintf("All %d values meet the target, each by 2 standard uncertainties or more.", total)
	}
	if len(out) > 0 {
		text += "; outside: " + strings.Join(out, ", ")
	}
	if len(close) > 0 {
		text += "; inconclusive: " + strings.Join(close, ", ")
	}
	if len(left) > 0 {
		text += "; NOT judged: " + strings.Join(left, ", ")
	}
	return text + "."
}
