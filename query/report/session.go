package report

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/query"
	"wj/water"
)

// SessionPart is what a session holds and what follows from it.
type SessionPart struct {
	Site       string         `json:"site"`
	Owner      string         `json:"owner"`
	Sampled    Moment         `json:"sampled"`
	Tested     Moment         `json:"tested"`
	By         string         `json:"by"`
	RecordedBy string         `json:"recorded_by,omitempty"`
	Instrument string         `json:"instrument,omitempty"`
	Source     string         `json:"source"`
	Laboratory string         `json:"laboratory,omitempty"`
	Sample     string         `json:"sample"`
	Change     string         `json:"change,omitempty"`
	Verdict    string         `json:"verdict"`
	Readings   Named[Reading] `json:"readings"`
	Derived    Named[Derived] `json:"derived"`
	Absent     []Absence      `json:"not_available"`
	Checks     []Check        `json:"checks"`
	Reconciled *Reconciled    `json:"reconciled,omitempty"`
	Amended    []Amended      `json:"amended"`

	answer    []string
	siteName  string
	ownerName string
	people    []string
	assumed   bool
	results   []Result
	after     string
}

// Named are values by name, in an order that JSON keeps too.
type Named[T any] []T

// MarshalJSON writes an object with a member for each value, named by its field Name.
func (n Named[T]) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, v := range n {
		text, err := json.Marshal(v)
		if err != nil {
			return nil, err
		}
		if i > 0 {
			b.WriteByte(',')
		}
		name, err := json.Marshal(any(v).(interface{ name() string }).name())
		if err != nil {
			return nil, err
		}
		b.Write(name)
		b.WriteByte(':')
		b.Write(text)
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// Reading is a result in the standard unit with what was typed for it.
type Reading struct {
	Value
	From    []string `json:"from"`
	Typed   string   `json:"typed"`
	Assumed bool     `json:"assumed_accuracy"`
	Lot     string   `json:"lot,omitempty"`
	Error   string   `json:"error,omitempty"`
	id      water.ID
}

func (r Reading) name() string { return r.id.String() }

// Derived is a computed value in the standard unit with what it came from.
type Derived struct {
	Value
	From []string `json:"from"`
	Note string   `json:"note,omitempty"`
	id   water.ID
	read Value // in the reader's unit
}

func (d Derived) name() string { return d.id.String() }

// Absence is a value that a brewer would want and that cannot be computed here.
type Absence struct {
	Analyte string `json:"analyte"`
	Reason  string `json:"reason"`
}

// Amended is a correction of the record.
type Amended struct {
	On     Moment `json:"on"`
	By     string `json:"by"`
	Key    string `json:"key"`
	Was    string `json:"was"`
	Reason string `json:"reason"`
	who    string
}

// PastYear is how far back the usual range of a value is looked for.
const PastYear = 365 * 24 * time.Hour

func newSessionPart(j *journal.Journal, s *journal.Session, q RecordRequest) *SessionPart {
	p := &SessionPart{Site: s.Site, Sampled: Moment{s.Sampled}, Tested: Moment{s.Tested}, By: s.By, RecordedBy: s.RecordedBy, Instrument: s.Instrument, Source: s.Source, Laboratory: s.Laboratory,
		Sample: s.Sample, Change: s.Change, siteName: s.Site, Readings: Named[Reading]{}, Derived: Named[Derived]{}, Absent: []Absence{}, Checks: []Check{}, Amended: []Amended{}}
	if site, ok := j.Sites.Get(s.Site); ok {
		p.siteName, p.Owner = site.Name, j.OwnerOf(s)
	}
	if o, ok := j.Owners.Get(p.Owner); ok && !o.Self {
		p.ownerName = o.Name
	}
	p.people = []string{j.PersonName(s.By)}
	if s.RecordedBy != "" {
		p.people = append(p.people, "typed by "+j.PersonName(s.RecordedBy))
	}
	p.after = afterText(s.Sampled, s.Tested)
	var a water.Analysis
	j.Analysis(s, &a)
	before := q.Before
	if before == nil {
		before = p.before(j, s)
	}
	p.readings(j, s, &a, q.Limits, before)
	p.derive(j, &a)
	p.Checks = analysisChecks(&a)
	p.Reconciled = reconciled(&a)
	for _, am := range s.Amended {
		p.Amended = append(p.Amended, Amended{Moment{am.On}, am.By, am.Key, am.Was, am.Reason, j.PersonName(am.By)})
	}
	var list []atSite
	for i := range p.results {
		list = append(list, atSite{&p.results[i], ""})
	}
	var overall judge.Conformity
	p.answer, overall = headline(list)
	p.Verdict = overall.String()
	if !judge.InSeries(s) {
		p.answer = []string{fmt.Sprintf("A %s: not held to the limits of the site's water.", strings.ReplaceAll(s.Sample, "-", " "))}
	}
	return p
}

// readings are the results as typed, in the standard unit, and in the reader's with the range of the year before.
func (p *SessionPart) readings(j *journal.Journal, s *journal.Session, a *water.Analysis, limits *judge.Limits, before map[water.ID]*query.Series) {
	for i := range s.Readings {
		r := &s.Readings[i]
		one := Reading{From: []string{r.Analyte.String()}, Typed: journal.TypedReading(r), Lot: r.Lot, id: r.Analyte}
		result := Result{Analyte: r.Analyte.String(), Title: title(r.Analyte), Session: s.ID, Sampled: Moment{s.Sampled}, Limits: []ResultLimit{}, id: r.Analyte}
		m, ok := a.Measured(r.Analyte)
		if !ok {
			one.Error = "cannot be read"
			p.Readings, p.results = append(p.Readings, one), append(p.results, result)
			continue
		}
		one.Value, one.Assumed = valueOf(m.Value, m.U, m.Bound, r.Analyte.Info().Unit.String()), m.Assumed
		p.assumed = p.assumed || m.Assumed
		result.Newest = InUnit(j, p.Owner, r.Analyte, m.Bound, m.Value, m.U)
		if result.Newest.Limit != nil {
			result.Newest.typed = typedNumber(r, float64(*result.Newest.Limit))
		}
		if b := before[r.Analyte]; b != nil && len(b.Points) > 0 {
			past := resultOf(limits, b)
			result.Lowest, result.Highest, result.Bounds, result.Count = past.Lowest, past.Highest, past.Bounds, past.Count
		}
		if judge.InSeries(s) {
			v := water.Value{ID: r.Analyte, Value: m.Value, U: m.U, Bound: m.Bound}
			result.Limits, result.overall = judged(limits, s.Site, s.Sampled, v, r.Analyte.Info().Unit, j.Preferred(p.Owner, r.Analyte))
			result.Verdict = result.overall.String()
		}
		p.Readings, p.results = append(p.Readings, one), append(p.results, result)
	}
}

// before are the values of the year before a session at its site, in the reader's units.
func (p *SessionPart) before(j *journal.Journal, s *journal.Session) map[water.ID]*query.Series {
	out := map[water.ID]*query.Series{}
	var ids []water.ID
	units := map[water.ID]water.Unit{}
	for i := range s.Readings {
		id := s.Readings[i].Analyte
		ids = append(ids, id)
		units[id] = j.Preferred(p.Owner, id)
	}
	if len(ids) == 0 {
		return out
	}
	series, err := query.Histories(j, query.SeriesRequest{Sites: []string{s.Site}, Analytes: ids, Units: units, Since: s.Sampled.Add(-PastYear), Until: s.Sampled})
	if err != nil {
		return out
	}
	for _, one := range series {
		out[one.Analyte] = one
	}
	return out
}

// derive works out what follows from the readings, and what a brewer would miss.
func (p *SessionPart) derive(j *journal.Journal, a *water.Analysis) {
	ids := water.DerivedNames()
	for i, v := range a.DeriveAll(ids...) {
		id := ids[i]
		if v.Err != nil {
			var absent *water.Absent
			if _, measured := a.Measured(id); !measured && errors.As(v.Err, &absent) && wanted(id) {
				p.Absent = append(p.Absent, Absence{id.String(), absent.Reason})
			}
			continue
		}
		d := Derived{Value: valueOf(v.Value.Value, v.U, v.Bound, id.Info().Unit.String()), From: []string{}, Note: v.Note, id: id, read: InUnit(j, p.Owner, id, v.Bound, v.Value.Value, v.U)}
		for _, f := range v.From {
			d.From = append(d.From, f.String())
		}
		p.Derived = append(p.Derived, d)
	}
}

// wanted are the values whose lack decides something for a brewer.
func wanted(id water.ID) bool {
	return slices.Contains([]water.ID{water.Magnesium, water.Sodium, water.ResidualAlkalinity, water.ChargeBalance}, id)
}

// first are the computed values that a brewer looks at first.
var firstDerived = []water.ID{water.Calcium, water.Magnesium, water.Sodium, water.ResidualAlkalinity, water.SulfateChlorideRatio}

// afterText is how long after sampling a test was made, where that matters: "6 min later".
func afterText(sampled, tested time.Time) string {
	d := tested.Sub(sampled).Round(time.Minute)
	switch {
	case tested.IsZero() || d <= 0:
		return ""
	case d < time.Hour:
		return fmt.Sprintf("%d min later", int(d.Minutes()))
	case d < 48*time.Hour:
		return fmt.Sprintf("%d h later", int(d.Hours()))
	}
	return fmt.Sprintf("%d d later", int(d.Hours()/24))
}
