package main

import (
	"embed"
	"fmt"
	"path"
	"regexp"
	"sort"
	"strings"
	"time"

	"github.com/rogpeppe/go-internal/txtar"
)

//go:embed written/*.txtar
var written embed.FS

// version is a file's content from a moment on, and who brought it there.
type version struct {
	path    string
	at      time.Time
	who     string
	message string
	branch  string // where it was committed first; "" is the main branch
	content string
}

// journal collects the versions of every file.
type journal struct {
	versions []version
	sessions map[string]*session
}

func (j *journal) add(name string, at time.Time, who, message, content string) {
	j.versions = append(j.versions, version{path: name, at: at, who: who, message: message, content: content})
}

// latest is the final content of each file.
func (j *journal) latest() map[string][]byte {
	sort.SliceStable(j.versions, func(a, b int) bool { return j.versions[a].at.Before(j.versions[b].at) })
	out := map[string][]byte{}
	for _, v := range j.versions {
		out[v.path] = []byte(v.content)
	}
	return out
}

// asOf is the content of each file at a moment, once the versions are sorted.
func (j *journal) asOf(at time.Time) map[string][]byte {
	out := map[string][]byte{}
	for _, v := range j.versions {
		if !v.at.After(at) {
			out[v.path] = []byte(v.content)
		}
	}
	return out
}

// build makes every file of the example journal and of its story.
func build() (map[string][]byte, error) {
	j, merges, err := compose()
	if err != nil {
		return nil, err
	}
	files := j.latest()
	if err := j.story(files, merges); err != nil {
		return nil, err
	}
	return files, nil
}

func compose() (*journal, []version, error) {
	j := &journal{sessions: map[string]*session{}}
	if err := j.handWritten(); err != nil {
		return nil, nil, err
	}
	j.town()
	j.bench()
	merges, err := j.treatment()
	if err != nil {
		return nil, nil, err
	}
	return j, merges, j.digests()
}

// handWritten reads written/*.txtar: the files' names carry when, who and why,
// and an earlier state of a file stands before a later one.
func (j *journal) handWritten() error {
	entries, err := written.ReadDir("written")
	if err != nil {
		return fmt.Errorf("read the written records: %w", err)
	}
	for _, e := range entries {
		raw, err := written.ReadFile("written/" + e.Name())
		if err != nil {
			return fmt.Errorf("read the written records: %w", err)
		}
		for _, f := range txtar.Parse(raw).Files {
			part := strings.Split(f.Name, " | ")
			if len(part) != 4 {
				return fmt.Errorf("read %s: %q is not path | when | who | message", e.Name(), f.Name)
			}
			at, err := time.ParseInLocation("2006-01-02T15:04", part[1], vilnius)
			if err != nil {
				return fmt.Errorf("read %s, %s: %w", e.Name(), part[0], err)
			}
			j.add(part[0], at, part[2], strings.ReplaceAll(part[3], `\n`, "\n"), string(f.Data))
		}
	}
	return nil
}

// town writes the site whose supply changes, as its periods became known.
func (j *journal) town() {
	for n := range supply {
		var b strings.Builder
		b.WriteString(`---
name: Town main, tap in the cellar
owner: quillmarsh
stage: intake
place: [55.7012, 19.0421]
radius: 150 m
schedule:
  - {every: 15 d, analytes: [pH, alkalinity, calcium_hardness, total_hardness, chloride, sulfate, free_chlorine, conductivity, temperature]}
supply:
`)
		for i, s := range supply[:n+1] {
			fmt.Fprintf(&b, "  - {since: %s", s.since)
			if s.until != "" && i < n {
				fmt.Fprintf(&b, ", until: %s", s.until)
			}
			fmt.Fprintf(&b, ", regime: %s, evidence: %q}\n", s.regime, s.evidence)
		}
		b.WriteString("---\n\nOstrel Waterworks. Reservoir from October to April, wells from May to September, give or take a week;\nthe change comes overnight and they do not always tell us. Flush three minutes.\n")
		at, message := clockTime("2023-10-06", "09:30"), "Start the water journal"
		if n > 0 {
			at = clockTime(supply[n].since, "11:30")
			message = fmt.Sprintf("town-main: %s since %s\n\nReason: %s", supply[n].regime, supply[n].since, supply[n].evidence)
		}
		if n == 1 {
			at = clockTime("2024-05-06", "12:10")
		}
		j.add("sites/town-main.md", at, "ines", message, b.String())
	}
}

