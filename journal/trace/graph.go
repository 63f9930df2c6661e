package trace

import (
	"cmp"
	"fmt"
	"math"
	"path"
	"slices"
	"sort"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
)

// Link is one typed reference: From depends on To, and Why says how ("tested
// with this lot: sulfate"). To.Path is empty where the record does not exist.
type Link struct {
	From, To journal.File
	Why      string
	// Side marks a reference that does not carry results on: the record that a
	// newer one replaces, the session that a duplicate repeats. A walk shows it
	// where it starts, and follows it nowhere.
	Side bool
}

// Graph is every reference of a journal, in both directions.
type Graph struct {
	j        *journal.Journal
	up, down map[key][]Link
}

type key struct {
	kind journal.Kind
	id   string
}

func keyOf(f journal.File) key { return key{f.Kind, f.ID} }

// NewGraph reads the references of a journal that was loaded with its
// sessions: lot, instrument, method and site of a session; target, basis
// sessions and additive lots of a change; change, lots and the newest session
// of each basis site at its time of a batch; what a sign-off is of, what a
// report depends on and what an action is about. Sign-offs, reports and actions
// that name a missing record keep the reference.
func NewGraph(j *journal.Journal) *Graph {
	g := &Graph{j: j, up: map[key][]Link{}, down: map[key][]Link{}}
	b := builder{j: j, g: g}
	for _, s := range j.Sessions.List {
		b.session(s)
	}
	for _, c := range j.Changes.List {
		b.change(c)
	}
	for _, r := range j.Batches.List {
		b.batch(r)
	}
	for _, s := range j.Signoffs.List {
		word := "signed by "
		if s.Decision == journal.DecidedRefused {
			word = "refused by "
		}
		b.any(fileOf(&s.Record), s.Of, word+s.By)
		b.covered(s)
	}
	for _, r := range j.Reports.List {
		b.report(r)
	}
	for _, r := range j.Actions.List {
		for _, about := range r.About {
			b.any(fileOf(&r.Record), about, "refers to it")
		}
	}
	for _, r := range j.Events.List {
		for _, site := range r.Sites {
			b.add(fileOf(&r.Record), journal.KindSite, site, "happened there", true)
		}
	}
	for _, links := range g.down {
		slices.SortStableFunc(links, func(a, b Link) int {
			return cmp.Or(cmp.Compare(a.From.Kind, b.From.Kind), strings.Compare(a.From.ID, b.From.ID))
		})
	}
	return g
}

// Up lists what the record depends on directly, in the order of the record.
func (g *Graph) Up(f journal.File) []Link { return g.up[keyOf(f)] }

// Down lists what depends on the record directly, by kind and id.
func (g *Graph) Down(f journal.File) []Link { return g.down[keyOf(f)] }

// asides are side references as the record says them that they lead to.
var asides = map[string]string{"supersedes it": "superseded by", "replaces it": "replaced by", "repeats it": "repeated by", "verifies it": "verified by", "tested its liquor": "liquor tested by"}

// Aside says what refers to a record without depending on it: "superseded by
// 2026-06-11-…"; "" where nothing does.
func (g *Graph) Aside(f journal.File) string {
	var order []string
	by := map[string][]string{}
	for _, l := range g.down[keyOf(f)] {
		if words := asides[l.Why]; l.Side && words != "" {
			if by[words] == nil {
				order = append(order, words)
			}
			by[words] = append(by[words], l.From.ID)
		}
	}
	for i, words := range order {
		list := by[words]
		more := ""
		if n := len(list) - 3; n > 0 {
			list, more = list[:3], fmt.Sprintf(" and %d more", n)
		}
		order[i] = words + " " + strings.Join(list, ", ") + more
	}
	return strings.Join(order, ", ")
}

