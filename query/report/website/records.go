package website

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/query"
	"wj/query/report"
	"wj/render"
	"wj/render/site"
	"wj/water"
)

// How much of a long list a page shows; the list of sessions has all.
const (
	mostResults  = 200
	mostSessions = 200
	unfolded     = 8 // rows that are shown without being opened
)

// record is the page of one record.
func (m *maker) record(f journal.File) site.Page {
	key := report.PageKey(f.Kind, f.ID)
	p := site.Page{File: fileOf(f), Name: f.ID, Section: plural(f.Kind), Key: key, Words: []string{f.ID}, Under: listFile(f.Kind)}
	if m.files[key] != f { // a second file of one id
		p.File, p.Key, p.Words = f.Kind.Folder()+"/"+strings.ReplaceAll(strings.TrimSuffix(f.Path, ".md"), "/", "-")+".html", "", nil
	}
	named := func(name string) { p.Name, p.About, p.Words = cmp.Or(name, f.ID), f.ID, append(p.Words, name) }
	switch f.Kind {
	case journal.KindSite:
		p.Under = homeFile
		if x, ok := m.j.Sites.Get(f.ID); ok {
			named(x.Name)
			p.Search = strings.Join([]string{x.ID, x.Stage, x.Owner, x.Note}, " ")
		}
	case journal.KindSession:
		p.Search, p.About = m.sessionWords(f.ID)
	case journal.KindMethod:
		if x, ok := m.j.Methods.Get(f.ID); ok {
			p.Name, p.About = cmp.Or(x.Name, x.ID), x.ID
		}
	case journal.KindPerson:
		if x, ok := m.j.People.Get(f.ID); ok {
			named(x.Name)
		}
	case journal.KindOwner:
		if x, ok := m.j.Owners.Get(f.ID); ok {
			named(x.Name)
		}
	case journal.KindBatch:
		if x, ok := m.j.Batches.Get(f.ID); ok {
			p.About = x.Beer + ", " + report.DayText(x.Brewed)
		}
	}
	p.Document = func() (render.Document, error) {
		if f.Kind != journal.KindSession {
			m.judging.Lock()
			defer m.judging.Unlock()
		}
		d, err := m.document(f)
		d.Title = journal.Capital(d.Title)
		return d, err
	}
	return p
}

// document is what the page of a record shows.
func (m *maker) document(f journal.File) (render.Document, error) {
	q := report.RecordRequest{Now: m.Now, Facts: m.Lint.Facts, Found: m.found, Limits: m.limits}
	if f.Kind == journal.KindSession {
		if s, ok := m.j.Sessions.Get(f.ID); ok {
			q.Before = m.before(s)
		}
	}
	r, err := report.NewRecord(m.j, f, q)
	if err != nil || !r.Readable() {
		d := render.Document{Title: f.Path}
		d.Answer("This record cannot be read.")
		if err != nil {
			d.Answer("%v", err)
			return d, nil
		}
		for _, x := range r.Findings {
			d.Fact(x.Severity, "line %d: %s", x.Line, x.Message)
		}
		return d, nil
	}
	r.Fields = m.shown(r.Fields)
	d := r.Document(true)
	for i := range d.Blocks {
		if t := d.Blocks[i].Table; t != nil {
			for c, column := range t.Columns {
				if column.Head == "lot" || column.Head == "value" && t.Columns[0].Head == "field" {
					m.linkCells(t, c)
				}
			}
		}
	}
	switch f.Kind {
	case journal.KindSite:
		if s, ok := m.j.Sites.Get(f.ID); ok {
			if err := m.site(&d, s, r); err != nil {
				return d, err
			}
		}
	case journal.KindChange:
		m.change(&d, f)
	case journal.KindMethod:
		if x, ok := m.j.Methods.Get(f.ID); ok {
			if doc, err := report.NewMethod(m.j, x); err == nil {
				d = folded(doc.Document(), d, "The record")
			}
		}
	case journal.KindPerson:
		if x, ok := m.j.People.Get(f.ID); ok {
			d.Title = cmp.Or(x.Name, x.ID)
			m.person(&d, x)
		}
	case journal.KindOwner:
		if x, ok := m.j.Owners.Get(f.ID); ok {
			d.Title = cmp.Or(x.Name, x.ID)
			var t [][]render.Cell
			for _, s := range m.j.Sites.List {
				if s.OwnedBy(x.ID) {
					t = append(t, []render.Cell{{Text: cmp.Or(s.Name, s.ID), Link: report.PageKey(journal.KindSite, s.ID)}, {Text: strings.ReplaceAll(s.Stage, "-", " ")}})
				}
			}
			rows(&d, "Sites", []string{"site", "stage"}, t)
		}
	case journal.KindLot:
		if m.Extract != nil { // others' tests are not counted here
			d.Blocks = slices.DeleteFunc(d.Blocks, func(b render.Block) bool { return b.Fact != nil && b.Fact.Label == "left" })
			d.Fact("used", "%s for the water shown here", journal.Count(len(m.graph.Down(f)), "record"))
		}
	}
	m.links(&d, f)
	m.history(&d, f)
	return d, nil
}

