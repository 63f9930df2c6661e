package report

import (
	"fmt"
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

	zone *time.Location
}

// DueTest is what one schedule of a site asks for next.
type DueTest struct {
	Site       string       `json:"site"`
	Owner      string       `json:"owner"`
	Due        Day          `json:"due"`
	Overdue    bool         `json:"overdue"`
	InDays     int          `json:"in_days"` // below 0: so many days ago
	EveryHours Number       `json:"every_hours"`
	Analytes   []DueAnalyte `json:"analytes"` // in the order of the schedule

	test judge.DueTest
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
	d := &Due{Schema: schema.ID("due"), On: Day{today}, Answer: []string{}, Tests: []DueTest{}, zone: j.Settings.Zone}
	overdue := 0
	for _, x := range tests {
		one := DueTest{Site: x.Site.ID, Owner: x.Site.Owner, Due: Day{x.On}, Overdue: x.Overdue(today), InDays: int(x.On.Sub(today).Hours() / 24), EveryHours: Number(x.Every.Hours()), Analytes: []DueAnalyte{}, test: x}
		for _, a := range x.Analytes {
			last := Moment{}
			if !a.Last.IsZero() {
				last = Moment{a.Last.In(j.Settings.Zone)}
			}
			one.Analytes = append(one.Analytes, DueAnalyte{a.ID.String(), Day{a.On}, last})
		}
		if d.Tests = append(d.Tests, one); one.Overdue {
			overdue++
		}
	}
	d.Answer = append(d.Answer, fmt.Sprintf("%s, %d of them overdue.", journal.Count(len(tests), "test"), overdue))
	return d
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
// out, which follow from the day: the tests need the space.
func (d *Due) Table(narrow bool) render.Table {
	t := render.Table{Columns: render.Heads("due", "when", "site", "tests", "every#", "last")}
	for i := range d.Tests {
		x := &d.Tests[i]
		when, state := fmt.Sprintf("in %s", journal.Count(x.InDays, "day")), render.Plain
		switch {
		case x.Overdue:
			when, state = "overdue "+journal.Count(-x.InDays, "day"), render.Bold
		case x.InDays == 0:
			when = "today"
		}
		by, last := d.On.Time, "never"
		if x.Due.After(by) {
			by = x.Due.Time
		}
		if at := x.test.Last(); !at.IsZero() {
			last = DayText(at.In(d.zone))
		}
		every := x.test.Every.String()
		if h := int(x.test.Every.Hours()); h%24 == 0 {
			every = fmt.Sprintf("%d d", h/24)
		}
		t.Rows = append(t.Rows, []render.Cell{{Text: DayText(x.Due.Time)}, {Text: when, State: state}, {Text: x.Site}, {Text: names(x.test.By(by))}, {Text: every}, {Text: last}})
	}
	if narrow && len(t.Rows) > 0 {
		t.Columns = t.Columns[:4]
		t.Columns[3].Min = 24
		for i := range t.Rows {
			t.Rows[i] = t.Rows[i][:4]
		}
	}
	return t
}
