package judge

import (
	"slices"
	"time"

	"wj/journal"
	"wj/water"
)

// DueTest is what one schedule of a site asks for next.
type DueTest struct {
	Site     *journal.Site
	Plan     int // index into Site.Schedule
	Every    time.Duration
	Analytes []DueAnalyte // in the order of the schedule
	On       time.Time    // the earliest of the analytes' days, as midnight UTC
}

// DueAnalyte is when one analyte of a schedule is to be tested next.
type DueAnalyte struct {
	ID   water.ID
	Last time.Time // its newest sample; zero if it was never tested
	On   time.Time // the day, as midnight UTC
}

// By lists the analytes that are due on a day or were before it.
func (d *DueTest) By(day time.Time) []water.ID {
	var out []water.ID
	for _, a := range d.Analytes {
		if !a.On.After(day) {
			out = append(out, a.ID)
		}
	}
	return out
}

// Names lists all analytes of the schedule.
func (d *DueTest) Names() []water.ID {
	out := make([]water.ID, len(d.Analytes))
	for i, a := range d.Analytes {
		out[i] = a.ID
	}
	return out
}

// Last is the older of the analytes' newest samples; zero if one was never
// tested.
func (d *DueTest) Last() time.Time {
	var out time.Time
	for i, a := range d.Analytes {
		if i == 0 || a.Last.Before(out) {
			out = a.Last
		}
	}
	return out
}

// Overdue reports whether a day, in the journal's zone, is past the day on which
// the test was due.
func (d *DueTest) Overdue(day time.Time) bool { return day.After(d.On) }

// Due lists the next test of every schedule that is in force on the day of now,
// the earliest first. A value that follows from the readings of a sample counts
// as tested ([water.Set.Given]).
//
// A test falls due one interval after it was last run at that site: on a sample
// of the site's water that was taken by then ([SiteWater]: routine,
// verification or duplicate, of any source). A schedule asks for nothing before
// it holds itself: what was never tested, or last before it held, is due on its
// first day, else on the site's; where neither is known, today.
func Due(j *journal.Journal, now time.Time) []DueTest {
	last := map[string]map[water.ID]time.Time{}
	for _, s := range j.Sessions.List {
		if !SiteWater(s) || s.Sampled.After(now) {
			continue
		}
		if last[s.Site] == nil {
			last[s.Site] = map[water.ID]time.Time{}
		}
		read := s.Analytes()
		for i := range s.Readings {
			if s.Readings[i].Faulty {
				read.Remove(s.Readings[i].Analyte)
			}
		}
		for id := range read.Given().All() {
			if s.Sampled.After(last[s.Site][id]) {
				last[s.Site][id] = s.Sampled
			}
		}
	}
	today := dayOf(j, now)
	var out []DueTest
	for _, site := range j.Sites.List {
		if site.Void != nil || !site.Covers(today) {
			continue
		}
		for n, plan := range site.Schedule {
			if !plan.Covers(today) || len(plan.Analytes) == 0 || plan.Every <= 0 {
				continue
			}
			d := DueTest{Site: site, Plan: n, Every: plan.Every}
			first := plan.Since
			if site.Since.After(first) {
				first = site.Since
			}
			for i, id := range plan.Analytes {
				a := DueAnalyte{ID: id, Last: last[site.ID][id], On: first}
				switch {
				case !a.Last.IsZero():
					if on := after(a.Last.In(zoneOf(j)), plan.Every); on.After(first) {
						a.On = on
					}
				case first.IsZero():
					a.On = today
				}
				if d.Analytes = append(d.Analytes, a); i == 0 || a.On.Before(d.On) {
					d.On = a.On
				}
			}
			out = append(out, d)
		}
	}
	slices.SortStableFunc(out, func(a, b DueTest) int { return a.On.Compare(b.On) })
	return out
}

// after is the day that comes an interval after a moment; whole days are counted
// by the calendar, so that a change of the clocks moves nothing.
func after(t time.Time, every time.Duration) time.Time {
	const day = 24 * time.Hour
	if every%day == 0 {
		return journal.Day(t).AddDate(0, 0, int(every/day))
	}
	return journal.Day(t.Add(every))
}