// Remark says in a few words what a record is, where its id does not, and what
// refers to it without depending on it: ", recalled 2025-11-03: reads low",
// ", superseded by 2026-06-11-…".
func (g *Graph) Remark(f journal.File) string {
	text := stateOf(g.j, f)
	if aside := g.Aside(f); aside != "" {
		text += ", " + aside
	}
	return text
}

func stateOf(j *journal.Journal, f journal.File) string {
	void := func(m *journal.Mark) string {
		if m != nil {
			return ", void"
		}
		return ""
	}
	switch f.Kind {
	case journal.KindLot:
		if l, ok := j.Lots.Get(f.ID); ok && l.Recalled != nil {
			return ", recalled " + journal.FormatDate(l.Recalled.On) + ": " + l.Recalled.Reason
		}
	case journal.KindSession:
		if s, ok := j.Sessions.Get(f.ID); ok {
			return void(s.Void)
		}
	case journal.KindChange:
		if c, ok := j.Changes.Get(f.ID); ok {
			return void(c.Void)
		}
	case journal.KindBatch:
		if r, ok := j.Batches.Get(f.ID); ok {
			return ", " + r.Beer + void(r.Void)
		}
	case journal.KindReport:
		if r, ok := j.Reports.Get(f.ID); ok {
			return ", sent " + journal.FormatDate(r.Sent)
		}
	}
	return ""
}

// Tree is a walk: a record, how it was reached, and what comes after it.
type Tree struct {
	File  journal.File
	Why   string // "" for the start
	Below []Tree
	Again bool // shown in full elsewhere in the walk
}

// maxWalk bounds the records of one walk, so that a hostile web of references
// ends.
const maxWalk = 100_000

// Walk follows the references from a record, down to everything that depends on
// it or up to everything that it depends on. A record met a second time is shown
// without what is below it. A record B is in the walk down from A exactly when A
// is in the walk up from B.
func (g *Graph) Walk(start journal.File, down bool) Tree {
	seen := map[key]bool{keyOf(start): true}
	left := maxWalk
	next := func(l Link) journal.File {
		if down {
			return l.From
		}
		return l.To
	}
	links := func(f journal.File) []Link {
		if down {
			return g.down[keyOf(f)]
		}
		return g.up[keyOf(f)]
	}
	var visit func(f journal.File, why string) Tree
	visit = func(f journal.File, why string) Tree {
		t := Tree{File: f, Why: why}
		for _, l := range links(f) {
			to := next(l)
			if l.Side {
				continue
			}
			if left--; left < 0 {
				break
			}
			if seen[keyOf(to)] {
				t.Below = append(t.Below, Tree{File: to, Why: l.Why, Again: true})
				continue
			}
			seen[keyOf(to)] = true
			t.Below = append(t.Below, visit(to, l.Why))
		}
		return t
	}
	tree := visit(start, "")
	for _, l := range links(start) { // last, so that none of them hides its place in the walk
		if to := next(l); l.Side && keyOf(to) != keyOf(start) {
			tree.Below = append(tree.Below, Tree{File: to, Why: l.Why, Again: seen[keyOf(to)]})
			seen[keyOf(to)] = true
		}
	}
	return tree
}

// Reached lists the records of a walk once each, without its start, sorted by
// kind and id.
func (t Tree) Reached() []journal.File {
	var out []journal.File
	seen := map[key]bool{keyOf(t.File): true}
	var visit func(t Tree)
	visit = func(t Tree) {
		for _, b := range t.Below {
			if !seen[keyOf(b.File)] {
				seen[keyOf(b.File)] = true
				out = append(out, b.File)
			}
			visit(b)
		}
	}
	visit(t)
	slices.SortFunc(out, func(a, b journal.File) int {
		return cmp.Or(cmp.Compare(a.Kind, b.Kind), strings.Compare(a.ID, b.ID))
	})
	return out
}

func fileOf(r *journal.Record) journal.File {
	return journal.File{Kind: r.Kind, ID: r.ID, Path: r.Path}
}

