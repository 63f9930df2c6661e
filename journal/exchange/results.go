package exchange

import (
	"runtime"
	"sort"
	"strings"
	"sync"
	"sync/atomic"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
)

// Options say what goes into a table of results.
type Options struct {
	Derived  bool           // computed values too, with what they came from
	Progress func(done int) // called now and then; may be nil
}

// OwnerOf is the owner of a session's water: that of its site. "" where the
// site is unknown.
func OwnerOf(j *journal.Journal, s *journal.Session) string {
	if site, ok := j.Sites.Get(s.Site); ok {
		return site.Owner
	}
	return ""
}

// Owners lists the owners of the sessions' waters, sorted. "" stands for
// sessions whose site is unknown.
func Owners(j *journal.Journal, sessions []*journal.Session) []string {
	seen := map[string]bool{}
	var owners []string
	for _, s := range sessions {
		if o := OwnerOf(j, s); !seen[o] {
			seen[o] = true
			owners = append(owners, o)
		}
	}
	sort.Strings(owners)
	return owners
}

// result is one value of a session.
type result struct {
	session *journal.Session
	value   water.Value
	reading *journal.Reading // nil where derived
	assumed bool
}

// results are the values of a session: its readings in their order, then what
// follows from them. Check standards and blanks have readings only: nothing is
// computed of a water that is not one.
func results(j *journal.Journal, s *journal.Session, a *water.Analysis, derived bool, do func(result)) {
	a.Reset()
	for i := range s.Readings {
		r := &s.Readings[i]
		m, ok := j.Measured(s, r)
		if !ok {
			continue
		}
		a.Set(r.Analyte, m)
		do(result{s, water.Value{ID: r.Analyte, Bound: m.Bound, Value: m.Value, U: m.U, From: []water.ID{r.Analyte}}, r, m.Assumed})
	}
	if !derived || judge.SampleOf(s).Standard {
		return
	}
	var missing []water.ID
	for id := water.ID(0); id < water.NumNames; id++ {
		if _, measured := a.Measured(id); !measured {
			missing = append(missing, id)
		}
	}
	for _, d := range a.DeriveAll(missing...) {
		if d.Err == nil {
			do(result{session: s, value: d.Value})
		}
	}
}

// batch is how many sessions are computed at once.
const batch = 512

// eachResult computes the values of sessions on every core and calls do with
// them in order: n is the number of the session.
func eachResult(j *journal.Journal, sessions []*journal.Session, opt Options, do func(n int, r result)) {
	found := make([][]result, batch)
	for start := 0; start < len(sessions); start += batch {
		now := sessions[start:min(start+batch, len(sessions))]
		var next atomic.Int64
		var wait sync.WaitGroup
		for range min(runtime.GOMAXPROCS(0), len(now)) {
			wait.Go(func() {
				var a water.Analysis
				for {
					i := int(next.Add(1)) - 1
					if i >= len(now) {
						return
					}
					found[i] = found[i][:0]
					results(j, now[i], &a, opt.Derived, func(r result) { found[i] = append(found[i], r) })
				}
			})
		}
		wait.Wait()
		for i := range now {
			for _, r := range found[i] {
				do(start+i, r)
			}
		}
		if opt.Progress != nil {
			opt.Progress(start + len(now))
		}
	}
}

// resultColumns are the columns of the long form.
var resultColumns = []Column{
	{Name: "session", Doc: "id of the test session"},
	{Name: "site", Doc: "id of the sampling point"},
	{Name: "owner", Doc: "id of the owner of the water"},
	{Name: "stage", Doc: "where in the plant the site is"},
	{Name: "sampled", Type: Moment, Doc: "when the sample was taken, with the offset of the place"},
	{Name: "tested", Type: Moment, Doc: "when it was tested"},
	{Name: "by", Doc: "id of the person who tested"},
	{Name: "source", Doc: "whose figures they are: bench, lab or utility"},
	{Name: "laboratory", Doc: "which laboratory or utility"},
	{Name: "sample", Doc: "routine, check-standard, blank, duplicate or verification"},
	{Name: "instrument", Doc: "id of the meter"},
	{Name: "analyte", Doc: "name of the value"},
	{Name: "value", Type: Real, Doc: "the result in the standard unit; empty where only a bound is known"},
	{Name: "unit", Doc: "the standard unit of value, bound_value and u"},
	{Name: "ucum", Doc: "the same unit in UCUM"},
	{Name: "bound", Doc: "< where the result is below bound_value, > where it is above it"},
	{Name: "bound_value", Type: Real, Doc: "the bound of the result"},
	{Name: "u", Type: Real, Doc: "standard uncertainty; twice this is the 95 % half-width"},
	{Name: "u_assumed", Type: Flag, Doc: "true where nothing was declared and the usual accuracy of such a test was taken"},
	{Name: "typed", Doc: "the reading as it was typed: replicates, dilution and unit"},
	{Name: "typed_unit", Doc: "the unit that it was typed in"},
	{Name: "replicates", Type: Integer, Doc: "how many tests the reading is the mean of"},
	{Name: "dilution", Type: Real, Doc: "total volume over sample volume"},
	{Name: "lot", Doc: "id of the reagent lot"},
	{Name: "derived", Type: Flag, Doc: "true where the value was computed from others"},
	{Name: "derived_from", Doc: "the readings that a derived value came from"},
	{Name: "void", Type: Flag, Doc: "true where the record was declared wrong"},
}

