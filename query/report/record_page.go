package report

import (
	"fmt"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/judge"
	"wj/render"
	"wj/water"
)

// Document lays a record out: what is needed to decide in at most a screen, and with all everything that follows from it.
func (r *Record) Document(all bool) render.Document {
	d := render.Document{Title: r.Kind + " " + r.ID}
	if r.Void != nil {
		d.Answer("VOID since %s by %s: %s", longDay(r.Void.On.In(r.zone)), r.Void.name, sentence(r.Void.Reason))
	}
	for _, a := range r.Answer {
		d.Answer("%s", a)
	}
	switch {
	case r.SessionPart != nil:
		r.SessionPart.document(&d, r, all)
	case r.SitePart != nil:
		r.SitePart.document(&d, r, all)
	}
	if r.Fields != nil && (r.SitePart == nil || all) {
		d.Table("", render.Table{Columns: []render.Column{{Head: "field"}, {Head: "value", Wrap: true}}, Rows: r.Fields.rows("")})
		d.Fact("left", "%s", r.lot)
		if r.Kind == journal.KindBatch.String() {
			d.Fact("approved", "%s", behind("when brewed: ", r.Approval))
		} else {
			d.Fact(map[bool]string{true: "state", false: "standing"}[r.Kind == journal.KindChange.String()], "%s", r.Approval)
		}
		d.Fact("file", "%s", r.Path)
	}
	if r.batch != nil {
		d.Blocks = append(d.Blocks, r.batch.Blocks...)
	}
	r.noted(&d, all)
	for i, a := range r.Attachments {
		text := fmt.Sprintf("%s, %s, SHA-256 %.12s…", a.Path, size(a.Bytes), a.SHA256)
		if a.State != "attached" {
			text = strings.ToUpper(a.State) + ": " + text
		}
		d.Fact(map[bool]string{true: "attached"}[i == 0], "%s", text)
	}
	r.found(&d, all)
	if r.SessionPart != nil && !all {
		d.Command("more", "", "wj show "+r.ID+" --all")
	}
	return d
}

// noted adds what a person wrote: the first sentences on a screen, all of it where all is asked for.
func (r *Record) noted(d *render.Document, all bool) {
	const few = 320 // letters: four lines
	if r.SessionPart == nil && r.SitePart == nil || all || strings.ContainsAny(r.note, "#|`") {
		d.Passage("Notes", r.note)
		return
	}
	text := strings.Join(strings.Fields(r.note), " ")
	if len(text) > few {
		cut := strings.LastIndexByte(text[:few], ' ')
		text = text[:max(cut, 0)] + " …"
	}
	d.Fact("note", "%s", text)
}

// found adds the lint findings, the worst first.
func (r *Record) found(d *render.Document, all bool) {
	if len(r.Findings) == 0 && r.JudgedBy != nil {
		d.Fact("lint", "no findings by %d of the %d sessions that may bear on it; wj lint reads all", r.JudgedBy.Sessions, r.JudgedBy.Of)
	} else if len(r.Findings) == 0 {
		d.Fact("lint", "no findings")
		return
	}
	const few = 2
	for i, f := range r.Findings {
		if i == few && !all {
			d.Command("", fmt.Sprintf("and %d more", len(r.Findings)-few), "wj lint "+r.Path)
			break
		}
		label := ""
		if i == 0 {
			label = "lint"
		}
		text := fmt.Sprintf("%s %s, line %d: %s", f.Severity, f.Rule, f.Line, sentence(f.Message))
		if f.Help != "" && (i == 0 || all) {
			text += " Next: " + sentence(f.Help)
		}
		d.Fact(label, "%s", text)
	}
}

// fewRows is how many results have a row of their own on a screen; more of those that are within their limits, or have none, are
// written one after another.
const fewRows = 9

