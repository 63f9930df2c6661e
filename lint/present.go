package lint

import (
	"maps"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
)

// wholeNow is how many sessions a look at the present always reads: more of them are known
// from the year up to a site's newest sample, and from its newest sessions.
const wholeNow = 20_000

// newestOfSite is how many sessions of a site are read however old they are: so that its water
// is known well, and the trend of its newest 60 readings.
const newestOfSite = 72

// FromTheFirst are rules that judge by the first readings of a site, by more than those of a
// year, or by the first uses of a lot: they are not asked where those were not read.
var FromTheFirst = []string{"site/control", "site/trend", "reagent/overdrawn", "reagent/unverified"}

// Present is the part of a journal that shows how its water is now, what is due, which lots
// are left and which changes wait.
type Present struct {
	j     *journal.Journal
	now   time.Time
	from  time.Time // every session from this day on is in it
	files map[string]bool
	sites map[string]bool // read whole
	of    int
	all   bool
	whole *Part // of one record: all that it touches
}

// NewPresent chooses the sessions of a journal that has all its other records. With all it
// leaves out none.
func NewPresent(j *journal.Journal, now time.Time, all bool) *Present {
	return newPresent(j, now, all, wholeNow, newestOfSite)
}

func newPresent(j *journal.Journal, now time.Time, all bool, whole, newestOfSite int) *Present {
	list := j.SessionFiles()
	p := &Present{j: j, now: now, of: len(list), files: map[string]bool{}, sites: map[string]bool{}}
	if p.all = all || len(list) <= whole || len(j.Settings.Policy.Required) > 0; p.all {
		return p
	}
	p.from = journal.Day(now.In(zoneOr(j.Settings.Zone))).AddDate(-1, 0, -1)
	waters := &partBuilder{j: j, p: &Part{Part: journal.Part{Files: map[string]bool{}, Sites: p.sites}}, changes: map[string]bool{}}
	for _, c := range j.Changes.List {
		waters.change(c.ID)
	}
	p.atMembranes(waters, list)
	series := map[string][]journal.File{}
	today := now.AddDate(0, 0, 1).Format(time.DateOnly)
	for _, f := range list {
		if site := j.SiteNamed(f.ID); site != "" && day(f) <= today {
			series[site] = append(series[site], f)
		}
		if day(f) >= p.from.Format(time.DateOnly) || waters.p.Holds(j, f) {
			p.files[f.Path] = true
		}
	}
	for _, files := range series {
		slices.SortStableFunc(files, func(a, b journal.File) int { return strings.Compare(day(b), day(a)) })
		newest, _ := journal.ParseDate(day(files[0]))
		year := newest.AddDate(-1, 0, -1).Format(time.DateOnly)
		for n, f := range files {
			if n >= newestOfSite && day(f) < year {
				break
			}
			p.files[f.Path] = true
		}
	}
	return p
}

// day is that of a session by its name.
func day(f journal.File) string { return f.ID[:min(len(f.ID), len(time.DateOnly))] }

// atMembranes adds the first days of each membrane, and those after what was done to it: its
// salt passage is compared with that.
func (p *Present) atMembranes(b *partBuilder, list []journal.File) {
	const settling = 30 * 24 * time.Hour // common practice, no source
	for _, site := range p.j.Sites.List {
		if site.Stage != journal.StagePermeate || len(site.FedBy) == 0 {
			continue
		}
		first := ""
		for _, f := range list {
			if d := day(f); (first == "" || d < first) && p.j.SiteNamed(f.ID) == site.ID {
				first = d
			}
		}
		if d, err := journal.ParseDate(first); err == nil {
			b.days(d, d.Add(settling))
		}
		for _, e := range p.j.Events.List {
			if slices.ContainsFunc(e.Sites, func(id string) bool { return id == site.ID || feeds(p.j, id, site.ID, 4) }) {
				b.days(e.On, e.On.Add(settling))
			}
		}
	}
}

// Whole reports whether it leaves nothing out; nil does not.
func (p *Present) Whole() bool { return p == nil || p.all }

// Read is how many sessions are in the part, of how many that may bear on what is judged.
func (p *Present) Read() (n, of int) {
	if p.all {
		return p.of, p.of
	}
	return len(p.files), p.of
}

// longSeries is how many sessions of a site are read whole to judge one of them; of a longer
// series its first ones, that set its control limits, and those around.
const longSeries, firstOfSite = 900, 100

