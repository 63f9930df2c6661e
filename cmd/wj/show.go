package main

import (
	"fmt"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/judge"
	"wj/lint"
	"wj/render"
	"wj/water"
)

type showCmd struct {
	ID     string `arg:"" help:"The record's id (its file name without .md), or its path."`
	Format string `enum:"text,markdown,html,json" default:"text" help:"${enum}."`
	At     string `placeholder:"REV" help:"As it was then: a commit, a branch or a date."`
}

func (c *showCmd) Run(a *app) error {
	j, _, err := a.loadAt(c.At, journal.Options{Check: true, Sessions: true})
	if err != nil {
		return err
	}
	f, err := find(j, c.ID)
	if err != nil {
		return err
	}
	d, record, err := j.ReadRecord(f)
	if err != nil {
		return err
	}
	result := lint.Run(j, lint.Options{Paths: []string{f.Path}, Now: a.now()})
	if record == nil {
		for _, finding := range result.Diagnostics {
			if err := a.print(a.out.Finding(toFinding(finding, f.Path))); err != nil {
				return err
			}
		}
		return fmt.Errorf("%s has no front matter that can be read", f.Path)
	}
	s, isSession := record.(*journal.Session)
	switch {
	case c.Format == "json" && isSession:
		return a.showJSON(sessionJSON(j, s, result.Diagnostics))
	case c.Format == "json":
		return a.showJSON(recordJSON(d, f, result.Diagnostics))
	}
	var b strings.Builder
	if isSession {
		sessionPage(&b, j, s)
	} else {
		recordPage(&b, j, d, record)
		if batch, ok := record.(*journal.Batch); ok {
			batchPage(&b, j, batch)
		}
	}
	if body := strings.TrimSpace(string(d.Source[d.Body:])); body != "" {
		b.WriteString("\n## Notes\n\n" + a.passage(c.Format, body) + "\n")
	}
	findingsPage(&b, result.Diagnostics)
	switch c.Format {
	case "markdown":
		return a.print(render.Clean(b.String()))
	case "html":
		return a.page(f.ID, b.String())
	}
	return a.markdown(b.String())
}

// passage is the body of a record: as it is for the terminal, whose renderer
// makes it harmless, and with raw HTML as text for a Markdown document that others render.
func (a *app) passage(format, body string) string {
	if format == "markdown" {
		return render.Passage(body)
	}
	return body
}

// cell writes a text so that it stays one cell of a Markdown table.
func cell(s string) string {
	return strings.NewReplacer("\\", "\\\\", "|", "\\|", "\n", " ", "\t", " ", "&", "&amp;", "[", "\\[", "*", "\\*", "_", "\\_", "<", "\\<", "`", "\\`").Replace(s)
}

// plain writes a text from a record so that Markdown leaves it alone.
func plain(s string) string { return cell(s) }

func mdTable(b *strings.Builder, head []string, right []bool, rows [][]string) {
	if len(rows) == 0 {
		return
	}
	for _, h := range head {
		b.WriteString("| " + h + " ")
	}
	b.WriteString("|\n")
	for i := range head {
		if right[i] {
			b.WriteString("|---:")
		} else {
			b.WriteString("|---")
		}
	}
	b.WriteString("|\n")
	for _, row := range rows {
		for _, c := range row {
			b.WriteString("| " + cell(c) + " ")
		}
		b.WriteString("|\n")
	}
	b.WriteString("\n")
}

func longTime(t time.Time) string { return t.Format("2 January 2006, 15:04 -07:00") }

// sessionPage writes a session: the readings as typed and in the reader's
// units, and what follows from them.
func sessionPage(b *strings.Builder, j *journal.Journal, s *journal.Session) {
	name, owner := s.Site, ""
	if site, ok := j.Sites.Get(s.Site); ok {
		name, owner = site.Name, site.Owner
	}
	fmt.Fprintf(b, "# %s, %s\n\n", plain(name), s.Sampled.Format("2 January 2006"))
	if s.Void != nil {
		fmt.Fprintf(b, "**VOID** since %s by %s: %s\n\n", longTime(s.Void.On), plain(j.PersonName(s.Void.By)), plain(s.Void.Reason))
	}
	var facts []string
	facts = append(facts, "sampled "+longTime(s.Sampled))
	if !s.Tested.IsZero() && !s.Tested.Equal(s.Sampled) {
		facts = append(facts, "tested "+s.Tested.Format("15:04")+after(s.Sampled, s.Tested))
	}
	by := "by " + j.PersonName(s.By)
	if s.RecordedBy != "" {
		by += ", typed by " + j.PersonName(s.RecordedBy)
	}
	if s.Instrument != "" {
		by += ", with " + s.Instrument
	}
	facts = append(facts, by)
	kind := s.Source
	if s.Laboratory != "" {
		kind += " (" + s.Laboratory + ")"
	}
	if s.Sample != "routine" {
		kind += ", " + s.Sample
	}
	if o, ok := j.Owners.Get(owner); ok {
		kind += ", water of " + o.Name
	}
	facts = append(facts, kind)
	if s.Change != "" {
		facts = append(facts, "for change "+s.Change)
	}
	for i := range facts {
		facts[i] = plain(facts[i])
	}
	fmt.Fprintf(b, "`%s`  \n%s\n\n", s.ID, strings.Join(facts, " · "))

	var analysis water.Analysis
	j.Analysis(s, &analysis)
	head := []string{"reading", "as typed", "result", "± 95 %", "unit", "lot"}
	right := []bool{false, true, true, true, false, false}
	var rows [][]string
	assumed := false
	for i := range s.Readings {
		r := &s.Readings[i]
		m, ok := analysis.Measured(r.Analyte)
		if !ok {
			rows = append(rows, []string{r.Analyte.String(), "cannot be read", "", "", "", r.Lot})
			continue
		}
		value, half, unit := inUnit(j, owner, r.Analyte, m.Bound, m.Value, m.U)
		if half != "" && m.Assumed {
			half += "*"
			assumed = true
		}
		rows = append(rows, []string{r.Analyte.String(), journal.TypedReading(r), value, half, unit, r.Lot})
	}
	b.WriteString("## Readings\n\n")
	mdTable(b, head, right, rows)
	if assumed {
		b.WriteString("\\* no accuracy is declared for the meter or method: the usual one of such tests is taken\n\n")
	}
	derivedTable(b, j, owner, &analysis)
	checksPage(b, &analysis)
	for _, am := range s.Amended {
		fmt.Fprintf(b, "amended %s by %s: %s was %s (%s)\n\n", longTime(am.On), plain(j.PersonName(am.By)), plain(am.Key), plain(am.Was), plain(am.Reason))
	}
}

