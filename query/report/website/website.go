// Package website lays a whole journal out as pages that link to each other, for people without a terminal: the state of the
// water and what waits, sites with their charts, sessions, changes with their reviews, and every other record with what it
// refers to and what refers to it. It draws what query/report answers; render/site makes and writes the folder.
//
//	files, err := website.Pages(j, website.Request{Now: now, Facts: facts})
//	done, err := site.Write(dir, "the whole journal", files)
package website

import (
	"cmp"
	"slices"
	"sync"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/judge"
	"wj/journal/trace"
	"wj/lint"
	"wj/query/report"
	"wj/render"
	"wj/render/site"
)

// Request says by when, and what is known besides the records.
type Request struct {
	Now      time.Time
	Lint     lint.Options // how the linter is asked; its facts are those of sign-offs
	Base     *journal.Journal
	BaseName string
	Tasks    []judge.ToDo                // nil: they are worked out from the records
	History  map[string][]evidence.Entry // by path; nil: not known
	Extract  *Extract                    // the journal is one owner's part of it
	Contacts bool                        // show e-mail addresses
	Wall     bool                        // a page for a screen on the wall too
	Progress func(done int)              // is told how many records have their page; nil: nobody asks
}

// The places of the pages that are no record's.
const (
	homeFile     = "index.html"
	findFile     = "find.html"
	findingsFile = "findings.html"
	wallFile     = "wall.html"
)

// caution is at the end of each page.
const caution = "These pages do not show whether water is safe to drink; ask an accredited laboratory and follow local rules."

// maker makes the pages.
type maker struct {
	Request
	j       *journal.Journal
	limits  *judge.Limits
	changes *judge.Changes
	graph   *trace.Graph
	found   map[string][]lint.Diagnostic
	all     []lint.Diagnostic
	bySite  map[string][]*journal.Session
	byWhom  map[string][]*journal.Session
	counts  map[journal.Kind]int
	status  *report.Status
	series  map[string]*siteSeries
	judging sync.Mutex              // m.changes keeps what it found, and is asked by one at a time
	files   map[string]journal.File // by key
}

// Pages are the files of the site: paths and contents.
func Pages(j *journal.Journal, q Request) (map[string]string, error) {
	q.Now = q.Now.In(j.Settings.Zone)
	q.Lint.Now = q.Now
	m := &maker{Request: q, j: j, limits: judge.NewLimits(j), changes: judge.NewChanges(j, q.Lint.Facts), graph: trace.NewGraph(j), found: map[string][]lint.Diagnostic{},
		bySite: map[string][]*journal.Session{}, byWhom: map[string][]*journal.Session{}, counts: map[journal.Kind]int{}, files: map[string]journal.File{}, series: map[string]*siteSeries{}}
	for _, d := range lint.Run(j, q.Lint).Diagnostics {
		if q.Extract.shows(d.Message) && q.Extract.shows(d.Help) {
			m.found[d.Path], m.all = append(m.found[d.Path], d), append(m.all, d)
		}
	}
	for _, s := range j.Sessions.List {
		m.bySite[s.Site] = append(m.bySite[s.Site], s)
		for _, id := range slices.Compact([]string{s.By, s.RecordedBy}) {
			m.byWhom[id] = append(m.byWhom[id], s)
		}
	}
	for _, s := range j.Sites.List {
		m.series[s.ID] = &siteSeries{}
	}
	for _, f := range j.Files {
		m.counts[f.Kind]++
		m.files[report.PageKey(f.Kind, f.ID)] = f
	}
	var err error
	if q.Tasks == nil {
		for _, t := range judge.ToDos(j, m.changes) {
			if t.Topic != judge.Reagents || q.Extract == nil { // whose stock is everybody's
				m.Tasks = append(m.Tasks, t)
			}
		}
	}
	if m.status, err = report.NewStatus(j, report.StatusRequest{Now: q.Now, Tasks: m.Tasks}); err != nil {
		return nil, err
	}
	pages := []site.Page{m.home()}
	if q.Wall {
		pages = append(pages, m.wall())
	}
	pages = append(append(append(pages, m.lists()...), m.records()...), m.findings()...)
	for i := range pages {
		if p := &pages[i]; p.Document != nil && q.Extract != nil {
			whole := p.Document
			p.Document = func() (render.Document, error) {
				d, err := whole()
				return d.Rewrite(q.Extract.hide), err
			}
		}
	}
	s := site.Site{Title: cmp.Or(j.Settings.Name, "Water journal"), Find: findFile, Head: m.head(), Foot: caution, Text: m.text, Errand: "Every page of this journal, by kind.", Progress: q.Progress}
	if q.Extract != nil {
		s.Title = "Water of " + q.Extract.Name
		s.Errand = "Every page about the water of " + q.Extract.Name + ". Other owners' water is not in this folder."
	}
	return s.Build(pages)
}

// head are the entries at the top of each page: only of kinds that the journal has.
func (m *maker) head() []site.Entry {
	out := []site.Entry{{Name: "Water", File: homeFile}}
	for _, k := range []journal.Kind{journal.KindSession, journal.KindChange, journal.KindBatch, journal.KindLot, journal.KindMethod, journal.KindPerson} {
		if m.counts[k] > 0 {
			out = append(out, site.Entry{Name: plural(k), File: listFile(k)})
		}
	}
	return append(out, site.Entry{Name: "Findings", File: findingsFile}, site.Entry{Name: "Find", File: findFile})
}

// plural is a kind as a heading: "Sessions".
func plural(k journal.Kind) string {
	if k == journal.KindSignoff {
		return "Sign-offs"
	}
	return journal.Capital(k.Folder())
}

func listFile(k journal.Kind) string { return k.Folder() + "/index.html" }

// fileOf is the place of a record's page.
func fileOf(f journal.File) string { return f.Kind.Folder() + "/" + f.ID + ".html" }

// records are the pages of all records, kind by kind in the order of the list of pages.
func (m *maker) records() []site.Page {
	var out []site.Page
	for _, k := range kindOrder {
		from := len(out)
		for _, f := range m.j.Files {
			if f.Kind == k {
				out = append(out, m.record(f))
			}
		}
		if k != journal.KindSite && k != journal.KindPerson && k != journal.KindMethod {
			slices.Reverse(out[from:]) // the newest first
		}
	}
	return out
}

// ready is a document that is made already.
func ready(d render.Document) func() (render.Document, error) {
	return func() (render.Document, error) { return d, nil }
}

// kindOrder is the order of the kinds in the list of pages.
var kindOrder = []journal.Kind{journal.KindSite, journal.KindChange, journal.KindBatch, journal.KindLot, journal.KindMethod, journal.KindTarget, journal.KindInstrument, journal.KindPerson, journal.KindOwner,
	journal.KindEvent, journal.KindAction, journal.KindReport, journal.KindSignoff, journal.KindAnchor, journal.KindSession}

// linkCells links the cells of a table that are the id of one record alone; a field whose value is a word of the format is left.
func (m *maker) linkCells(t *render.Table, columns ...int) {
	for _, row := range t.Rows {
		for _, c := range columns {
			if c < len(row) && row[c].Link == "" && !slices.Contains(wordFields, row[0].Text) {
				if found := m.j.Find(row[c].Text); len(found) == 1 {
					row[c].Link = report.PageKey(found[0].Kind, found[0].ID)
				}
			}
		}
	}
}

// wordFields are fields whose values are words of the format, which may be an id as well.
var wordFields = []string{"source", "stage", "sample", "what", "sort", "decision", "meaning", "substance", "grade"}
