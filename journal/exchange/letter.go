package exchange

import (
	"bytes"
	"html"
	"math"
	"strconv"
	"strings"

	"wj/journal"
	"wj/journal/exchange/dataset"
	"wj/render"
	"wj/water"
)

// Letter is the content of a message about sessions of one owner, in the
// owner's units.
type Letter struct {
	Text, HTML string
	CSV        []byte
}

// letterNote stands under every letter: what the figures are and are not.
const letterNote = "± is the 95 % half-width. < means below the method's range, > above it. These are tests of brewing liquor; " +
	"whether a water may be drunk is for an accredited laboratory and your local code to say."

// NewLetter makes a letter. note is free text that comes first; it may be empty.
// Values are measured ones, and computed ones too where derived is set.
func NewLetter(j *journal.Journal, owner *journal.Owner, sessions []*journal.Session, note string, derived bool) (Letter, error) {
	var text, page strings.Builder
	name := owner.Name
	page.WriteString("<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><title>" + escapeXML("Water test results for "+name) + "</title></head>\n" +
		"<body style=\"font-family:sans-serif;font-size:15px;line-height:1.45\">\n")
	text.WriteString("Water test results for " + render.Line(name) + "\n")
	page.WriteString("<h1 style=\"font-size:19px\">" + escapeXML("Water test results for "+name) + "</h1>\n")
	if note = strings.TrimSpace(render.Clean(note)); note != "" {
		text.WriteString("\n" + note + "\n")
		page.WriteString("<p style=\"white-space:pre-line\">" + html.EscapeString(note) + "</p>\n")
	}
	heads := []string{"session_id", "site_id", "site_name", "sampled", "data_source", "analyte", "result_value", "result_unit", "result_bound", "bound_value", "expanded_95", "typed", "is_derived"}
	var rows [][]string
	var a water.Analysis
	for _, s := range sessions {
		site := s.Site
		if r, ok := j.Sites.Get(s.Site); ok {
			site = r.Name
		}
		head := site + ", " + s.Sampled.Format("2 January 2006, 15:04 (-07:00)")
		under := "tested by " + j.PersonName(s.By)
		if s.Source != journal.SourceBench {
			under = "figures of " + s.Source
			if s.Laboratory != "" {
				under += ": " + s.Laboratory
			}
		}
		if s.Sample != journal.SampleRoutine {
			under += "; " + s.Sample
		}
		text.WriteString("\n" + render.Line(head) + "\n" + render.Line(under) + "\n\n")
		page.WriteString("<h2 style=\"font-size:16px;margin-bottom:0\">" + escapeXML(head) + "</h2>\n<p style=\"margin-top:0\">" + escapeXML(under) + "</p>\n" +
			"<table style=\"border-collapse:collapse\">\n<tr><th scope=\"col\" style=\"text-align:left;padding:2px 14px 2px 0\">What</th><th scope=\"col\" style=\"text-align:right;padding:2px 14px\">Result</th>" +
			"<th scope=\"col\" style=\"text-align:left;padding:2px 14px 2px 0\">±</th><th scope=\"col\" style=\"text-align:left;padding:2px 0\">Unit</th></tr>\n")
		var lines []letterLine
		wide := 0
		dataset.Values(j, s, &a, derived, func(r dataset.Value) {
			l := letterRow(j, owner.ID, r)
			lines, wide = append(lines, l), max(wide, render.Width(l.title))
			page.WriteString("<tr><th scope=\"row\" style=\"text-align:left;font-weight:normal;padding:2px 14px 2px 0\">" + escapeXML(l.title) + "</th><td style=\"text-align:right;padding:2px 14px\">" + escapeXML(l.value) +
				"</td><td style=\"padding:2px 14px 2px 0\">" + escapeXML(l.half) + "</td><td style=\"padding:2px 0\">" + escapeXML(l.unit) + "</td></tr>\n")
			row := []string{s.ID, s.Site, site, formatMoment(s.Sampled), s.Source, r.ID.String(), "", l.unit, "", "", "", "", dataset.FormatValue(r.Reading == nil)}
			if r.Bound == water.Exact {
				row[6], row[10] = formatReal(l.number), formatReal(l.expanded)
			} else {
				row[8], row[9] = r.Bound.String(), formatReal(l.number)
			}
			if r.Reading != nil {
				row[11] = journal.TypedReading(r.Reading)
			}
			rows = append(rows, row)
		})
		for _, l := range lines {
			line := "  " + padRight(l.title, wide) + " " + padLeft(l.value, 9) + " " + padRight(l.half, 8) + " " + l.unit
			text.WriteString(strings.TrimRight(line, " ") + "\n")
		}
		page.WriteString("</table>\n")
	}
	text.WriteString("\n" + render.Wrap(letterNote, 72) + "\n")
	page.WriteString("<p style=\"font-size:13px\">" + escapeXML(letterNote) + "</p>\n</body></html>\n")
	var csv bytes.Buffer
	if err := render.CSV(&csv, heads, rows); err != nil {
		return Letter{}, err
	}
	// Whoever is mailed a table opens it by a double click, and spreadsheets then read
	// UTF-8 only where a byte-order mark says so (common practice, no source).
	if bytes.ContainsFunc(csv.Bytes(), func(r rune) bool { return r > 0x7f }) {
		csv = *bytes.NewBuffer(append([]byte("\xef\xbb\xbf"), csv.Bytes()...))
	}
	return Letter{text.String(), page.String(), csv.Bytes()}, nil
}

// letterLine is one value as the owner reads it.
type letterLine struct {
	title, value, half, unit string
	number, expanded         float64
}

func letterRow(j *journal.Journal, owner string, r dataset.Value) letterLine {
	info := r.ID.Info()
	unit := j.Preferred(owner, r.ID)
	number, err := info.Convert(r.Value.Value, info.Unit, unit)
	if err != nil {
		unit, number = info.Unit, r.Value.Value
	}
	moved, _ := info.Convert(r.Value.Value+2*r.U, info.Unit, unit)
	l := letterLine{title: info.Title, unit: unit.String(), number: number, expanded: math.Abs(moved - number)}
	if r.Reading == nil {
		l.title += " (computed)"
	}
	l.value, l.half = water.Spread(number, l.expanded)
	// What needed no conversion keeps the digits that the meter showed.
	if q := r.Reading; q != nil && q.First.Unit == unit && len(q.More) == 0 && q.Factor() == 1 {
		l.value = strconv.FormatFloat(q.First.Value, 'f', int(q.First.Decimals), 64)
	}
	if r.Bound != water.Exact {
		if q := r.Reading; q == nil || q.First.Unit != unit || q.Factor() != 1 {
			l.value = water.Round(number, 3)
		}
		l.value, l.half = r.Bound.String()+l.value, ""
	}
	if l.half != "" {
		l.half = "± " + l.half
	}
	return l
}

func padRight(s string, width int) string {
	return s + strings.Repeat(" ", max(0, width-render.Width(s)))
}

func padLeft(s string, width int) string {
	return strings.Repeat(" ", max(0, width-render.Width(s))) + s
}
