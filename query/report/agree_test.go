package report

import (
	"fmt"
	"io/fs"
	"os"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/judge"
	"wj/journal/plan"
	"wj/lint"
	"wj/query"
	"wj/water"
)

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
