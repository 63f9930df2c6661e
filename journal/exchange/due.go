package exchange

import (
	"sort"
	"time"

	"wj/journal"
	"wj/water"
)

// Due is one planned test: what a site's schedule asks for and when.
type Due struct {
	Site     *journal.Site
	Analytes []water.ID
	Every    time.Duration
	Last     time.Time // the older of the analytes' newest samples; zero if one was never tested
	On       time.Time // the day, as midnight UTC
}

// DueTests lists the next test of every schedule that is in force on the day of
// now, earliest first. A test is done for an analyte when a sample of the water
// itself was taken (a check standard is none). What was never tested is due on the
// day from which the schedule holds, or today where it names none.
func DueTests(j *journal.Journal, sessions []*journal.Session, now time.Time) []Due {
	last := map[string]map[water.ID]time.Time{}
	for _, s := range sessions {
		if s.Void != nil || s.Sample == "check-standard" || s.Sample == "blank" {
			continue
		}
		if last[s.Site] == nil {
			last[s.Site] = map[water.ID]time.Time{}
		}
		for i := range s.Readings {
			if r := &s.Readings[i]; !r.Faulty && s.Sampled.After(last[s.Site][r.Analyte]) {
				last[s.Site][r.Analyte] = s.Sampled
			}
		}
	}
	var out []Due
	for _, site := range j.Sites.List {
		if site.Void != nil || !site.Covers(now) {
			continue
		}
		for _, plan := range site.Schedule {
			if !plan.Covers(now) || len(plan.Analytes) == 0 || plan.Every <= 0 {
				continue
			}
			d := Due{Site: site, Analytes: plan.Analytes, Every: plan.Every}
			for i, id := range plan.Analytes {
				if t := last[site.ID][id]; i == 0 || t.Before(d.Last) {
					d.Last = t
				}
			}
			switch {
			case !d.Last.IsZero():
				d.On = journal.Day(d.Last.In(j.Settings.Zone).Add(plan.Every))
			case !plan.Since.IsZero():
				d.On = plan.Since
			default:
				d.On = journal.Day(now.In(j.Settings.Zone))
			}
			out = append(out, d)
		}
	}
	sort.SliceStable(out, func(a, b int) bool { return out[a].On.Before(out[b].On) })
	return out
}
