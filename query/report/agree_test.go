package report

import (
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/journaltest"
	"wj/journal/judge"
	"wj/journal/plan"
	"wj/lint"
	"wj/query"
	"wj/query/profile"
	"wj/water"
)

// TestOneDecisionEverywhere holds every answer to the others over generated
// journals; WJ_JOURNALS=1000 takes more of them, WJ_JOURNAL=N one alone.
func TestOneDecisionEverywhere(t *testing.T) {
	seen = 0
	first, n := 1, 6
	if more, err := strconv.Atoi(os.Getenv("WJ_JOURNALS")); err == nil {
		n = more
	}
	if one, err := strconv.Atoi(os.Getenv("WJ_JOURNAL")); err == nil {
		first, n = one, 1
	}
	for seed := first; seed < first+n; seed++ {
		t.Run(strconv.Itoa(seed), func(t *testing.T) {
			files, now := journaltest.Generate(t, rand.New(rand.NewPCG(uint64(seed), 11)))
			j := journaltest.Load(t, files)
			for _, p := range j.Problems {
				t.Errorf("%s:%d: %s", p.Path, p.Line, p.Message)
			}
			agree(t, j, now)
			approvals(t, j, now)
			values(t, j, now)
		})
	}
	if seen == 0 && n > 1 {
		t.Error("nothing has left its limits: the journals are too tame")
	}
}

// approvals holds review, sheet, summary and linter to the state of each change.
func approvals(t *testing.T, j *journal.Journal, now time.Time) {
	book := plan.Open(j)
	changes := judge.NewChanges(j, evidence.Facts{Now: now, Moved: book.MovedWords})
	asked := map[string]bool{}
	for _, x := range judge.ToDos(j, changes) {
		asked[x.Subject] = asked[x.Subject] || x.Topic == judge.Reviews
	}
	misses := map[string]bool{}
	for _, d := range lint.Run(j, lint.Options{Now: now, Only: []string{"change/verification-miss"}}).Diagnostics {
		misses[d.Path] = true
	}
	for _, c := range j.Changes.List {
		r := changes.Change(c)
		f := journal.File{Kind: journal.KindChange, ID: c.ID, Path: c.Path}
		if v, err := NewReview(j, f, ReviewRequest{Now: now, Changes: changes}); err != nil {
			t.Error(err)
		} else if v.State != r.State.String() || v.open != r.Asks() {
			t.Errorf("%s is %s; the review says %s, and asks for a signature: %t", c.ID, r.State, v.State, v.open)
		}
		if (r.State == judge.Proposed || r.State == judge.Emergency) && !asked[c.ID] {
			t.Errorf("%s is %s, and status does not list it", c.ID, r.State)
		}
		_, reasons, err := book.Sheet(r, j.Settings.Policy, now, water.Quantity{Value: 1500, Unit: water.Litre}, lint.DoseLimits(j), plan.Verifying{})
		refuses := slices.ContainsFunc(reasons, func(s string) bool { return strings.HasPrefix(s, "the change is ") })
		may := r.State.Approved() || r.State == judge.Emergency && !r.Review.Overdue
		if err != nil || refuses == may {
			t.Errorf("%s is %s, and the sheet refuses: %t (%v) %v", c.ID, r.State, refuses, reasons, err)
		}
		if r.Checked != nil && r.Checked.Ignore["change/verification-miss"] == "" && misses[r.Checked.Path] != (r.State == judge.Missed) {
			t.Errorf("%s is %s; its verification is a miss for the linter: %t", c.ID, r.State, misses[r.Checked.Path])
		}
		for _, o := range j.Owners.List {
			s, err := NewSummary(j, o, SummaryRequest{From: now.AddDate(-3, 0, 0), To: now.AddDate(1, 0, 0), Now: now, Changes: changes})
			if err != nil {
				continue // none of their water was tested
			}
			for _, d := range s.Decided {
				if d.On.Equal(c.Proposed) && !strings.Contains(d.Text, ": "+r.State.String()) {
					t.Errorf("%s is %s; the summary says %s", c.ID, r.State, d.Text)
				}
			}
		}
	}
}

