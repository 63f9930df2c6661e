package exchange

import (
	"fmt"
	"regexp"
	"slices"
	"sort"
	"strings"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/render"
	"wj/water"
)

// known is the journal with the sites that are to be made.
type known struct{ im *importer }

func (k known) Exists(kind journal.Kind, id string) bool {
	return k.im.j.Exists(kind, id) || kind == journal.KindSite && k.im.fresh[id] != nil
}
func (k known) IDs(kind journal.Kind) []string { return k.im.j.IDs(kind) }

// finish compares the sessions with the journal and composes the new ones.
func (im *importer) finish() {
	taken := map[string]bool{}
	used := map[string]bool{}
	var records []Planned
	for _, in := range im.order {
		if in.refused {
			im.settle(in, Refused, "", "another row or column of this sample is refused", "a sample is taken whole or not at all")
			continue
		}
		if old, how := im.existing(in); old != nil {
			if how == "" {
				im.settle(in, Already, old.ID, "it is "+old.ID, "")
			} else {
				im.settle(in, Refused, old.ID, "the sample is "+old.ID+" already, with "+how, "wj amend "+old.ID+" corrects a value with its reason; or void the record and import again")
			}
			continue
		}
		record, problem := im.compose(in, taken)
		if problem != nil {
			im.settle(in, Refused, "", problem.message, problem.help)
			continue
		}
		im.settle(in, Taken, record.ID, "", "")
		used[in.site] = true
		records = append(records, record)
	}
	sort.SliceStable(im.plan.Rows, func(a, b int) bool {
		x, y := &im.plan.Rows[a], &im.plan.Rows[b]
		return x.Sheet < y.Sheet || x.Sheet == y.Sheet && x.Row < y.Row
	})
	if im.plan.Count(Refused) > 0 && !im.opt.Partial {
		return
	}
	var sites []string
	for id := range im.fresh {
		if used[id] {
			sites = append(sites, id)
		}
	}
	sort.Strings(sites)
	for _, id := range sites {
		im.plan.Records = append(im.plan.Records, composeSite(im.fresh[id]))
	}
	im.plan.Records = append(im.plan.Records, records...)
}

// settle gives each row of a session that has none its verdict.
func (im *importer) settle(in *incoming, v RowState, session, message, help string) {
	for _, row := range in.rows {
		if v == Refused && im.bad[row] {
			continue
		}
		im.plan.Rows = append(im.plan.Rows, RowReport{Sheet: row.sheet, Row: row.row, Column: row.column, RowState: v, Session: session, Message: message, Help: help})
	}
}

// existing finds the session that a sample became before: by its mark, or by
// site, time and source where somebody typed it. how says in what the two
// differ; an amended record may differ.
func (im *importer) existing(in *incoming) (old *journal.Session, how string) {
	old = im.marks[in.mark]
	if old == nil && in.group == "" {
		for _, s := range im.samples[sampleKey(in.site, in.sampled)] {
			if s.Source == in.source && s.Sample == in.sample && s.Laboratory == in.laboratory && importMark().FindString(s.Note) == "" {
				old = s
			}
		}
	}
	if s, ok := im.j.Sessions.Get(in.id); ok && old == nil && s.Site == in.site && s.Sampled.Equal(in.sampled) {
		old = s
	}
	if old == nil || len(old.Amended) > 0 {
		return old, ""
	}
	var differ []string
	for _, r := range in.readings {
		have, ok := old.Reading(r.analyte)
		q, _ := water.ParseQuantity(r.value)
		switch {
		case !ok:
			differ = append(differ, "no "+r.analyte.String()+" (here "+r.value+")")
		case have.First.String() != q.String():
			differ = append(differ, fmt.Sprintf("%s %s (here %s)", r.analyte, have.First.String(), r.value))
		}
	}
	return old, strings.Join(differ, ", ")
}

// dated is how the id of a session begins.
var dated = regexp.MustCompile(`^\d{4}-\d\d-\d\d-`)