// bench writes reagent packs and sessions.
func (j *journal) bench() {
	all := plan()
	for _, s := range all {
		j.sessions[s.id] = s
	}
	// The session under the wrong site counts as tests used, and gets its
	// readings from the well's once those are measured.
	well := j.sessions["2024-11-18-north-well"]
	wrong := wrongSite(well)
	all = append(all, wrong)
	sort.SliceStable(all, func(a, b int) bool { return all[a].sampled.Before(all[b].sampled) })
	packs := stock(all)
	onBadLot := func(s *session) bool {
		r := s.reading("sulfate")
		return r != nil && r.lot == "SU-2507"
	}
	for _, s := range all {
		if s.source == "lab" {
			s.readings = labReadings(s)
		} else if s != wrong {
			measure(s)
		}
		if s == wrong {
			continue
		}
		s.body = said(s)
	}
	*wrong = *wrongSite(well)
	j.sessions[wrong.id] = wrong
	j.packs(packs)
	for _, s := range all {
		j.session(s, onBadLot(s))
	}
}

func (j *journal) packs(packs []*lot) {
	arrive, open := map[string][]string{}, map[string][]string{}
	for _, l := range packs {
		arrive[l.received] = append(arrive[l.received], l.id)
		open[l.opened] = append(open[l.opened], l.id)
	}
	for _, l := range packs {
		name := "lots/" + l.id + ".md"
		clock := "14:20"
		if l.received == "2023-10-06" {
			clock = "09:45"
		}
		j.add(name, clockTime(l.received, clock), "ines", "Receive "+strings.Join(arrive[l.received], ", "), l.text(0))
		j.add(name, clockTime(l.opened, "07:02"), "ines", "Open "+strings.Join(open[l.opened], ", "), l.text(1))
		switch l.id {
		case "SU-2507":
			j.add(name, clockTime("2025-10-14", "08:55"), "ines", "Withdraw SU-2507: standard of 100 reads 82 and 81", l.text(2))
			j.add(name, clockTime("2025-11-03", "11:20"), "ines", "Mark SU-2507 as recalled\n\nReason: maker's notice of 3 November", l.text(3))
		case "AL-2409":
			j.add(name, clockTime("2024-11-20", "10:55"), "ines", "AL-2409: two portions lost to steam", l.text(2))
		case "AL-2509", "CL-2509":
			j.add(name, clockTime("2026-01-06", "07:04"), "ines", "AL-2509 and CL-2509 got wet: thrown away", l.text(2))
		}
	}
}

// session adds a session with the states in which it was first entered.
func (j *journal) session(s *session, onBadLot bool) {
	message := messageFor(s)
	late := func(first session, at time.Time, change string) {
		j.add(s.path(), s.entered, committer(s), message, first.String())
		j.add(s.path(), at, "ines", change, s.String())
	}
	first := *s
	var later silence
	first.ignore, s.ignore, later = silenced(s.id, onBadLot)
	switch {
	case s.id == "2024-05-06-town-main":
		first.readings = append([]reading(nil), s.readings...)
		first.reading("calcium_hardness").shown = []string{"205 mg/L Ca"}
		s.amended = "amended: [{key: readings.calcium_hardness, was: 205 mg/L Ca, by: ines, on: 2024-05-07T08:10+03:00, reason: \"meter shows as CaCO3; basis typed wrong\"}]\n"
		late(first, clockTime("2024-05-07", "08:12"), "Amend the calcium hardness of 2024-05-06-town-main\n\n205 mg/L is as CaCO3, which is what the meter shows; I typed Ca.\n\nAmends: 2024-05-06-town-main\nReason: basis typed wrong")
	case s.void != "":
		first.void = ""
		late(first, clockTime("2024-11-18", "16:41"), "Void 2024-11-18-town-main: it is the north well\n\nAmends: 2024-11-18-town-main\nReason: filed under the wrong site")
	default:
		j.add(s.path(), s.entered, committer(s), message, first.String())
		j.silence(s.path(), s.id, s.String(), later)
	}
}

func committer(s *session) string {
	if s.recordedBy != "" {
		return s.recordedBy
	}
	return s.by
}

func messageFor(s *session) string {
	switch {
	case s.source == "lab":
		return "Enter the laboratory's " + s.site + " of " + s.id[:10]
	case s.sample == "check-standard":
		return "Run the control set, " + s.id[:10]
	case s.sample == "blank":
		return "Run a blank, " + s.id[:10]
	case s.sample == "duplicate":
		return "Repeat " + s.duplicateOf
	case s.sample == "verification":
		return "Verify " + s.change + " in the tank"
	}
	return "Test " + s.site + ", " + s.id[:10]
}