// values holds every page that shows a value to one verdict on it, and to one
// series of the site's water.
func values(t *testing.T, j *journal.Journal, now time.Time) {
	known := judge.NewLimits(j)
	verdicts := map[[2]string]judge.Conformity{} // of session and analyte
	var a water.Analysis
	for i, s := range j.Sessions.List {
		j.Analysis(s, &a)
		for _, x := range known.Session(s, &a) {
			key := [2]string{s.ID, x.Value.ID.String()}
			verdicts[key] = max(verdicts[key], x.Conformity)
		}
		if i%17 > 0 { // each page lints
			continue
		}
		shown, err := NewRecord(j, journal.File{Kind: journal.KindSession, ID: s.ID, Path: s.Path}, RecordRequest{Now: now})
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range shown.results {
			if want := verdicts[[2]string{s.ID, r.Analyte}]; r.overall != want {
				t.Errorf("%s of %s is %s, and show says %s", r.Analyte, s.ID, want, r.overall)
			}
		}
	}
	checks := judge.NewChecks(j)
	var failed []string
	for _, list := range checks {
		for _, c := range list {
			if !c.Passed {
				failed = append(failed, c.Session.Path)
			}
		}
	}
	for _, s := range j.Sessions.List {
		if len(judge.Blanks(j, s)) > 0 {
			failed = append(failed, s.Path)
		}
	}
	slices.Sort(failed)
	var told []string
	for _, d := range lint.Run(j, lint.Options{Now: now, Only: []string{"instrument/check-failed"}}).Diagnostics {
		told = append(told, d.Path)
	}
	slices.Sort(told)
	if failed = slices.Compact(failed); !slices.Equal(failed, slices.Compact(told)) {
		t.Errorf("failed checks: %v; by the linter: %v", failed, told)
	}

	lost := map[string]string{} // the limits that a session has left, by session and analyte
	for _, d := range lint.Run(j, lint.Options{Now: now, Only: []string{"site/control", "site/trend"}}).Diagnostics {
		f, _ := journal.FileOf(d.Path)
		if found := controlWords.FindStringSubmatch(d.Message); found != nil {
			lost[f.ID+" "+found[1]] = found[2]
		} else if value, _, ok := strings.Cut(d.Message, " at "); ok && d.Rule == "site/trend" {
			lost[f.ID+" "+value] = "trend"
		}
	}
	newest := map[[2]string]judge.Conformity{} // of site and analyte
	for _, site := range j.Sites.List {
		for _, value := range []string{"sulfate", "chloride", "pH", "nitrate"} {
			s, err := query.History(j, site.ID, value, query.SeriesRequest{})
			if err != nil {
				t.Fatal(err)
			}
			if len(s.Points) == 0 {
				continue
			}
			c, err := NewChart(j, ChartRequest{Values: []string{value}, Sites: []string{site.ID}})
			if err != nil {
				t.Fatal(err)
			}
			if len(c.Control.Points) != len(s.Points) {
				t.Errorf("%s of %s: %d points in the chart, %d in the series", value, site.ID, len(c.Control.Points), len(s.Points))
			}
			for _, p := range c.Control.Points {
				if want := verdicts[[2]string{p.Session, value}]; p.conformity != want {
					t.Errorf("%s of %s is %s, and the chart says %s", value, p.Session, want, p.conformity)
				}
				if !p.Sampled.After(now) {
					newest[[2]string{site.ID, value}] = p.conformity
				}
			}
			st, err := NewStats(j, site, s, profile.Options{}, now)
			if err != nil {
				t.Fatal(err)
			}
			if st.Known.N != len(s.Points) {
				t.Errorf("%s of %s: %d in the statistics, %d in the series", value, site.ID, st.Known.N, len(s.Points))
			}
			for _, x := range st.Standards {
				if n := len(checks[judge.Test{Meter: x.Instrument, Analyte: s.Analyte}]); x.N != n {
					t.Errorf("%s by %s: %d check standards in the statistics of %s, %d judged", value, x.Instrument, x.N, site.ID, n)
				}
			}
			controls(t, c.Control, st, lost)
		}
	}
	for _, o := range j.Owners.List {
		s, err := NewSummary(j, o, SummaryRequest{From: now.AddDate(-9, 0, 0), To: now, Now: now, Changes: judge.NewChanges(j, evidence.Facts{Now: now})})
		if err != nil {
			continue // none of their water was tested
		}
		worst := judge.Unlimited
		for _, site := range s.Sites {
			record, _ := j.Sites.Get(site.ID)
			shown, err := NewRecord(j, journal.File{Kind: journal.KindSite, ID: site.ID, Path: record.Path}, RecordRequest{Now: now})
			if err != nil {
				t.Fatal(err)
			}
			for _, r := range site.Results {
				worst = max(worst, r.overall)
				if want, ok := newest[[2]string{site.ID, r.Analyte}]; ok && r.overall != want {
					t.Errorf("the newest %s of %s is %s, and the summary says %s", r.Analyte, site.ID, want, r.overall)
				}
			}
			for _, r := range shown.SitePart.Results {
				if want, ok := newest[[2]string{site.ID, r.Analyte}]; ok && r.overall != want {
					t.Errorf("the newest %s of %s is %s, and show says %s", r.Analyte, site.ID, want, r.overall)
				}
			}
			due := slices.IndexFunc(judge.Due(j, now), func(d judge.DueTest) bool { return d.Site.ID == site.ID })
			if (shown.Next != nil) != (due >= 0) || due >= 0 && !shown.Next.On.Equal(judge.Due(j, now)[due].On) {
				t.Errorf("the next test of %s: %v, %d", site.ID, shown.Next, due)
			}
		}
		if s.Verdict != worst.String() {
			t.Errorf("the summary of %s says %s where its worst is %s", o.ID, s.Verdict, worst)
		}
	}
}