// builder collects references.
type builder struct {
	j       *journal.Journal
	g       *Graph
	bySite  map[string][]*journal.Session // sorted by time of sampling
	byPaths map[string]journal.File
}

func (b *builder) add(from journal.File, kind journal.Kind, id, why string, side bool) {
	if id == "" {
		return
	}
	b.link(Link{From: from, To: b.file(kind, id), Why: why, Side: side})
}

func (b *builder) link(l Link) {
	if keyOf(l.From) == keyOf(l.To) {
		return
	}
	b.g.up[keyOf(l.From)] = append(b.g.up[keyOf(l.From)], l)
	b.g.down[keyOf(l.To)] = append(b.g.down[keyOf(l.To)], l)
}

// file is the record of a kind with an id, without a path where there is none.
func (b *builder) file(kind journal.Kind, id string) journal.File {
	for _, f := range b.j.Find(id) {
		if f.Kind == kind {
			return f
		}
	}
	return journal.File{Kind: kind, ID: id}
}

// any links to a record that is named by its id alone, whatever its kind.
func (b *builder) any(from journal.File, id, why string) {
	found := b.j.Find(id)
	if len(found) == 0 {
		b.link(Link{From: from, To: journal.File{ID: id}, Why: why})
	}
	for _, f := range found {
		b.link(Link{From: from, To: f, Why: why})
	}
}

func (b *builder) session(s *journal.Session) {
	f := fileOf(&s.Record)
	b.add(f, journal.KindSite, s.Site, "sampled there", false)
	for _, group := range []struct {
		kind journal.Kind
		word string
		id   func(r *journal.Reading) string
	}{
		{journal.KindLot, "tested with this lot: ", func(r *journal.Reading) string { return r.Lot }},
		{journal.KindInstrument, "measured with it: ", func(r *journal.Reading) string { return cmp.Or(r.Instrument, s.Instrument) }},
		{journal.KindMethod, "tested by this method: ", func(r *journal.Reading) string { return r.Method }},
	} {
		analytes := map[string][]string{}
		var order []string
		for i := range s.Readings {
			r := &s.Readings[i]
			if id := group.id(r); id != "" {
				if analytes[id] == nil {
					order = append(order, id)
				}
				analytes[id] = append(analytes[id], r.Analyte.String())
			}
		}
		for _, id := range order {
			b.add(f, group.kind, id, group.word+strings.Join(analytes[id], ", "), false)
		}
	}
	b.add(f, journal.KindLot, s.StandardLot, "check standard", false)
	b.add(f, journal.KindSession, s.DuplicateOf, "repeats it", true)
	b.add(f, journal.KindChange, s.Change, "verifies it", true)
	b.add(f, journal.KindBatch, s.Batch, "tested its liquor", true)
}

func (b *builder) change(c *journal.Change) {
	f := fileOf(&c.Record)
	b.add(f, journal.KindTarget, c.For, "meant for it", false)
	for _, basis := range c.Basis {
		b.add(f, journal.KindSession, basis.Session, "basis, "+basis.Share.String(), false)
	}
	b.additions(f, c.Add, "adds ")
	b.add(f, journal.KindChange, c.Supersedes, "supersedes it", true)
}

func (b *builder) additions(f journal.File, list []journal.Addition, word string) {
	for _, a := range list {
		b.add(f, journal.KindLot, a.Lot, word+a.Substance, false)
	}
}

func (b *builder) batch(r *journal.Batch) {
	f := fileOf(&r.Record)
	b.add(f, journal.KindChange, r.Change, "brewed with it", false)
	b.additions(f, r.Weighed, "weighed in ")
	b.add(f, journal.KindInstrument, r.MashInstrument, "measured with it: mash pH", false)
	linked := map[string]bool{}
	for _, id := range deciding {
		for _, part := range b.water(r, id) {
			if s := part.Session; !linked[s.ID] {
				linked[s.ID] = true
				b.link(Link{From: f, To: fileOf(&s.Record), Why: "newest session of " + s.Site + " when it was brewed"})
			}
		}
	}
}