// Results is the long form: one row for each value of each session.
func Results(j *journal.Journal, sessions []*journal.Session, opt Options) Table {
	t := Table{Name: "results", Doc: "one row for each measured or derived value", Columns: resultColumns, Key: []string{"session", "analyte"}}
	eachResult(j, sessions, opt, func(_ int, r result) {
		owner, stage := "", ""
		if site, ok := j.Sites.Get(r.session.Site); ok {
			owner, stage = site.Owner, site.Stage
		}
		t.Rows = append(t.Rows, resultRow(r, owner, stage))
	})
	return t
}

func resultRow(r result, owner, stage string) []any {
	s, info := r.session, r.value.ID.Info()
	var value, limit, bound, u, assumed, typed, typedUnit, replicates, dilution, lot, from any
	instrument, tested := s.Instrument, s.Tested
	if r.value.Bound == water.Exact {
		value, u = realOrNil(r.value.Value), realOrNil(r.value.U)
	} else {
		bound, limit = r.value.Bound.String(), realOrNil(r.value.Value)
	}
	if q := r.reading; q != nil {
		typed, typedUnit = journal.TypedReading(q), textOrNil(q.First.Unit.String())
		replicates, dilution, lot = int64(q.Replicates()), q.Dilution, textOrNil(q.Lot)
		if q.Dilution == 0 {
			dilution = 1.0
		}
		if u != nil {
			assumed = r.assumed
		}
		if q.Instrument != "" {
			instrument = q.Instrument
		}
		if !q.Tested.IsZero() {
			tested = q.Tested
		}
	} else {
		names := make([]string, len(r.value.From))
		for i, id := range r.value.From {
			names[i] = id.String()
		}
		from = textOrNil(strings.Join(names, " "))
	}
	return []any{
		s.ID, textOrNil(s.Site), textOrNil(owner), textOrNil(stage), momentOrNil(s.Sampled), momentOrNil(tested), textOrNil(s.By),
		textOrNil(s.Source), textOrNil(s.Laboratory), textOrNil(s.Sample), textOrNil(instrument),
		info.Key, value, textOrNil(info.Unit.String()), textOrNil(info.UCUM), bound, limit, u, assumed,
		typed, typedUnit, replicates, dilution, lot, r.reading == nil, from, s.Void != nil,
	}
}

// unitHead is the head of a column of values: the name with its unit.
func unitHead(id water.ID) string {
	if u := id.Info().Unit; !u.IsNone() {
		return id.String() + " (" + u.String() + ")"
	}
	return id.String()
}