var controlWords = regexp.MustCompile(`, (\S+) at \S+ has left its control limits (.*?):`)

// controls holds chart and statistics to the limits and the trends of the linter.
func controls(t *testing.T, c *ControlChart, s *Stats, lost map[string]string) {
	baselines := map[string]*Baseline{}
	for _, x := range s.Control {
		if x.Baseline != nil {
			baselines[x.Regime] = x.Baseline
		}
	}
	if c.Trend == nil && len(c.Expected) != len(baselines) {
		t.Errorf("%s at %s: %d bands in the chart, %d in the statistics", c.Value, c.Site, len(c.Expected), len(baselines))
	}
	for _, e := range c.Expected {
		b := baselines[e.Regime]
		if b == nil || *b.Lower != *e.Lower || *b.Upper != *e.Upper || b.N != e.N {
			t.Errorf("%s at %s: the band of the chart is %v, of the statistics %v", c.Value, c.Site, e, b)
		}
	}
	id, _ := water.Lookup(c.Value)
	rings := map[string]bool{}
	for _, p := range c.Points {
		if rings[p.Session+" "+c.Value] = p.Outside; lost[p.Session+" "+c.Value] == "" {
			continue
		}
		seen++
		switch limits := lost[p.Session+" "+c.Value]; {
		case !p.Outside:
			t.Errorf("%s of %s has no ring", c.Value, p.Session)
		case limits == "trend":
			if x := s.p.Usual; c.Trend == nil && len(x.Groups) < 2 {
				t.Errorf("%s at %s drifts, and the chart shows none", c.Value, c.Site)
			}
		default:
			b := baselines[p.Regime]
			if b == nil || limits != water.Round(float64(*b.Lower), 3)+" to "+strings.TrimSpace(strconv.FormatFloat(float64(*b.Upper), 'g', 3, 64)+" "+id.Info().Unit.String()) {
				t.Errorf("%s of %s: the linter says %s, the statistics %+v", c.Value, p.Session, limits, b)
			}
		}
	}
}

// seen counts findings about limits and trends.
var seen int

// TestOneDecision holds linter, to-dos, query and statistics to what journal/judge
// decides, over the example journal as it is and with people, sites and sessions
// changed so that the copies of those decisions used to differ.
func TestOneDecision(t *testing.T) {
	for name, edits := range map[string][3]string{
		"as it is":             {},
		"reviewer taken away":  {"people/jonas.md", "role: reviewer", "role: quality"},
		"a limit of tomorrow":  {"sites/north-well.md", "since: 2023-10-01}", "since: 2030-01-01}"},
		"a limit without why":  {"sites/north-well.md", `source: "own decision, signed 2025-10-22", `, ""},
		"another stage":        {"sites/north-well.md", "stage: intake", "stage: hot-liquor"},
		"a schedule that ends": {"sites/town-main.md", "every: 15 d", "every: 3 d"},
	} {
		t.Run(name, func(t *testing.T) {
			m := fstest.MapFS{}
			err := fs.WalkDir(os.DirFS("../../example-journal"), ".", func(p string, d fs.DirEntry, err error) error {
				if err != nil || d.IsDir() {
					return err
				}
				content, err := os.ReadFile("../../example-journal/" + p)
				m[p] = &fstest.MapFile{Data: content}
				return err
			})
			if err != nil {
				t.Fatal(err)
			}
			if edits[0] != "" {
				before := string(m[edits[0]].Data)
				if !strings.Contains(before, edits[1]) {
					t.Fatalf("%s has no %q", edits[0], edits[1])
				}
				m[edits[0]] = &fstest.MapFile{Data: []byte(strings.ReplaceAll(before, edits[1], edits[2]))}
			}
			j, err := journal.Load(m, journal.Options{Check: true, Sessions: true})
			if err != nil {
				t.Fatal(err)
			}
			for _, day := range []string{"2024-11-20", "2026-10-09"} {
				now, _ := time.Parse("2006-01-02T15:04", day+"T12:00")
				agree(t, j, now)
			}
		})
	}
}