// deciding are the values by whose newest sessions the water of a brew is
// known.
var deciding = []water.ID{water.Calcium, water.Sulfate, water.Chloride, water.Alkalinity}

// Part is one water of a blend: a session and its share of the whole.
type Part struct {
	Session *journal.Session
	Share   float64 // 0 to 1
}

// water is what one value of a batch's liquor was mixed of: for each basis of
// its change the newest routine session of that site at the time of brewing
// that has the value, since the water in the pipe is today's, not the one that
// the change was drawn up with. It is empty where batch or change do not say
// enough.
func (b *builder) water(r *journal.Batch, id water.ID) []Part {
	c, ok := b.j.Changes.Get(r.Change)
	if !ok {
		return nil
	}
	var parts []Part
	for _, basis := range c.Basis {
		planned, ok := b.j.Sessions.Get(basis.Session)
		if !ok {
			return nil
		}
		share, err := share(basis)
		if err != nil {
			return nil
		}
		newest := b.newest(planned.Site, r.Brewed, id)
		if newest == nil {
			newest = planned
		}
		parts = append(parts, Part{newest, share})
	}
	return parts
}

// newest is the last routine session of a site at or before a time that has a
// value; a time that is only a day counts to its end.
func (b *builder) newest(site string, at time.Time, id water.ID) *journal.Session {
	if b.bySite == nil {
		b.bySite = map[string][]*journal.Session{}
		for _, s := range b.j.Sessions.List {
			if judge.SiteWater(s) {
				b.bySite[s.Site] = append(b.bySite[s.Site], s)
			}
		}
		for _, list := range b.bySite {
			sort.SliceStable(list, func(i, k int) bool { return list[i].Sampled.Before(list[k].Sampled) })
		}
	}
	end := at
	if h, m, s := at.Clock(); h+m+s == 0 {
		end = at.AddDate(0, 0, 1)
	}
	list := b.bySite[site]
	n := sort.Search(len(list), func(i int) bool { return list[i].Sampled.After(end) })
	for n--; n >= 0; n-- {
		if v, _ := Reading(list[n], id, nil); !math.IsNaN(v) {
			return list[n]
		}
	}
	return nil
}

// covered links a sign-off to what it covers beyond the record that it is of
// and what that depends on, such as today's session in a renewal.
func (b *builder) covered(s *journal.Signoff) {
	f := fileOf(&s.Record)
	known := map[key]bool{}
	for _, l := range b.g.up[keyOf(f)] {
		known[keyOf(l.To)] = true
		for _, further := range b.g.up[keyOf(l.To)] {
			known[keyOf(further.To)] = true
		}
	}
	for _, p := range sortedKeys(s.Covers) {
		if to, ok := journal.FileOf(p); ok && !known[keyOf(to)] {
			b.add(f, to.Kind, to.ID, "covers it too", false)
		}
	}
}

func sortedKeys(m map[string]string) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

func (b *builder) report(r *journal.Report) {
	f := fileOf(&r.Record)
	if b.byPaths == nil {
		b.byPaths = map[string]journal.File{}
		for _, f := range b.j.Files {
			b.byPaths[f.Path] = f
		}
	}
	for _, p := range sortedKeys(r.RestsOn) {
		to, ok := b.byPaths[p]
		if !ok {
			if to, ok = journal.FileOf(p); !ok {
				to = journal.File{ID: strings.TrimSuffix(path.Base(p), ".md")}
			} else if moved := b.file(to.Kind, to.ID); moved.Path != "" {
				to = moved
			} else {
				to.Path = ""
			}
		}
		b.link(Link{From: f, To: to, Why: "reported it to " + strings.Join(r.To, ", ")})
	}
	b.add(f, journal.KindReport, r.Replaces, "replaces it", true)
}
