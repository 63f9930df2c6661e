package journal

import (
	"slices"
	"strings"
)

// Part is the sessions that a question touches: some files, and what the
// names of their files say of some sites. A session's id is its day and its
// site, 2026-03-04-north-well; one whose name carries no site of the journal is
// in every part.
type Part struct {
	Everything bool
	Files      map[string]bool // by path
	Sites      map[string]bool // whole series, by the site's id
	Days       [][2]string     // first and last day, 2026-03-04, of what is in, at any site
}

// Holds says whether a session is in the part; it is an [Options] Only.
func (p *Part) Holds(j *Journal, f File) bool {
	if p.Everything || p.Files[f.Path] {
		return true
	}
	if len(f.ID) > len("2026-03-04") && p.On(f.ID[:len("2026-03-04")]) {
		return true
	}
	sites := j.SitesNamed(f.ID)
	return len(sites) == 0 || slices.ContainsFunc(sites, func(site string) bool { return p.Sites[site] })
}

// On says whether all sessions of a day are in the part.
func (p *Part) On(day string) bool {
	return slices.ContainsFunc(p.Days, func(d [2]string) bool { return d[0] <= day && day <= d[1] })
}

// SitesNamed gives the sites that a session's id carries: mostly one; several
// where one site's id begins with another's.
func (j *Journal) SitesNamed(id string) []string {
	if len(id) < len("2026-03-04-x") {
		return nil
	}
	name := id[len("2026-03-04-"):]
	var sites []string
	for {
		if _, ok := j.Sites.Get(name); ok {
			sites = append(sites, name)
		}
		at := strings.LastIndexByte(name, '-')
		if at < 0 {
			return sites
		}
		name = name[:at]
	}
}

// SiteNamed gives the longest of them, "" where there is none.
func (j *Journal) SiteNamed(id string) string {
	if len(id) < len("2026-03-04-x") {
		return ""
	}
	for name := id[len("2026-03-04-"):]; ; {
		if _, ok := j.Sites.Get(name); ok {
			return name
		}
		at := strings.LastIndexByte(name, '-')
		if at < 0 {
			return ""
		}
		name = name[:at]
	}
}