// Wide is the wide form: one row a session, a column for each value that any of
// them has, with its standard unit in the head. Where results are bounds, a
// column beside it holds them as text ("<5").
func Wide(j *journal.Journal, sessions []*journal.Session, opt Options) Table {
	t := Table{Name: "sessions", Doc: "one row for each session", Key: []string{"session"}, Columns: []Column{
		{Name: "session", Doc: "id of the test session"}, {Name: "site", Doc: "id of the sampling point"}, {Name: "owner", Doc: "id of the owner of the water"},
		{Name: "sampled", Type: Moment, Doc: "when the sample was taken"}, {Name: "by", Doc: "id of the person who tested"},
		{Name: "source", Doc: "bench, lab or utility"}, {Name: "sample", Doc: "routine, check-standard, blank, duplicate or verification"},
		{Name: "void", Type: Flag, Doc: "true where the record was declared wrong"},
	}}
	type cell struct {
		value any
		bound string
	}
	cells := make([]map[water.ID]cell, len(sessions))
	var has, bounded [water.NumNames]bool
	for n := range sessions {
		cells[n] = map[water.ID]cell{}
	}
	eachResult(j, sessions, opt, func(n int, r result) {
		c := cell{value: realOrNil(r.value.Value)}
		if r.value.Bound != water.Exact {
			c = cell{bound: r.value.Bound.String() + formatReal(r.value.Value)}
			bounded[r.value.ID] = true
		}
		has[r.value.ID] = true
		cells[n][r.value.ID] = c
	})
	var ids []water.ID
	for id := water.ID(0); id < water.NumNames; id++ {
		if has[id] {
			ids = append(ids, id)
			t.Columns = append(t.Columns, Column{Name: unitHead(id), Type: Real, Unit: id.Info().Unit.String(), Doc: id.Info().Doc})
			if bounded[id] {
				t.Columns = append(t.Columns, Column{Name: id.String() + " bound", Doc: "where only a bound of " + id.Info().Title + " is known, in the same unit"})
			}
		}
	}
	for n, s := range sessions {
		row := make([]any, 0, len(t.Columns))
		row = append(row, s.ID, textOrNil(s.Site), textOrNil(OwnerOf(j, s)), momentOrNil(s.Sampled), textOrNil(s.By), textOrNil(s.Source), textOrNil(s.Sample), s.Void != nil)
		for _, id := range ids {
			c := cells[n][id]
			row = append(row, c.value)
			if bounded[id] {
				row = append(row, textOrNil(c.bound))
			}
		}
		t.Rows = append(t.Rows, row[:len(t.Columns):len(t.Columns)])
	}
	return t
}

// Sites is the table of the sampling points that the sessions are of.
func Sites(j *journal.Journal, sessions []*journal.Session) Table {
	t := Table{Name: "sites", Doc: "the sampling points of the results", Key: []string{"site"}, Columns: []Column{
		{Name: "site", Doc: "id of the sampling point"}, {Name: "name", Doc: "its name in full"}, {Name: "owner", Doc: "id of the owner of the water"},
		{Name: "stage", Doc: "where in the plant it is"},
		{Name: "latitude", Type: Real, Unit: "deg", Doc: "WGS 84"}, {Name: "longitude", Type: Real, Unit: "deg", Doc: "WGS 84"},
	}}
	for _, site := range sitesOf(j, sessions) {
		var latitude, longitude any
		if site.Place.Set {
			latitude, longitude = site.Place.Latitude, site.Place.Longitude
		}
		t.Rows = append(t.Rows, []any{site.ID, textOrNil(site.Name), textOrNil(site.Owner), textOrNil(site.Stage), latitude, longitude})
	}
	return t
}

// sitesOf lists the sites of sessions in the journal's order.
func sitesOf(j *journal.Journal, sessions []*journal.Session) []*journal.Site {
	used := map[string]bool{}
	for _, s := range sessions {
		used[s.Site] = true
	}
	var sites []*journal.Site
	for _, site := range j.Sites.List {
		if used[site.ID] {
			sites = append(sites, site)
		}
	}
	return sites
}

// Analytes is the table of the names that the results use: what each is, its
// unit, and its identity in public lists.
func Analytes() Table {
	t := Table{Name: "analytes", Doc: "what the names in the column analyte are", Key: []string{"analyte"}, Columns: []Column{
		{Name: "analyte", Doc: "the name"}, {Name: "title", Doc: "in words"}, {Name: "unit", Doc: "standard unit"}, {Name: "ucum", Doc: "the unit in UCUM"},
		{Name: "characteristic", Doc: "name in the characteristic list of the water-quality exchange"}, {Name: "speciation", Doc: "its method speciation there"},
		{Name: "cas", Doc: "CAS registry number"}, {Name: "derived", Type: Flag, Doc: "true where it is only ever computed"}, {Name: "description", Doc: "in a sentence"},
	}}
	for id := water.ID(0); id < water.NumNames; id++ {
		i := id.Info()
		t.Rows = append(t.Rows, []any{i.Key, i.Title, textOrNil(i.Unit.String()), textOrNil(i.UCUM), textOrNil(i.Exchange), textOrNil(i.Speciation), textOrNil(i.CAS), id >= water.NumAnalytes, i.Doc})
	}
	return t
}
