package report

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"wj/docs/schema"
	"wj/journal"
	"wj/journal/judge"
	"wj/render"
)

// Due is the next test of schedules, the earliest first.
type Due struct {
	Schema string    `json:"schema"`
	On     Day       `json:"on"` // the day that was asked for
	Answer []string  `json:"answer"`
	Tests  []DueTest `json:"tests"`
}

// DueTest is what one schedule of a site asks for next.
type DueTest struct {
	Journal    string       `json:"journal,omitempty"` // of several
	Site       string       `json:"site"`
	Owner      string       `json:"owner"`
	Due        Day          `json:"due"`
	Overdue    bool         `json:"overdue"`
	InDays     int          `json:"in_days"` // below 0: so many days ago
	EveryHours Number       `json:"every_hours"`
	Analytes   []DueAnalyte `json:"analytes"` // in the order of the schedule

	test  judge.DueTest
	today time.Time // in the journal's zone
}

// DueAnalyte is when one analyte is to be tested next; last is null where it never was.
type DueAnalyte struct {
	Analyte string `json:"analyte"`
	Due     Day    `json:"due"`
	Last    Moment `json:"last"`
}

// NewDue draws up tests that judge.Due lists.
func NewDue(j *journal.Journal, tests []judge.DueTest, now time.Time) *Due {
	now = now.In(j.Settings.Zone)
	today := journal.Day(now)
	d := &Due{Schema: schema.ID("due"), On: Day{today}, Answer: []string{}, Tests: []DueTest{}}
	for _, x := range tests {
		one := DueTest{Site: x.Site.ID, Owner: x.Site.Owner, Due: Day{x.On}, Overdue: x.Overdue(today), InDays: int(x.On.Sub(today).Hours() / 24), EveryHours: Number(x.Every.Hours()), Analytes: []DueAnalyte{}, test: x, today: now}
		for _, a := range x.Analytes {
			last := Moment{}
			if !a.Last.IsZero() {
				last = Moment{a.Last.In(j.Settings.Zone)}
			}
			one.Analytes = append(one.Analytes, DueAnalyte{a.ID.String(), Day{a.On}, last})
		}
		d.Tests = append(d.Tests, one)
	}
	return d.answer()
}

func (d *Due) answer() *Due {
	overdue := "none"
	if n := d.Overdue(); n > 0 {
		overdue = fmt.Sprintf("%d of them", n)
	}
	d.Answer = []string{fmt.Sprintf("%s, %s overdue.", journal.Count(len(d.Tests), "scheduled test"), overdue)}
	return d
}

// UniteDues is the tests of several journals as one list, the earliest first; each
// was judged by its own journal and its own day.
func UniteDues(journals []string, list []*Due) *Due {
	d := &Due{Schema: list[0].Schema, On: list[0].On, Tests: []DueTest{}}
	for i, one := range list {
		for _, t := range one.Tests {
			t.Journal = journals[i]
			d.Tests = append(d.Tests, t)
		}
	}
	slices.SortStableFunc(d.Tests, func(a, b DueTest) int { return a.Due.Compare(b.Due.Time) })
	return d.answer()
}

// Overdue is how many of the tests are.
func (d *Due) Overdue() (n int) {
	for i := range d.Tests {
		if d.Tests[i].Overdue {
			n++
		}
	}
	return n
}

// Table lists the tests. The narrow one leaves the interval and the last sample
// out, which follow from the day: the tests need the space. The other is for
// programs too, with numbers for times.
func (d *Due) Table(narrow bool) render.Table {
	t := render.Table{Columns: render.Heads("due", "in_days#", "site", "tests", "every_hours#", "last")}
	if narrow {
		t.Columns = render.Heads("due", "when", "site", "tests")
		t.Columns[3].Min = 24
	}
	for i := range d.Tests {
		x := &d.Tests[i]
		when, state := fmt.Sprintf("in %s", journal.Count(x.InDays, "day")), render.Plain
		switch {
		case x.Overdue:
			when, state = "overdue "+journal.Count(-x.InDays, "day"), render.Bold
		case x.InDays == 0:
			when = "today"
		}
		by, last := d.On.Time, ""
		if x.Due.After(by) {
			by = x.Due.Time
		}
		if at := x.test.Last(); !at.IsZero() {
			last = DayText(at.In(x.today.Location()))
		}
		row := []render.Cell{{Text: DayText(x.Due.Time)}, {Text: when, State: state}, {Text: x.Site}, {Text: strings.ReplaceAll(names(x.test.By(by)), "_", " ")}}
		if !narrow {
			row[3].Text = names(x.test.By(by))
			row[1] = render.Cell{Text: strconv.Itoa(x.InDays)}
			row = append(row, render.Cell{Text: strconv.FormatFloat(float64(x.EveryHours), 'g', 6, 64)}, render.Cell{Text: last})
		}
		t.Rows = append(t.Rows, row)
	}
	return withJournals(t, func(i int) string { return d.Tests[i].Journal })
}