// shown are the fields without keys, and without addresses where they are not asked for.
func (m *maker) shown(fields report.Fields) report.Fields {
	return slices.DeleteFunc(fields, func(x report.Field) bool {
		return x.Name == "keys" || !m.Contacts && (x.Name == "email" || x.Name == "to")
	})
}

// siteSeries are all results of a site, worked out when they are first asked for.
type siteSeries struct {
	once sync.Once
	of   map[water.ID]*query.Series
}

// before are the results at a session's site in the year before it, in the units of its owner.
func (m *maker) before(s *journal.Session) map[water.ID]*query.Series {
	out := map[water.ID]*query.Series{}
	site, ok := m.j.Sites.Get(s.Site)
	if !ok || len(site.Owners) > 1 { // whose units change with the owner
		return nil
	}
	all := m.series[s.Site]
	all.once.Do(func() {
		all.of = map[water.ID]*query.Series{}
		measured, units := []water.ID{}, map[water.ID]water.Unit{}
		for _, x := range m.bySite[s.Site] {
			for i := range x.Readings {
				if id := x.Readings[i].Analyte; !slices.Contains(measured, id) {
					measured = append(measured, id)
					units[id] = m.j.Preferred(site.Owner, id)
				}
			}
		}
		part := *m.j
		part.Sessions.List = m.bySite[s.Site]
		list, err := query.Histories(&part, query.SeriesRequest{Sites: []string{s.Site}, Analytes: measured, Units: units})
		if err != nil {
			return
		}
		for _, one := range list {
			all.of[one.Analyte] = one
		}
	})
	for id, one := range all.of {
		at := func(t time.Time) int {
			n, _ := slices.BinarySearchFunc(one.Points, t, func(p query.Point, t time.Time) int { return p.Sampled.Compare(t) })
			return n
		}
		window := *one
		window.Points = one.Points[at(s.Sampled.Add(-report.PastYear)):at(s.Sampled)]
		out[id] = &window
	}
	return out
}

// sessionWords are what a session is found by, and what the list says of it.
func (m *maker) sessionWords(id string) (search, about string) {
	s, ok := m.j.Sessions.Get(id)
	if !ok {
		return "", ""
	}
	words := []string{s.Source, s.Sample, s.Laboratory, s.Change, s.Batch}
	for _, who := range slices.Compact([]string{s.By, s.RecordedBy}) {
		words = append(words, who, m.j.PersonName(who))
	}
	var values []string
	for i := range s.Readings {
		values = append(values, strings.ReplaceAll(s.Readings[i].Analyte.String(), "_", " "))
		words = append(words, s.Readings[i].Lot)
	}
	place := s.Site
	if x, ok := m.j.Sites.Get(s.Site); ok {
		place = cmp.Or(x.Name, x.ID)
	}
	words = append(words, place, strings.Join(values, " "))
	words = slices.DeleteFunc(words, func(w string) bool { return w == "" })
	slices.Sort(words)
	return strings.Join(slices.Compact(words), " "), place + ", " + journal.Count(len(s.Readings), "reading")
}

// change is a change's review, with the record behind it.
func (m *maker) change(d *render.Document, f journal.File) {
	q := report.ReviewRequest{Now: m.Now, Changes: m.changes, Base: m.Base, BaseName: m.BaseName}
	for _, e := range m.History[f.Path] {
		q.History = append(q.History, logLine(e))
	}
	r, err := report.NewReview(m.j, f, q)
	if err != nil {
		d.Paragraph("Review", "The change cannot be worked out: %v.", err)
		return
	}
	*d = folded(r.Document(true), *d, "The record")
	d.Blocks = slices.DeleteFunc(d.Blocks, func(b render.Block) bool {
		return b.Fact != nil && slices.Contains([]string{"digest", "accept", "refuse"}, b.Fact.Label) // to sign takes a terminal
	})
}

// folded puts the tables of a document's record, which a reader seldom needs, below another document.
func folded(d, record render.Document, words string) render.Document {
	for _, b := range record.Blocks {
		if b.Table != nil && len(b.Table.Columns) == 2 && b.Table.Columns[0].Head == "field" {
			b.Fold = words
			d.Blocks = append(d.Blocks, b)
		}
	}
	return d
}

