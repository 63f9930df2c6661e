package lint

import (
	"io/fs"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/lint/cause"
	"wj/water"
)

// What could not be read is reported where it is. What other rules see of its absence follows
// from that: a role that is no word, a limit without a unit, a sample without a day.

// unread are the errors of form that reading the journal found.
type unread struct {
	at    map[string][]int // their places, by path
	sites map[string]bool  // of whose sessions one has a reading or a day that cannot be believed
}

// leaveOutUnread takes out what follows from what could not be read.
func (r *run) leaveOutUnread() {
	u := unread{map[string][]int{}, map[string]bool{}}
	for _, f := range r.found {
		site := ""
		switch {
		case f.at && (f.d.Severity == Error || f.d.Rule == formatID.Name):
			u.at[f.d.Path] = append(u.at[f.d.Path], f.d.Start)
			if s := r.sessionAt(f.d.Path); s != nil {
				site = s.Site
			}
		case f.verdict != nil && f.verdict.Best.Kind == cause.Bottle:
			site = r.facts.causes().sites[f.verdict.Best.With].Name
		}
		if site != "" {
			u.sites[site] = true
		}
	}
	if len(u.at)+len(u.sites) == 0 {
		return
	}
	lines := map[string]bool{}
	within := func(path string, keys ...string) bool {
		if u.at[path] == nil || len(keys) == 0 {
			return false
		}
		line := path + " " + strings.Join(keys, " ")
		drop, known := lines[line]
		if !known {
			start, end := r.extent(path, keys)
			drop = slices.ContainsFunc(u.at[path], func(n int) bool { return start <= n && n <= end })
			lines[line] = drop
		}
		return drop
	}
	settings := within(journal.SettingsFile, "limits")
	r.found = slices.DeleteFunc(r.found, func(f *Finding) bool {
		if f.at {
			return false
		}
		if f.blame != nil && within(f.blame.path, f.blame.keys...) {
			return true
		}
		of := FamilyOf(f.d.Rule) == FamilyLimit && f.d.Rule != limitHealth.Name
		if !of && f.d.Rule != siteTrend.Name {
			return false
		}
		s := r.sessionAt(f.d.Path)
		if s == nil {
			return false
		}
		if u.at[f.d.Path] == nil && u.sites[s.Site] && (f.d.Rule == limitProbable.Name || f.d.Rule == siteTrend.Name) {
			return true // which is the newest is not known
		}
		site, ok := r.j.Sites.Get(s.Site)
		return of && (settings || ok && within(site.Path, "limits"))
	})
}

// extent is where a field is in its file, key and all; of one that is not there, what it would be in.
func (r *run) extent(path string, keys []string) (start, end int) {
	var d frontmatter.Document
	src, err := fs.ReadFile(r.j.FS, path)
	if err != nil {
		return 0, 0
	}
	if path == journal.SettingsFile {
		d.ParseYAML(src)
	} else {
		d.Parse(src)
	}
	for n := len(keys); n > 0; n-- {
		if i, ok := d.FindPath(keys[:n]...); ok {
			at := &d.Nodes[i]
			if start = int(at.Start); at.KeyStart >= 0 {
				start = int(at.KeyStart)
			}
			return start, int(at.End)
		}
	}
	return 0, 0
}