// treatment writes changes, sign-offs and batches; the merges say when which
// branch (in path) was merged into which (in branch).
func (j *journal) treatment() ([]version, error) {
	var merges []version
	for i := range changes {
		c := &changes[i]
		_, expect, err := c.expect(j.sessions)
		if err != nil {
			return nil, err
		}
		branch, at := "change/"+c.id, clockTime(c.id[:10], "15:10")
		message := "Propose " + c.id
		switch {
		case c.emergency != "":
			branch, at, message = "", clockTime("2025-02-17", "06:14"), "Emergency: "+c.id+"\n\nReason: main break, wellfield water at the tap"
		case reviewed(c.id) == nil:
			branch = ""
		}
		add := func(at time.Time, message string, c *change, expect []expectation) {
			first, last, later := silenced(c.id, false)
			j.add(c.path(), at, c.author, message, c.text(expect, first))
			j.versions[len(j.versions)-1].branch = branch
			j.silence(c.path(), c.id, c.text(expect, last), later)
		}
		if c.id == "2026-06-11-wicket-bitter-less-gypsum" {
			draft := *c
			draft.add = append([]dose(nil), c.add...)
			draft.add[1].amount = 100
			_, first, err := draft.expect(j.sessions)
			if err != nil {
				return nil, err
			}
			add(clockTime("2026-06-11", "08:50"), "Draft "+c.id, &draft, first)
			at, message = clockTime("2026-06-11", "15:25"), "Hold the calcium with 20 g more chloride\n\nJonas, at the whiteboard: less gypsum is fine, less calcium is not.\n\nReason: reviewer's remark"
		}
		add(at, message, c, expect)
	}
	for _, b := range batches {
		dosed, _ := b.hands()
		if b.change == "" {
			dosed = "jonas"
		}
		first, last, later := silenced(b.id(), false)
		j.add(b.path(), clockTime(b.day, "06:40"), dosed, "Brew "+b.id()+", "+b.beer, b.text(true, nil))
		j.add(b.path(), clockTime(b.day, "11:45"), dosed, "Mash pH of "+b.id(), b.text(false, first))
		j.silence(b.path(), b.id(), b.text(false, last), later)
	}
	for _, s := range signoffs {
		at := clockTime(s.on[:10], s.on[11:])
		v := version{path: s.path(), at: at.Add(2 * time.Minute), who: s.by, message: "Sign " + s.of + ": " + s.decision}
		if c := changeNamed(s.of); c != nil && c.emergency == "" && reviewed(s.of).id == s.id {
			v.branch = "change/" + c.id
			if s.decision == "refused" { // the sessions that it depends on were marked in the meantime
				merges = append(merges, version{at: at.Add(-10 * time.Minute), who: s.by, path: "main", branch: v.branch, message: fmt.Sprintf("Merge branch 'main' into %s", v.branch)})
			}
			merges = append(merges, version{at: at.Add(6 * time.Minute), who: s.by, path: v.branch, message: fmt.Sprintf("Merge branch '%s' (%s)", v.branch, s.decision)})
		}
		j.versions = append(j.versions, v)
	}
	return merges, nil
}

var placeholder = regexp.MustCompile(`\{\{(sha256|first|sent) ([^}]+)\}\}`)

// digests fills in the SHA-256 of covered files, once all contents are known:
// "sha256" is the file as it is now, "first" as it was first entered, "sent"
// that of a mail attachment, which is not part of the journal.
func (j *journal) digests() error {
	files := j.latest()
	byID := map[string]string{}
	for name := range files {
		byID[strings.TrimSuffix(path.Base(name), ".md")] = name
	}
	first := map[string][]byte{}
	for _, v := range j.versions {
		if first[v.path] == nil {
			first[v.path] = []byte(v.content)
		}
	}
	var missing error
	fill := func(content string) string {
		return placeholder.ReplaceAllStringFunc(content, func(found string) string {
			m := placeholder.FindStringSubmatch(found)
			from := files[m[2]]
			switch m[1] {
			case "first":
				from = first[m[2]]
			case "sent":
				from = []byte("attachment " + m[2] + " of the invented Quillmarsh Brewery\n")
			}
			if from == nil {
				missing = fmt.Errorf("digest of %s: there is no such file", m[2])
			}
			return digest(from)
		})
	}
	for i := range j.versions { // reports depend on sessions, sign-offs on reports too
		j.versions[i].content = fill(j.versions[i].content)
	}
	for i := range j.versions {
		v := &j.versions[i]
		for _, s := range signoffs {
			if v.path != s.path() {
				continue
			}
			text, err := s.text(s.rests(func(id string) string { return byID[id] }), j.asOf(v.at))
			if err != nil {
				return err
			}
			v.content = text
		}
	}
	return missing
}
