package report

import (
	"fmt"
	"time"

	"wj/docs/schema"
	"wj/journal"
	"wj/journal/judge"
	"wj/water"
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
	Site       string       `json:"site"`
	Owner      string       `json:"owner"`
	Due        Day          `json:"due"`
	Overdue    bool         `json:"overdue"`
	InDays     int          `json:"in_days"` // below 0: so many days ago
	EveryHours Number       `json:"every_hours"`
	Analytes   []DueAnalyte `json:"analytes"` // in the order of the schedule
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
	overdue := 0
	for _, x := range tests {
		one := DueTest{Site: x.Site.ID, Owner: x.Site.Owner, Due: Day{x.On}, Overdue: x.Overdue(today), InDays: int(x.On.Sub(today).Hours() / 24), EveryHours: Number(x.Every.Hours()), Analytes: []DueAnalyte{}}
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
	d.Answer = append(d.Answer, fmt.Sprintf("%s, %d of them overdue.", Count(len(tests), "test"), overdue))
	return d
}

// Stock is what is left of lots, and how long it lasts.
type Stock struct {
	Schema string       `json:"schema"`
	On     Day          `json:"on"`   // the day that was asked for
	Days   int          `json:"days"` // whose use is the rate of use
	Groups []StockGroup `json:"groups"`
}

// StockGroup is lots that stand in for each other, in the order in which they will be used.
type StockGroup struct {
	For     string     `json:"for"`
	RunsOut Day        `json:"runs_out"` // null: not known, or nothing is used
	Lots    []StockLot `json:"lots"`
}

// StockLot is one lot. Amounts are tests, or in the lot's own unit.
type StockLot struct {
	Lot     string  `json:"lot"`
	State   string  `json:"state"` // in stock, used up, expired, finished, recalled
	Since   Day     `json:"since"` // of what ended it
	Unit    string  `json:"unit"`  // tests, or the lot's own
	Left    *Number `json:"left"`  // null: not known; below 0 where more was taken than there was
	Of      *Number `json:"of"`
	PerDay  *Number `json:"per_day"` // of all lots that stand in for it
	Opened  Day     `json:"opened"`
	Expires Day     `json:"expires"`
	Until   Day     `json:"lasts_until"`
	Short   bool    `json:"expires_first"` // its last day comes before it is used up
}

// NewStock draws up what judge.Stock counts; all takes lots too that are no longer in stock.
func NewStock(j *journal.Journal, groups []*judge.Group, now time.Time, days int, all bool) *Stock {
	s := &Stock{Schema: schema.ID("stock"), On: Day{journal.Day(now.In(j.Settings.Zone))}, Days: days, Groups: []StockGroup{}}
	for _, g := range groups {
		one := StockGroup{For: g.Name, Lots: []StockLot{}}
		if end, known := g.RunsOut(); known {
			one.RunsOut = Day{end}
		}
		for _, h := range g.Lots {
			if h.Gone != judge.InStock && !all {
				continue
			}
			lot := StockLot{Lot: h.Lot.ID, State: h.Gone.String(), Since: Day{h.GoneOn}, Unit: unitOfLot(h.Unit), Opened: Day{h.Lot.Opened}, Expires: Day{h.Lot.Expires}, Short: h.Short}
			if h.Known {
				lot.Left, lot.Of = number(h.Left), number(h.Of)
			}
			if h.Gone == judge.InStock {
				lot.Until = Day{h.Until}
				if h.PerDay > 0 {
					lot.PerDay = number(h.PerDay)
				}
			}
			one.Lots = append(one.Lots, lot)
		}
		if len(one.Lots) > 0 {
			s.Groups = append(s.Groups, one)
		}
	}
	return s
}

func unitOfLot(u water.Unit) string {
	if u.IsNone() {
		return "tests"
	}
	return u.String()
}