// person is what somebody recorded, proposed and signed.
func (m *maker) person(d *render.Document, x *journal.Person) {
	var signed, proposed [][]render.Cell
	for _, s := range m.j.Signoffs.List {
		if s.By == x.ID {
			signed = append(signed, []render.Cell{{Text: s.ID, Link: report.PageKey(journal.KindSignoff, s.ID)}, {Text: s.Of}, {Text: s.Decision}})
		}
	}
	for _, c := range m.j.Changes.List {
		if c.Author == x.ID {
			proposed = append(proposed, []render.Cell{{Text: c.ID, Link: report.PageKey(journal.KindChange, c.ID)}, {Text: c.For}, {Text: m.changes.Change(c).Words()}})
		}
	}
	slices.Reverse(signed)
	slices.Reverse(proposed)
	rows(d, "Changes proposed", []string{"change", "for", "state"}, proposed)
	rows(d, "Signed", []string{"sign-off", "of", "decision"}, signed)
	m.sessions(d, "Sessions recorded", m.byWhom[x.ID])
}

// sessions are the newest of some sessions.
func (m *maker) sessions(d *render.Document, heading string, list []*journal.Session) {
	sorted := slices.Clone(list)
	slices.SortStableFunc(sorted, func(a, b *journal.Session) int { return b.Sampled.Compare(a.Sampled) })
	var out [][]render.Cell
	for _, s := range sorted[:min(len(sorted), mostSessions)] {
		row := []render.Cell{{Text: s.ID, Link: report.PageKey(journal.KindSession, s.ID)}, {Text: s.Source + ", " + s.Sample}, {Text: m.j.PersonName(s.By)}}
		if s.Void != nil {
			row[1].Text = "void: " + s.Void.Reason
		}
		out = append(out, row)
	}
	if n := len(list) - len(out); n > 0 {
		heading += fmt.Sprintf(", the newest %d of %d", len(out), len(list))
	}
	rows(d, heading, []string{"session", "what", "by"}, out)
}

// links are what a record refers to and what refers to it.
func (m *maker) links(d *render.Document, f journal.File) {
	var up, down [][]render.Cell
	hidden := 0
	for _, l := range m.graph.Up(f) {
		up = append(up, m.linkRow(l.To, l.Why))
	}
	for _, l := range m.graph.Down(f) {
		if f.Kind == journal.KindSite && (l.From.Kind == journal.KindSession || l.From.Kind == journal.KindEvent) {
			continue // listed there already
		}
		if len(down) >= mostSessions {
			hidden++
			continue
		}
		down = append(down, m.linkRow(l.From, l.Why))
	}
	rows(d, "Refers to", []string{"record", "kind", "how"}, up)
	heading := "Referred to by"
	if hidden > 0 {
		heading += fmt.Sprintf(", %d of %d", len(down), len(down)+hidden)
	}
	rows(d, heading, []string{"record", "kind", "how"}, down)
}

func (m *maker) linkRow(f journal.File, why string) []render.Cell {
	kind := f.Kind.String()
	if f.Path == "" {
		kind = "not in this journal"
		if m.Extract != nil {
			kind = "not shown"
		}
	}
	return []render.Cell{{Text: f.ID, Link: report.PageKey(f.Kind, f.ID)}, {Text: kind}, {Text: why}}
}

// rows adds a table under a heading; a long one is opened by its reader.
func rows(d *render.Document, heading string, heads []string, list [][]render.Cell) {
	if len(list) == 0 {
		return
	}
	t := render.Table{Columns: render.Heads(heads...), Rows: list}
	b := render.Block{Heading: heading, Table: &t}
	if len(list) > unfolded {
		b.Fold = journal.Count(len(list), "row")
	}
	d.Blocks = append(d.Blocks, b)
}

// history are the commits that touched a record.
func (m *maker) history(d *render.Document, f journal.File) {
	var list [][]render.Cell
	for _, e := range m.History[f.Path] {
		list = append(list, []render.Cell{{Text: e.When.In(m.j.Settings.Zone).Format("2006-01-02 15:04")}, {Text: e.Name}, {Text: e.What}, {Text: e.Subject}})
	}
	if len(list) == 0 {
		return
	}
	b := render.Block{Fold: "History: " + journal.Count(len(list), "commit"), Table: &render.Table{Columns: render.Heads("when", "who", "what", "why"), Rows: list,
		Notes: []string{"Names and times are what commits claim."}}}
	d.Blocks = append(d.Blocks, b)
}

func logLine(e evidence.Entry) string {
	return fmt.Sprintf("%s %s by %s: %s", e.When.Format("2006-01-02"), e.What, e.Name, e.Subject)
}
