package lint

import (
	"slices"
	"time"

	"wj/journal"
)

var formatDSTTime = &Rule{
	Name: "format/dst-time", Severity: Warning, Scope: Session, Reach: OfJournal, Check: checkDSTTime,
	Title: "a time carries an offset that the journal's zone did not have that day, one hour off",
}

// checkDSTTime finds the offset of the wrong half of the year: one hour beside
// that of the journal's zone at that instant. Other offsets are travellers'.
func checkDSTTime(p *Pass) {
	if z := &p.Journal.Settings; z.Timezone == "" || z.Zone == nil || z.Zone.String() != z.Timezone {
		return // a zone that nobody knows is reported in wj.yaml
	}
	s := p.Session
	if p.hourOff(s.Sampled) {
		p.dst(s.Path, s.Sampled, "sampled")
	}
	if p.hourOff(s.Tested) {
		p.dst(s.Path, s.Tested, "tested")
	}
	for i := range s.Readings {
		if r := &s.Readings[i]; p.hourOff(r.Tested) {
			p.dst(s.Path, r.Tested, "readings", r.Analyte.String(), "tested")
		}
	}
}

// hourOff reports an offset that is one hour beside the zone's.
func (p *Pass) hourOff(t time.Time) bool {
	if t.IsZero() || t.Location() == time.UTC {
		return false
	}
	_, written := t.Zone()
	_, offset := t.In(p.zone()).Zone()
	return written-offset == 3600 || written-offset == -3600
}

func (p *Pass) dst(path string, t time.Time, keys ...string) {
	// The clock's own reading, taken in the zone, where that clock reading exists.
	local := time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), 0, 0, p.zone())
	f := p.Report(path, keys, "%s has the offset %s, but the clock in %s stood at %s then", journal.FormatTime(t), t.Format("-07:00"), p.Journal.Settings.Timezone, t.In(p.zone()).Format("-07:00"))
	if local.Hour() != t.Hour() {
		f.Help("the clock skipped %s that night: write the time that it showed after the change", t.Format("15:04"))
		return
	}
	f.Help("if the wall clock showed %s, write %s", t.Format("15:04"), journal.FormatTime(local))
}

// manyOff is from how many records on an hour beside the zone is the zone's fault.
const manyOff = 10

// gatherZone makes one finding of the offsets that a wrong timezone in the settings
// puts in doubt: where most records are an hour beside it, the zone is.
func (r *run) gatherZone() {
	a, ok := r.active[formatDSTTime.Name]
	if !ok {
		return
	}
	off := map[string]bool{}
	for _, f := range r.found {
		if f.d.Rule == formatDSTTime.Name {
			off[f.d.Path] = true
		}
	}
	if len(off) < manyOff || 3*len(off) < len(r.j.Sessions.List) {
		return
	}
	r.found = slices.DeleteFunc(r.found, func(f *Finding) bool { return f.d.Rule == formatDSTTime.Name })
	p := &Pass{Journal: r.j, Now: r.opt.Now, run: r, rule: a, found: &r.found}
	p.Report(journal.SettingsFile, []string{"timezone"}, "%d records have times an hour beside %s", len(off), r.j.Settings.Timezone).
		Help("is this the brewery's zone? Correct it here; if it is right, the offsets in the records are wrong")
}
