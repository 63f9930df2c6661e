package lint

import (
	"fmt"
	"strconv"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/lint/cause"
	"wj/query"
	"wj/water"
)

// Pass is what a rule's Check gets: the journal, the part of it that the
// rule's scope gives, the rule's settings, and the way to report.
type Pass struct {
	Journal *journal.Journal
	Now     time.Time
	Git     GitHistory       // nil without a repository; never nil where the rule NeedsHistory
	Session *journal.Session // Scope Session
	Site    *SiteHistory     // Scope History

	run   *run
	rule  *active
	found *[]*Finding
	cache *sessionCache
}

// sessionCache holds what several rules want to know of one session.
type sessionCache struct {
	quick, full         water.Analysis
	quickFor, fullOwner *journal.Session
	matchers            map[*query.Expression]*query.Matcher
}

// Finding is a diagnostic in the making; its place is found at the end.
type Finding struct {
	d    Diagnostic
	keys []string
	at   bool // the place is known: Start and End are set
	set  bool // the settings name its severity

	inside *query.Error // where in the field's text it is, if not at its beginning

	mend func(d *frontmatter.Document, node int32) (Fix, bool)

	verdict *cause.Explanation // of a rule that reports causes
	doubted map[water.ID]bool  // the readings it is about; empty: all of the record
	also    []string           // further records that it speaks of
	by      water.ID           // beside follows: another reading that it follows from
	bySet   bool
	see     []*Finding // the places that are shown with it
	doses   bool       // it names the line that makes a dose wrong: what the dose would do follows from it
	aside   bool       // of a change: only a half-width differs, or a figure cannot be computed
	follows string     // the record in which the reason is reported as well
	blame   *blame     // the line of another record that may be what is wrong
}

// Setting is a threshold of the rule, in the threshold's unit.
func (p *Pass) Setting(key string) float64 { return p.rule.setting(key) }

func (a *active) setting(key string) float64 {
	for i := range a.rule.Settings {
		if a.rule.Settings[i].Key == key {
			return a.values[i]
		}
	}
	return 0
}

// Report records a finding at the field of a record that the keys lead to; no
// keys: the record.
func (p *Pass) Report(path string, keys []string, format string, args ...any) *Finding {
	own := p.rule.at(p.run, path)
	f := &Finding{keys: keys, set: own.set}
	if own.severity == Off || own != p.rule && !p.rule.base() {
		return f // another variant of the rule reports it, or none
	}
	f.d = Diagnostic{Path: path, Rule: p.rule.rule.Name, Severity: own.severity, Message: fmt.Sprintf(format, args...), Bars: p.rule.rule.Bars}
	*p.found = append(*p.found, f)
	return f
}

// ReportReading records a finding at a reading of a session. part is "value",
// "lot" or another key of the reading's long form.
func (p *Pass) ReportReading(s *journal.Session, r *journal.Reading, part, format string, args ...any) *Finding {
	return p.Report(s.Path, []string{"readings", r.Analyte.String(), part}, format, args...)
}

// Help adds the next step.
func (f *Finding) Help(format string, args ...any) *Finding {
	f.d.Help = fmt.Sprintf(format, args...)
	return f
}

// mostPlaces is how many other places a finding shows: its message says how many there are.
const mostPlaces = 24

// See adds another place that the finding speaks of: a field of a record.
func (f *Finding) See(path string, keys []string, format string, args ...any) *Finding {
	if path != "" && len(f.see) < mostPlaces {
		f.see = append(f.see, &Finding{keys: keys, d: Diagnostic{Path: path, Message: fmt.Sprintf(format, args...)}})
	}
	return f
}

// atMost lowers the finding's severity; a severity in the settings stays as it
// is where it is lower still.
func (f *Finding) atMost(s Severity) *Finding {
	f.d.Severity = min(f.d.Severity, s)
	return f
}

// as sets the severity unless the settings name one for the rule.
func (p *Pass) as(f *Finding, s Severity) *Finding {
	if !f.set {
		f.d.Severity = s
	}
	return f
}

// Mend adds a fix that is made of the file as it is.
func (f *Finding) Mend(mend func(d *frontmatter.Document, node int32) (Fix, bool)) *Finding {
	f.mend = mend
	return f
}

// Values are the session's readings as numbers, without uncertainties.
func (p *Pass) Values() *water.Analysis {
	c := p.cache
	if c.quickFor != p.Session {
		journal.Values(p.Session, &c.quick)
		c.quickFor = p.Session
	}
	return &c.quick
}

// Analysis are the session's readings with their uncertainties.
func (p *Pass) Analysis() *water.Analysis {
	c := p.cache
	if c.fullOwner != p.Session {
		p.Journal.Analysis(p.Session, &c.full)
		c.fullOwner = p.Session
	}
	return &c.full
}

// zone is the journal's time zone.
func (p *Pass) zone() *time.Location {
	if z := p.Journal.Settings.Zone; z != nil {
		return z
	}
	return time.UTC
}

// day is the day of t in the journal's time zone, as midnight UTC, so that it
// can be compared with the days in records.
func (p *Pass) day(t time.Time) time.Time { return journal.Day(t.In(p.zone())) }

// dayOf is the day of a field that may be a day or a moment: days are kept as
// midnight UTC and stand for themselves.
func (p *Pass) dayOf(t time.Time) time.Time {
	if t.Location() == time.UTC && t.Equal(journal.Day(t)) {
		return t
	}
	return p.day(t)
}

// show writes a value with up to three significant digits in the standard unit.
func show(id water.ID, v float64) string { return withUnit(plain(v), id) }

// spread writes a value ± its 95 % half-width in the standard unit.
func spread(id water.ID, v, u float64) string {
	value, half := water.Spread(v, 2*u)
	if half == "" {
		return withUnit(value, id)
	}
	return withUnit(value+" ± "+half, id)
}

func withUnit(number string, id water.ID) string {
	if u := id.Info().Unit; !u.IsNone() {
		return number + " " + u.String()
	}
	return number
}

// plain writes a number with up to three significant digits and no zeros at
// its end: 30, 2.5, 0.05.
func plain(v float64) string {
	if v >= 1000 || v <= -1000 {
		return strconv.FormatFloat(v, 'f', 0, 64)
	}
	return strconv.FormatFloat(v, 'g', 3, 64)
}

// span writes a duration as people say it: "25 min", "3 h", "12 d".
func span(d time.Duration) string {
	switch {
	case d < 0:
		return "-" + span(-d)
	case d < 2*time.Hour:
		return fmt.Sprintf("%.0f min", d.Minutes())
	case d < 48*time.Hour:
		return fmt.Sprintf("%.0f h", d.Hours())
	}
	return fmt.Sprintf("%.0f d", d.Hours()/24)
}

func hours(v float64) time.Duration { return time.Duration(v * float64(time.Hour)) }

func days(v float64) time.Duration { return hours(24 * v) }

// date writes a day in the journal's zone.
func (p *Pass) date(t time.Time) string { return journal.FormatDate(p.dayOf(t)) }

// moment writes a time in the journal's zone.
func (p *Pass) moment(t time.Time) string { return journal.FormatTime(t.In(p.zone())) }
