package lint

import (
	"time"

	"wj/journal"
)

var formatDSTTime = &Rule{
	Name: "format/dst-time", Severity: Warning, Scope: Session, Check: checkDSTTime,
	Title: "a time carries an offset that the journal's zone did not have that day, one hour off",
}

// checkDSTTime finds the offset of the wrong half of the year: one hour beside
// that of the journal's zone at that instant. Other offsets are travellers'.
func checkDSTTime(p *Pass) {
	if p.Journal.Settings.Timezone == "" {
		return
	}
	s := p.Session
	p.dst(s.Path, s.Sampled, "sampled")
	p.dst(s.Path, s.Tested, "tested")
	for i := range s.Readings {
		p.dst(s.Path, s.Readings[i].Tested, "readings", s.Readings[i].Analyte.String(), "tested")
	}
}

func (p *Pass) dst(path string, t time.Time, keys ...string) {
	if t.IsZero() || t.Location() == time.UTC {
		return
	}
	_, written := t.Zone()
	_, offset := t.In(p.zone()).Zone()
	if d := written - offset; d != 3600 && d != -3600 {
		return
	}
	// The clock's own reading, taken in the zone, where that clock reading exists.
	local := time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), 0, 0, p.zone())
	f := p.Report(path, keys, "%s has the offset %s, but the clock in %s stood at %s then", journal.FormatTime(t), t.Format("-07:00"), p.Journal.Settings.Timezone, t.In(p.zone()).Format("-07:00"))
	if local.Hour() != t.Hour() {
		f.Help("the clock skipped %s that night: write the time that it showed after the change", t.Format("15:04"))
		return
	}
	f.Help("if the wall clock showed %s, write %s", t.Format("15:04"), journal.FormatTime(local))
}