func (p *SessionPart) document(d *render.Document, r *Record, all bool) {
	sampled := p.Sampled.In(r.zone)
	d.Title = fmt.Sprintf("%s, %s", p.siteName, sampled.Format("2 January 2006, 15:04"))
	who := append([]string{}, p.people...)
	if p.Instrument != "" {
		who = append(who, p.Instrument)
	}
	if p.after != "" {
		who = append(who, "tested "+p.Tested.In(r.zone).Format("15:04")+", "+p.after)
	}
	kind := p.Source
	if p.Laboratory != "" {
		kind += " " + p.Laboratory
	}
	kind += ", " + p.Sample
	if p.ownerName != "" {
		kind += ", water of " + p.ownerName
	}
	if p.Change != "" {
		kind += ", for change " + p.Change
	}
	d.Answer("%s · %s · %s", strings.Join(who, ", "), kind, r.ID)
	t := render.Table{Columns: []render.Column{{}, {Head: "reading"}, {Head: "result", Right: true}, {Head: "± 95 %", Right: true}, {Head: "unit"}, {Head: "past year", Right: true, Drop: 1}, {Head: "limit", Right: true}, {Head: "as typed", Drop: 2}}}
	if all {
		t.Columns[7].Drop = 0
		t.Columns = append(t.Columns, render.Column{Head: "lot", Drop: 3})
	}
	var also []string
	for n, i := range p.order() {
		x, reading := &p.results[i], &p.Readings[i]
		if n >= fewRows && !all && x.overall <= judge.Within && reading.Error == "" {
			also = append(also, x.Title+" "+x.Newest.String())
			continue
		}
		value, half := x.Newest.Figure()
		if reading.Error != "" {
			value = reading.Error
		}
		if half != "" && reading.Assumed {
			half += "*"
		}
		row := []render.Cell{markCell(x.overall), {Text: x.Title}, {Text: value}, {Text: half}, {Text: unitText(x.Newest.Unit)}, {Text: x.span()}, {Text: x.limitText()}, {Text: shortTyped(reading.Typed, x.Newest.Unit)}}
		if all {
			row = append(row, render.Cell{Text: reading.Lot})
		}
		t.Rows = append(t.Rows, row)
	}
	if p.assumed {
		t.Notes = append(t.Notes, "* No accuracy declared; a typical value for this test is used.")
	}
	d.Table("", t)
	d.Fact("also", "%s", strings.Join(also, " · "))
	for _, l := range limitLines(p.results) {
		d.Fact("limit", "%s", l)
	}
	if all {
		p.derivedTable(d)
		checksTable(d, p.Checks)
		if p.Reconciled != nil {
			p.Reconciled.table(d)
		}
	} else {
		d.Fact("derived", "%s", p.derivedLine())
		d.Fact("checks", "%s", p.checksLine())
		if p.Reconciled != nil {
			d.Fact("contradiction", "%s", p.Reconciled.Contradiction)
		}
		var lots []string
		for _, x := range p.Readings {
			if x.Lot != "" && !slices.Contains(lots, x.Lot) {
				lots = append(lots, x.Lot)
			}
		}
		d.Fact("lots", "%s", strings.Join(lots, " "))
	}
	if all {
		d.Fact("missing", "%s", p.missing(true))
	}
	for _, am := range p.Amended {
		d.Fact("amended", "%s by %s: %s was %s (%s)", am.On.In(r.zone).Format("2 Jan 2006, 15:04"), am.who, am.Key, am.Was, am.Reason)
	}
}

// checksLine are the checks with what is missing for more of them.
func (p *SessionPart) checksLine() string {
	line := checksLine(p.Checks)
	if missing := p.missing(false); missing != "" {
		line = strings.TrimPrefix(line+"; "+missing, "; ")
	}
	return line
}

// missing are the values that a brewer would want and that are not available here, with the reason.
func (p *SessionPart) missing(all bool) string {
	var parts []string
	for _, a := range p.Absent {
		text := strings.ReplaceAll(a.Analyte, "_", " ")
		if all || len(p.Absent) == 1 {
			text += ": " + strings.ReplaceAll(a.Reason, "_", " ")
		}
		parts = append(parts, text)
	}
	if len(parts) == 0 {
		return ""
	}
	return "not available: " + strings.Join(parts, ", ")
}