// leaveOutDosed takes out what a reading that cannot be believed does to the changes that are
// computed from it: the finding on the reading says how many there are.
func (r *run) leaveOutDosed() {
	doubted, newest, unread := map[string]*Finding{}, map[string]*Finding{}, map[string]bool{}
	type test struct {
		site string
		id   water.ID
	}
	tests := map[test]bool{}
	for _, f := range r.found {
		unread[f.d.Path] = unread[f.d.Path] || f.at && f.d.Severity == Error
		if f.at && f.d.Severity == Error || f.verdict != nil || slices.Contains(unbelieved, f.d.Rule) {
			if s := r.sessionAt(f.d.Path); s != nil && r.wanted(f.d.Path) {
				doubted[s.ID] = f
				if f.verdict != nil {
					newest[s.Site] = f
				}
				tests[test{s.Site, f.analyte()}] = true
			}
		}
	}
	if len(doubted)+len(unread) == 0 {
		return
	}
	r.found = slices.DeleteFunc(r.found, func(f *Finding) bool {
		switch f.d.Rule {
		case recordSilenced.Name:
			s := r.sessionAt(f.d.Path)
			site := (*journal.Site)(nil)
			if s != nil {
				site, _ = r.j.Sites.Get(s.Site)
			}
			return unread[f.d.Path] || site != nil && unread[site.Path]
		case siteControl.Name, siteTrend.Name: // of the other readings of the same test
			s := r.sessionAt(f.d.Path)
			return s != nil && doubted[s.ID] == nil && f.analyte() != water.NumNames && tests[test{s.Site, f.analyte()}]
		}
		return false
	})
	depend := map[string]map[string]bool{}
	by, moved := map[string][]*Finding{}, map[string]*Finding{} // of the basis; of a later session of one of its waters
	for _, c := range r.j.Changes.List {
		for _, b := range c.Basis {
			if f := doubted[b.Session]; f != nil {
				by[c.Path] = append(by[c.Path], f)
			}
			if s, ok := r.j.Sessions.Get(b.Session); ok && newest[s.Site] != nil && s.Sampled.Before(r.sessionAt(newest[s.Site].d.Path).Sampled) {
				moved[c.Path] = newest[s.Site]
			}
		}
	}
	r.found = slices.DeleteFunc(r.found, func(f *Finding) bool {
		if f.at {
			return false
		}
		because := moved[f.d.Path]
		if f.d.Rule != changeLapsed.Name || because == nil {
			at := slices.IndexFunc(by[f.d.Path], func(d *Finding) bool { return d.moves(f) })
			if at < 0 {
				return false
			}
			because = by[f.d.Path][at]
		}
		if depend[because.d.Path] == nil {
			depend[because.d.Path] = map[string]bool{}
		}
		if !depend[because.d.Path][f.d.Path] {
			depend[because.d.Path][f.d.Path] = true
			because.See(f.d.Path, f.keys, "it is computed from this")
		}
		return true
	})
}

// moves reports whether a finding on a session explains one on a change that is computed from
// it: what it says of a reading, all that differs by that reading; of another thing, that
// something cannot be computed, or how sure it is.
func (f *Finding) moves(other *Finding) bool {
	switch other.d.Rule {
	case changeLapsed.Name, doseIonMax.Name:
		return f.verdict != nil && (other.d.Rule == changeLapsed.Name || len(other.keys) == 1)
	case changeRecompute.Name, changeTarget.Name:
	default:
		return false
	}
	of := f.doubted
	if id := f.analyte(); f.verdict == nil && id != water.NumNames {
		of = map[water.ID]bool{id: true}
	}
	switch {
	case other.aside && f.verdict == nil:
		return len(of) == 0 || other.ofReadings(of)
	case len(of) > 0:
		return other.ofReadings(of)
	}
	return f.verdict != nil
}

// ofReadings reports whether all that a finding on a change says differs is computed from
// these readings, among others.
func (f *Finding) ofReadings(of map[water.ID]bool) bool {
	computed := func(x *Finding) bool {
		if len(x.keys) < 2 || x.keys[0] != "expect" {
			return false
		}
		id, ok := water.Lookup(x.keys[1])
		from := madeOf[id]
		if from == nil {
			from = summed
		}
		return ok && (of[id] || slices.ContainsFunc(from, func(r water.ID) bool { return of[r] }))
	}
	return computed(f) && !slices.ContainsFunc(f.see, func(x *Finding) bool { return !computed(x) })
}

// madeOf are the readings that a treated water's figure is made of; of what is not here, all
// that enter the sums.
var madeOf = map[water.ID][]water.ID{
	water.Chloride: {water.Chloride}, water.Sulfate: {water.Sulfate}, water.Nitrate: {water.Nitrate}, water.Potassium: {water.Potassium},
	water.Calcium:    {water.Calcium, water.CalciumHardness},
	water.Magnesium:  {water.Magnesium, water.MagnesiumHardness, water.TotalHardness, water.Calcium, water.CalciumHardness},
	water.Alkalinity: {water.Alkalinity, water.Bicarbonate}, water.Bicarbonate: {water.Alkalinity, water.Bicarbonate, water.PHValue},
	water.ResidualAlkalinity: {water.Alkalinity, water.Bicarbonate, water.Calcium, water.Magnesium, water.MagnesiumHardness, water.TotalHardness, water.CalciumHardness},
}

// unbelieved are the exact findings by which a reading is none.
var unbelieved = []string{"range/impossible", "range/over", "range/under", "chemistry/calcium-over-total", "unit/instrument", "ref/contradicts"}