// Around loads what one record is judged by. Of a session that is the series of its site and of
// those that share its water, of a long one the first sessions and those of the year before,
// and what the bench did on the days around;
// then [Present.Judge] reads more where something is found. It is nil where all that the
// record touches was loaded.
func Around(j *journal.Journal, f journal.File, opt journal.Options) *Present {
	_, record, _ := j.ReadRecord(f)
	whole := PartOf(j, []Touched{{File: f, Before: record, After: record}})
	p := &Present{j: j, files: map[string]bool{}, sites: map[string]bool{}}
	s, ok := record.(*journal.Session)
	if !ok || whole.Everything || s.Sampled.IsZero() {
		p.load(func(f journal.File) bool { return whole.Holds(j, f) }, opt)
		return nil
	}
	p.whole = whole
	b := &partBuilder{j: j, p: &Part{Part: journal.Part{Files: p.files, Sites: map[string]bool{}}}}
	b.days(s.Sampled, s.Sampled)
	b.lots(s)
	if site, ok := j.Sites.Get(s.Site); ok && site.Stage == journal.StagePermeate {
		p.atMembranes(b, j.SessionFiles())
	}
	p.files[f.Path] = true
	series := map[string][]journal.File{}
	for _, f := range j.SessionFiles() {
		switch site := j.SiteNamed(f.ID); {
		case site == "" || b.p.On(day(f)):
			p.files[f.Path] = true
		case whole.Sites[site]:
			series[site] = append(series[site], f)
		}
	}
	from, to := s.Sampled.AddDate(-1, 0, -1).Format(time.DateOnly), s.Sampled.AddDate(0, 1, 0).Format(time.DateOnly)
	for _, list := range series {
		slices.SortStableFunc(list, func(a, b journal.File) int { return strings.Compare(day(a), day(b)) })
		before := 0
		for _, f := range list {
			if day(f) <= to {
				before++
			}
		}
		for n, f := range list {
			if len(list) <= longSeries || n < firstOfSite || from <= day(f) && day(f) <= to || before-newestOfSite <= n && n < before {
				p.files[f.Path] = true
			}
		}
	}
	p.of = 0
	for _, f := range j.SessionFiles() {
		if p.files[f.Path] || whole.Holds(j, f) {
			p.of++
		}
	}
	p.load(func(f journal.File) bool { return p.files[f.Path] }, opt)
	return p
}

// Judge runs the linter on one record of those that were loaded. Where a rule that sees a
// site's history or the bench finds something, everything that the record touches is read,
// and it is judged again.
func (p *Present) Judge(j *journal.Journal, opt Options) []Diagnostic {
	if p == nil {
		return Run(j, opt).Diagnostics
	}
	opt.Part = p.Part(opt.Paths)
	found := Run(j, opt).Diagnostics
	if p.all || !slices.ContainsFunc(found, func(d Diagnostic) bool {
		r, known := Find(d.Rule)
		return !known || r.Reach != OfRecord
	}) {
		return found
	}
	p.load(func(f journal.File) bool { return !p.files[f.Path] && p.whole.Holds(j, f) }, journal.Options{Check: true})
	opt.Part = nil
	return Run(j, opt).Diagnostics
}

// Load loads the sessions of the part, and what they show to be missing: tests whose last one
// is older, lots whose use began before.
func (p *Present) Load(opt journal.Options) {
	if p.all {
		p.j.LoadMore(p.j.SessionFiles(), opt)
		return
	}
	p.load(func(f journal.File) bool { return p.files[f.Path] }, opt)
	for more := true; more && !p.all; {
		more = p.Widen(p.unknown(), opt)
		if judge.UsedBefore(p.j, p.from, p.now) {
			p.from, more = p.from.AddDate(-1, 0, 0), true
			p.load(func(f journal.File) bool { return !p.files[f.Path] && day(f) >= p.from.Format(time.DateOnly) }, opt)
		}
	}
}

// Widen loads the whole series of some sites; it is false where there are none.
func (p *Present) Widen(sites map[string]bool, opt journal.Options) bool {
	if p == nil || p.all || len(sites) == 0 {
		return false
	}
	maps.Copy(p.sites, sites)
	p.load(func(f journal.File) bool {
		return !p.files[f.Path] && slices.ContainsFunc(p.j.SitesNamed(f.ID), func(id string) bool { return sites[id] })
	}, opt)
	return true
}

func (p *Present) load(wanted func(f journal.File) bool, opt journal.Options) {
	var more []journal.File
	for _, f := range p.j.SessionFiles() {
		if wanted(f) {
			p.files[f.Path] = true
			more = append(more, f)
		}
	}
	p.j.LoadMore(more, opt)
	p.all = len(p.files) == p.of
}

// unknown are sites of which it is not known when something was tested last, though there
// are sessions that were not read.
func (p *Present) unknown() map[string]bool {
	seen := map[string]bool{}
	for _, s := range p.j.Sessions.List {
		seen[s.Site] = true
	}
	out := map[string]bool{}
	for _, site := range p.j.Sites.List {
		out[site.ID] = !seen[site.ID]
	}
	for _, d := range judge.Due(p.j, p.now) {
		for _, a := range d.Analytes {
			out[d.Site.ID] = out[d.Site.ID] || a.Last.IsZero()
		}
	}
	maps.DeleteFunc(out, func(id string, wanted bool) bool { return !wanted || p.sites[id] })
	return out
}

// Part is what of the loaded sessions is judged: those at some paths, by all that was read.
// It is nil where that is the whole journal.
func (p *Present) Part(paths []string) *Part {
	if p == nil || p.all {
		return nil
	}
	part := &Part{Part: journal.Part{Files: p.files, Sites: map[string]bool{}}, alone: map[string]bool{}, only: true}
	for _, path := range paths {
		part.alone[path] = true
	}
	for _, site := range p.j.Sites.List {
		part.Sites[site.ID] = true
	}
	return part
}