// shortTyped is what was typed without the unit that is beside it already.
func shortTyped(typed, unit string) string {
	if unit == "" || strings.ContainsAny(typed, ",") {
		return typed
	}
	return strings.Replace(typed, " "+unit, "", 1)
}

// order are the places of the readings, worst first.
func (p *SessionPart) order() []int {
	out := make([]int, len(p.results))
	for i := range out {
		out[i] = i
	}
	slices.SortStableFunc(out, func(a, b int) int {
		rank := func(i int) int {
			if w := p.results[i].worst(); w != nil && w.Verdict != "within" {
				return -w.rank()
			}
			return 0
		}
		return rank(a) - rank(b)
	})
	return out
}

// derivedLine are the computed values that a brewer looks at first.
func (p *SessionPart) derivedLine() string {
	var parts []string
	for _, id := range firstDerived {
		for _, d := range p.Derived {
			if d.id != id || p.has(id) {
				continue
			}
			text := fmt.Sprintf("%s %s", title(id), d.read)
			if id == water.Sodium {
				text += " (by difference)"
			}
			parts = append(parts, text)
		}
	}
	return strings.Join(parts, " · ")
}

func (p *SessionPart) has(id water.ID) bool {
	return slices.ContainsFunc(p.Readings, func(r Reading) bool { return r.id == id })
}

// derivedTable is every computed value with what it came from. A remark that several values share is written once.
func (p *SessionPart) derivedTable(d *render.Document) {
	t := render.Table{Columns: []render.Column{{Head: "value"}, {Head: "result", Right: true}, {Head: "± 95 %", Right: true}, {Head: "unit"}, {Head: "from", Wrap: true}}}
	shared := sharedNotes(p.Derived)
	for _, v := range p.Derived {
		if p.has(v.id) {
			continue
		}
		value, half := v.read.Figure()
		note := "from " + strings.Join(v.From, ", ")
		if len(v.From) > 3 {
			note = fmt.Sprintf("from %s and %d more", strings.Join(v.From[:2], ", "), len(v.From)-2)
		}
		own, marks := splitNote(v.Note, shared)
		if own != "" {
			note = own
		}
		t.Rows = append(t.Rows, []render.Cell{{Text: title(v.id)}, {Text: value}, {Text: half}, {Text: unitText(v.read.Unit)}, {Text: note + marks}})
	}
	for i, n := range shared {
		t.Notes = append(t.Notes, footMarks[i]+" "+n)
	}
	if len(t.Rows) > 0 {
		d.Table("Derived", t)
	}
}

// footMarks are the marks of the notes under a table, as many as it may have.
var footMarks = [...]string{"¹", "²", "³", "⁴", "⁵"}

// longNote is from how many bytes on a remark is worth a mark of its own.
const longNote = 32

// sharedNotes are the remarks that are beside more than one value.
func sharedNotes(values []Derived) []string {
	seen := map[string]int{}
	var shared []string
	for _, v := range values {
		for part := range strings.SplitSeq(v.Note, "; ") {
			seen[part]++
			if seen[part] == 2 && len(shared) < len(footMarks) && len(part) > longNote {
				shared = append(shared, part)
			}
		}
	}
	return shared
}

// splitNote parts a remark into what is written beside the value and the marks of what is written under the table.
func splitNote(note string, shared []string) (own, marks string) {
	var parts []string
	var at []int
	for part := range strings.SplitSeq(note, "; ") {
		if i := slices.Index(shared, part); i >= 0 {
			at = append(at, i)
		} else {
			parts = append(parts, part)
		}
	}
	slices.Sort(at)
	for _, i := range at {
		marks += " " + footMarks[i]
	}
	return strings.Join(parts, "; "), marks
}