// compose writes a session's record and checks it as if it were in the journal.
func (im *importer) compose(in *incoming, taken map[string]bool) (Planned, *fault) {
	day := journal.FormatDate(in.sampled.In(im.j.Settings.Zone))
	stem := day + "-" + in.site
	id := stem
	if dated.MatchString(in.id) && journal.ValidID(in.id, journal.KindSession) {
		id, stem, day = in.id, in.id, in.id[:10]
	}
	for n := 2; im.j.Exists(journal.KindSession, id) || taken[id]; n++ {
		id = fmt.Sprintf("%s-%d", stem, n)
	}
	entry := func(key, value string) journal.Entry {
		return journal.Entry{Key: key, Value: frontmatter.Quote(value)}
	}
	entries := []journal.Entry{entry("site", in.site), entry("sampled", journal.FormatTime(in.sampled)), entry("by", in.by)}
	if in.source != journal.SourceBench {
		entries = append(entries, entry("source", in.source))
	}
	if in.laboratory != "" {
		entries = append(entries, entry("laboratory", in.laboratory))
	}
	if in.sample != journal.SampleRoutine {
		entries = append(entries, entry("sample", in.sample))
	}
	meter, tested := in.readings[0].instrument, in.readings[0].tested
	for _, r := range in.readings { // what most have is the session's
		if n := func(id string) (n int) {
			for _, r := range in.readings {
				if r.instrument == id {
					n++
				}
			}
			return n
		}; n(r.instrument) > n(meter) {
			meter = r.instrument
		}
	}
	if !tested.IsZero() {
		entries = slices.Insert(entries, 2, entry("tested", journal.FormatTime(tested)))
	}
	if meter != "" {
		entries = append(entries, entry("instrument", meter))
	}
	if in.place.Set {
		entries = append(entries, journal.Entry{Key: "place", Value: "[" + string(degrees(in.place.Latitude)) + ", " + string(degrees(in.place.Longitude)) + "]"})
	}
	sort.SliceStable(in.readings, func(a, b int) bool { return in.readings[a].analyte < in.readings[b].analyte })
	var below []journal.Entry
	for _, r := range in.readings {
		value := frontmatter.Quote(r.value)
		for _, more := range r.more {
			value += ", " + frontmatter.Quote(more)
		}
		if len(r.more) > 0 {
			value = "[" + value + "]"
		}
		own, at := "", ""
		if r.instrument != meter {
			own = r.instrument
		}
		if !r.tested.Equal(tested) && !r.tested.IsZero() {
			at = journal.FormatTime(r.tested)
		}
		if r.lot != "" || r.dilution != "" || r.remark != "" || own != "" || at != "" {
			value = "{value: " + value
			for _, part := range [][2]string{{"lot", r.lot}, {"dilution", r.dilution}, {"instrument", own}, {"tested", at}, {"note", r.remark}} {
				if part[1] != "" {
					value += ", " + part[0] + ": " + frontmatter.Quote(part[1])
				}
			}
			value += "}"
		}
		below = append(below, journal.Entry{Key: r.analyte.String(), Value: value})
	}
	entries = append(entries, journal.Entry{Key: "readings", Below: below}, entry("note", "import "+in.mark))
	rows := "row " + fmt.Sprint(in.rows[0].row)
	if last := in.rows[len(in.rows)-1].row; last != in.rows[0].row {
		rows = fmt.Sprintf("rows %d to %d", in.rows[0].row, last)
	}
	if in.rows[0].sheet != "" {
		rows = "sheet " + render.Line(in.rows[0].sheet) + ", " + rows
	}
	body := "From " + render.Line(im.opt.File) + ", " + rows + "."
	if len(in.notes) > 0 {
		body += "\n\n- " + strings.Join(in.notes, "\n- ")
	}
	p := Planned{Kind: journal.KindSession, ID: id, Path: fmt.Sprintf("sessions/%s/%s.md", day[:4], id), Source: journal.Compose(journal.KindSession, entries, body)}
	if f := checkPlanned(p, known{im}); f != nil {
		return p, f
	}
	taken[id] = true
	return p, nil
}

func composeSite(s *journal.Site) Planned {
	entries := []journal.Entry{{Key: "name", Value: frontmatter.Quote(s.Name)}, {Key: "owner", Value: frontmatter.Quote(s.Owner)}, {Key: "stage", Value: s.Stage}}
	if s.Place.Set {
		entries = append(entries, journal.Entry{Key: "place", Value: "[" + string(degrees(s.Place.Latitude)) + ", " + string(degrees(s.Place.Longitude)) + "]"})
	}
	return Planned{Kind: journal.KindSite, ID: s.ID, Path: "sites/" + s.ID + ".md", Source: journal.Compose(journal.KindSite, entries, "")}
}

// checkPlanned checks a record against the schema; the first error is the fault.
func checkPlanned(p Planned, index journal.Index) *fault {
	var d frontmatter.Document
	d.Parse(p.Source)
	for _, problem := range journal.Check(&d, p.Kind, p.Path, index) {
		if !problem.Warning {
			return faultf(problem.Help, "the record would be wrong: %s: %s", problem.Rule, problem.Message)
		}
	}
	return nil
}