func agree(t *testing.T, j *journal.Journal, now time.Time) {
	t.Helper()
	findings := lint.Run(j, lint.Options{Now: now, Only: []string{"limit/health", "limit/aesthetic", "limit/site", "limit/brewing", "site/overdue", "change/unsigned-use", "change/lapsed"}}).Diagnostics
	at := func(rules ...string) []string {
		var out []string
		for _, d := range findings {
			if slices.Contains(rules, d.Rule) {
				out = append(out, d.Path)
			}
		}
		slices.Sort(out)
		return out
	}
	same := func(what string, a, b []string) {
		slices.Sort(a)
		slices.Sort(b)
		if !slices.Equal(slices.Compact(a), slices.Compact(b)) {
			t.Errorf("%s on %s:\n%v\n%v", what, now.Format("2006-01-02"), a, b)
		}
	}

	// What is over a limit.
	known := judge.NewLimits(j)
	var outside []string
	var a water.Analysis
	for _, s := range j.Sessions.List {
		j.Analysis(s, &a)
		for _, x := range known.Session(s, &a) {
			rule := map[bool]string{true: "limit/site", false: "limit/aesthetic"}[x.Limit.Own != nil]
			if _, silenced := s.Ignore[rule]; x.Conformity.Outside() && !silenced {
				outside = append(outside, s.Path)
			}
		}
	}
	same("over a limit", at("limit/health", "limit/aesthetic", "limit/site", "limit/brewing"), outside)

	// What is overdue.
	today := journal.Day(now.In(j.Settings.Zone))
	changes := judge.NewChanges(j, evidence.Facts{Now: now, Moved: plan.Open(j).MovedWords})
	var overdue, todo []string
	for _, d := range judge.Due(j, now) {
		if d.Overdue(today) {
			overdue = append(overdue, d.Site.Path)
		}
	}
	for _, x := range judge.ToDos(j, changes) {
		if site, ok := j.Sites.Get(x.Subject); ok && x.Topic == judge.Tests && x.Urgent {
			todo = append(todo, site.Path)
		}
	}
	same("overdue by the linter", at("site/overdue"), slices.Clone(overdue))
	same("overdue by status", todo, overdue)

	// What was brewed without an approval.
	var unapproved []string
	for _, c := range j.Changes.List {
		r := changes.Change(c)
		for _, b := range r.Unapproved {
			if b.Ignore["change/unsigned-use"] == "" && b.Ignore["change/lapsed"] == "" {
				unapproved = append(unapproved, b.Path)
			}
		}
		if r.State.Approved() && len(r.Approved) < r.Needed {
			t.Errorf("%s is %s with %d of %d", c.ID, r.State, len(r.Approved), r.Needed)
		}
	}
	brewed := slices.DeleteFunc(at("change/unsigned-use", "change/lapsed"), func(p string) bool {
		f, _ := journal.FileOf(p)
		b, ok := j.Batches.Get(f.ID)
		if !ok {
			return true // of the change itself
		}
		c, _ := j.Changes.Get(b.Change)
		return c != nil && c.Emergency != nil
	})
	same("brewed without an approval", brewed, unapproved)

	// Whose water a value is.
	result, err := query.Run(j, query.Request{Now: now})
	if err != nil {
		t.Fatal(err)
	}
	counts, err := query.Reduce(result, []string{"site"}, []string{"count(sulfate)"})
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range counts.Rows {
		if row.Cells[0].Missing {
			continue
		}
		s, err := query.History(j, row.Cells[0].Text, "sulfate", query.SeriesRequest{})
		if err != nil {
			t.Fatal(err)
		}
		if got := fmt.Sprint(len(s.Points)); got != row.Cells[1].Text {
			t.Errorf("%s: query counts %s values of sulfate, the series has %s", row.Cells[0].Text, row.Cells[1].Text, got)
		}
	}
}
