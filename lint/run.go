package lint

import (
	"cmp"
	"path"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/judge"
)

// Options say what Run looks at.
type Options struct {
	// Paths are files or folders of the journal, relative to its root: only
	// findings in them are shown. Empty: all.
	Paths []string
	Now   time.Time
	// Only and Skip name rules or families; Only runs no others, even those that settings
	// turn off.
	Only, Skip []string
	// History is what Git knows; nil without a repository. Rules that need it
	// do not run then.
	History GitHistory
	// Memory is of the run before over this journal; nil: there is none.
	Memory *Memory
	// Facts are what sign-offs are judged by: the mainline, or why it cannot be
	// read. The zero Facts let the journal's own people and policy count.
	Facts evidence.Facts
	// Base is the branch that the journal is to be merged into; nil: none is
	// named. Its settings judge, so that a branch cannot loosen what it is
	// judged by, and record/guard-changed shows what it changes of them.
	Base *Base
	// Part is what of the journal was loaded to compare it with another state; nil: all
	// of it.
	Part *Part
}

// Base is a revision that a branch is judged by.
type Base struct {
	Name    string           // as the person named it: "main"
	Journal *journal.Journal // as it is there; sessions are not needed
	Files   []string         // further files that decide what is shown, such as a baseline
	// Signed reports whether enough authorised others signed a file as it is here;
	// why says what is missing. Nil: nothing is signed.
	Signed func(path string) (ok bool, why string)
}

// Result is what Run found: diagnostics sorted by path, line, column and rule.
type Result struct {
	Diagnostics     []Diagnostic
	Files, Sessions int     // looked at
	House           []*Rule // the rules of the journal's house
}

// Rules lists the rules that findings can be of.
func (r Result) Rules() []*Rule { return append(Rules(), r.House...) }

// UnsafeOnly counts the findings whose fixes are all unsafe.
func (r Result) UnsafeOnly() int {
	n := 0
	for _, d := range r.Diagnostics {
		if !d.Fixable() && slices.ContainsFunc(d.Fixes, func(f Fix) bool { return f.byItself(true) }) {
			n++
		}
	}
	return n
}

// Count is the number of findings of a severity.
func (r Result) Count(s Severity) int {
	n := 0
	for i := range r.Diagnostics {
		if r.Diagnostics[i].Severity == s {
			n++
		}
	}
	return n
}

// active is a rule that runs, with its settings.
type active struct {
	rule     *Rule
	severity Severity
	set      bool // the settings name a severity
	values   []float64
	vary     *variants // nil where all files have the same settings
}

// run is one run over a journal.
type run struct {
	j      *journal.Journal
	opt    Options
	paths  []string
	files  map[string]bool // the paths
	rules  []*Rule         // of the program and of the house
	active map[string]*active
	scopes [Whole + 1][]*active
	facts  facts
	found  []*Finding

	limitOnce sync.Once
	inForce   *judge.Limits

	siteOnce   sync.Once
	siteByPath map[string]string

	silenceOnce sync.Once
	silences    map[string]*journal.Record // the records that silence rules, by path
}

// Run judges a journal that was loaded with Options{Check: true, Sessions:
// true}. It never fails: what cannot be judged is not.
func Run(j *journal.Journal, opt Options) Result {
	if opt.Base != nil {
		judged := *j
		judged.Settings = opt.Base.Journal.Settings
		j = &judged
	}
	if opt.Part == nil {
		j, opt.Part = partOfPaths(j, opt.Paths)
	}
	r := &run{j: j, opt: opt, active: map[string]*active{}}
	for _, p := range opt.Paths {
		if p = path.Clean(strings.ReplaceAll(p, "\\", "/")); p == "." {
			r.paths, r.files = nil, nil
			break
		}
		if r.paths = append(r.paths, p); r.files == nil {
			r.files = map[string]bool{}
		}
		r.files[p] = true
	}
	r.facts.run = r
	r.configure()
	r.form()
	if r.asksHistory() {
		go opt.History.Gone() // history is read while the rules are run that do not ask for it
	}
	causes := r.beginCauses()
	r.sites()
	git := func(a *active) bool { return a.rule.asksHistory() }
	engine := func(a *active) bool { return a.rule.Family == FamilyCause }
	files := func(a *active) bool { return !git(a) && !engine(a) }
	if !opt.Part.partial() {
		r.sessions(files)
	}
	r.whole(files)
	<-causes
	r.whole(engine)
	r.whole(git)
	if opt.Part.partial() {
		r.sessions(files) // after them: those that something was found in are judged
	}
	r.sessions(git)
	r.leaveOutUnread()
	r.gatherBlamed()
	r.silence()
	r.gatherZone()
	r.gatherMissing()
	r.leaveOutFollowing()
	r.leaveOutImplied() // after it: what somebody has silenced implies nothing
	r.leaveOutDosed()
	r.place()
	return r.result()
}

// beginCauses lets the engine, which takes one session after another, work on one core while
// other rules are run on the others. The channel is closed when it is done.
func (r *run) beginCauses() <-chan struct{} {
	done := make(chan struct{})
	asked := slices.ContainsFunc(r.scopes[Whole], func(a *active) bool { return a.rule.Family == FamilyCause && a.severity != Off })
	if !asked {
		close(done)
		return done
	}
	r.facts.histories()
	go func() {
		defer close(done)
		r.facts.causes()
	}()
	return done
}

// asksHistory reports whether any rule that runs asks Git.
func (r *run) asksHistory() bool {
	return r.opt.History != nil && slices.ContainsFunc(slices.Concat(r.scopes[Session], r.scopes[Whole]), func(a *active) bool { return a.rule.asksHistory() })
}

func (r *Rule) asksHistory() bool { return r.NeedsHistory || r.AsksHistory }