func after(sampled, tested time.Time) string {
	d := tested.Sub(sampled).Round(time.Minute)
	switch {
	case d <= 0:
		return ""
	case d < time.Hour:
		return fmt.Sprintf(" (%d min later)", int(d.Minutes()))
	case d < 48*time.Hour:
		return fmt.Sprintf(" (%d h later)", int(d.Hours()))
	}
	return fmt.Sprintf(" (%d d later)", int(d.Hours()/24))
}

// inUnit writes a value with its 95 % half-width in the unit that people of
// the owner like to read.
func inUnit(j *journal.Journal, owner string, id water.ID, bound water.Bound, v, u float64) (value, half, unit string) {
	info := id.Info()
	want := j.Preferred(owner, id)
	x, err := info.Convert(v, info.Unit, want)
	if err != nil {
		x, want = v, info.Unit
	}
	high, err := info.Convert(v+2*u, info.Unit, want)
	if err != nil {
		high = v + 2*u
	}
	if bound != water.Exact {
		return bound.String() + water.Round(x, 3), "", want.String()
	}
	value, half = water.Spread(x, high-x)
	return value, half, want.String()
}

func findingsPage(b *strings.Builder, ds []lint.Diagnostic) {
	b.WriteString("\n## What the linter says\n\n")
	if len(ds) == 0 {
		b.WriteString("Nothing to report.\n")
		return
	}
	for _, d := range ds {
		fmt.Fprintf(b, "- **%s** `%s` (line %d): %s", d.Severity, d.Rule, d.Line, plain(d.Message))
		if d.Help != "" {
			fmt.Fprintf(b, ". Next: %s", plain(d.Help))
		}
		b.WriteString("\n")
	}
}

// recordPage shows a record of any other kind: its fields, then its body.
func recordPage(b *strings.Builder, j *journal.Journal, d *frontmatter.Document, record journal.Any) {
	base := record.Base()
	fmt.Fprintf(b, "# %s %s\n\n", base.Kind, plain(base.ID))
	if base.Void != nil {
		fmt.Fprintf(b, "**VOID** since %s by %s: %s\n\n", longTime(base.Void.On), plain(j.PersonName(base.Void.By)), plain(base.Void.Reason))
	}
	fmt.Fprintf(b, "`%s`\n\n", base.Path)
	var rows [][]string
	for c := range d.Children(0) {
		fieldRows(d, c, d.Key(c), &rows)
	}
	mdTable(b, []string{"field", "value"}, []bool{false, false}, rows)
	if l, ok := record.(*journal.Lot); ok && l.Tests > 0 {
		used := judge.TestsUsed(j)[l.ID]
		fmt.Fprintf(b, "%d of %d tests used", used+l.Losses, l.Tests)
		if l.Losses > 0 {
			fmt.Fprintf(b, " (%d lost)", l.Losses)
		}
		b.WriteString("\n\n")
	}
}

// fieldRows writes a field of a document as rows: one for a value or a flat
// list, one for each entry of what is nested.
func fieldRows(d *frontmatter.Document, node int32, name string, rows *[][]string) {
	n := d.Nodes[node]
	switch n.Kind {
	case frontmatter.Scalar:
		*rows = append(*rows, []string{name, d.Text(node)})
	case frontmatter.Sequence:
		i := 0
		var flat []string
		for c := range d.Children(node) {
			if d.Nodes[c].Kind == frontmatter.Scalar {
				flat = append(flat, d.Text(c))
			} else {
				i++
				fieldRows(d, c, fmt.Sprintf("%s %d", name, i), rows)
			}
		}
		if len(flat) > 0 {
			*rows = append(*rows, []string{name, strings.Join(flat, ", ")})
		}
	case frontmatter.Mapping:
		if n.Style == frontmatter.Flow {
			var parts []string
			for c := range d.Children(node) {
				parts = append(parts, d.Key(c)+" "+flowText(d, c))
			}
			*rows = append(*rows, []string{name, strings.Join(parts, " · ")})
			return
		}
		for c := range d.Children(node) {
			fieldRows(d, c, name+" "+d.Key(c), rows)
		}
	}
}

func flowText(d *frontmatter.Document, node int32) string {
	n := d.Nodes[node]
	if n.Kind == frontmatter.Scalar {
		return d.Text(node)
	}
	var parts []string
	for c := range d.Children(node) {
		text := flowText(d, c)
		if n.Kind == frontmatter.Mapping {
			text = d.Key(c) + " " + text
		}
		parts = append(parts, text)
	}
	return strings.Join(parts, ", ")
}