// wanted reports whether findings in a file are shown.
func (r *run) wanted(p string) bool {
	if len(r.files) == 0 || r.files[p] {
		return true
	}
	for end := strings.LastIndexByte(p, '/'); end > 0; end = strings.LastIndexByte(p[:end], '/') {
		if r.files[p[:end]] {
			return true
		}
	}
	return false
}

// form takes over what reading the journal found.
func (r *run) form() {
	for i := range r.j.Problems {
		p := &r.j.Problems[i]
		f := &Finding{at: true}
		f.d = Diagnostic{Path: p.Path, Line: p.Line, Column: p.Column, Start: p.Start, End: p.End, Severity: Error, Rule: p.Rule, Message: p.Message, Help: p.Help, Bars: true}
		if a, ok := r.active[p.Rule]; ok {
			if f.d.Severity = a.at(r, p.Path).severity; f.d.Severity == Off {
				continue
			}
		} else if _, known := Find(p.Rule); known {
			continue
		}
		if p.Warning {
			f.atMost(Warning)
		}
		if f.d.Fixes = fixesOf(p); p.Fix == nil && p.Rule == "format/encoding" && p.Warning {
			f.mend = mendEncoding
		}
		r.found = append(r.found, f)
	}
}

// chosen are the rules of a scope that are of one sort.
func (r *run) chosen(scope Scope, of func(a *active) bool) []*active {
	return slices.DeleteFunc(slices.Clone(r.scopes[scope]), func(a *active) bool { return !of(a) })
}

// sessions runs the rules of single sessions that are of one sort, on every core.
func (r *run) sessions(of func(a *active) bool) {
	rules := r.chosen(Session, of)
	if len(rules) == 0 {
		return
	}
	list := r.j.Sessions.List
	r.opt.Part.add(r.found)
	r.share(len(list), 256, func(w *Pass, i int) {
		s := list[i]
		if s.Void != nil || !r.wanted(s.Path) || !r.opt.Part.judges(s) {
			return
		}
		w.Session = s
		for _, a := range rules {
			if w.rule = a.at(r, s.Path); w.rule.severity != Off {
				a.rule.Check(w)
			}
		}
	})
}

// sites runs the rules of a site's history, each site on one core.
func (r *run) sites() {
	rules := r.scopes[History]
	if len(rules) == 0 {
		return
	}
	histories := r.facts.histories()
	r.share(len(histories), 1, func(w *Pass, i int) {
		h := histories[i]
		if !r.wantedSite(h) || !r.opt.Part.whole(h.ID) {
			return
		}
		w.Site = h
		for _, a := range rules {
			w.check(a)
		}
		h.forget()
	})
}

// wantedSite reports whether any finding of a site's history could be shown.
func (r *run) wantedSite(h *SiteHistory) bool {
	if len(r.files) == 0 || h.Site != nil && r.wanted(h.Site.Path) {
		return true
	}
	return slices.ContainsFunc(h.All, func(s *journal.Session) bool { return r.wanted(s.Path) })
}

// whole runs the rules of one sort that look at everything.
func (r *run) whole(of func(a *active) bool) {
	rules := r.chosen(Whole, of)
	r.share(len(rules), 1, func(w *Pass, i int) {
		w.check(rules[i])
	})
}

// check runs a rule that looks at several records: once for each of its variants, whose
// findings are those of the files that have it.
func (w *Pass) check(a *active) {
	for _, w.rule = range a.all(w.run) {
		if w.rule.severity != Off {
			w.rule.rule.Check(w)
		}
	}
}

// share does n pieces of work on every core, each core with a Pass of its own,
// and gathers what was found.
func (r *run) share(n, chunk int, do func(w *Pass, i int)) {
	workers := max(1, min(runtime.GOMAXPROCS(0), (n+chunk-1)/chunk))
	found := make([][]*Finding, workers)
	var next atomic.Int64
	var wait sync.WaitGroup
	for k := range workers {
		wait.Add(1)
		go func() {
			defer wait.Done()
			w := &Pass{Journal: r.j, Now: r.opt.Now, Git: r.opt.History, run: r, found: &found[k], cache: &sessionCache{}}
			for {
				end := int(next.Add(int64(chunk)))
				if end-chunk >= n {
					return
				}
				for i := end - chunk; i < min(end, n); i++ {
					do(w, i)
				}
			}
		}()
	}
	wait.Wait()
	for _, list := range found {
		r.found = append(r.found, list...)
	}
}

// result sorts the findings that are shown.
func (r *run) result() Result {
	out := Result{House: r.rules[len(registry):]}
	for _, f := range r.found {
		if f.d.Severity != Off && r.wanted(f.d.Path) {
			f.d.Bars = f.d.Bars && f.d.Severity == Error
			for _, o := range f.see {
				f.d.Related = append(f.d.Related, Place{o.d.Path, o.d.Line, o.d.Column, o.d.EndColumn, o.d.Start, o.d.End, o.d.Message})
			}
			out.Diagnostics = append(out.Diagnostics, f.d)
		}
	}
	slices.SortStableFunc(out.Diagnostics, func(a, b Diagnostic) int {
		return cmp.Or(cmp.Compare(a.Path, b.Path), cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column),
			cmp.Compare(a.Rule, b.Rule), cmp.Compare(a.Message, b.Message))
	})
	if r.wanted(journal.SettingsFile) {
		out.Files++
	}
	for _, f := range r.j.Files {
		if r.wanted(f.Path) && (f.Kind != journal.KindSession || r.opt.Part == nil || r.opt.Part.Holds(r.j, f)) {
			out.Files++
			if f.Kind == journal.KindSession {
				out.Sessions++
			}
		}
	}
	return out
}
