package render

import (
	"fmt"
	"strconv"
	"strings"
)

// Excerpt is one line of a source with a place in it. Column counts characters from 1, Width is in characters too.
type Excerpt struct {
	Line          string
	Column, Width int
}

// Related is another place that a finding speaks of.
type Related struct {
	Path         string
	Line, Column int
	Message      string
}

// Finding is one message about one place. Severity is "error", "warning" or "info". Line and Column count from 1, Column in
// characters; 0 means that the place is the whole file or line. Excerpt.Column and Width default to Column and 1.
type Finding struct {
	Path         string
	Line, Column int
	Severity     string
	Rule         string
	Message      string
	Excerpt      Excerpt
	Related      []Related
	Help         string
}

// Finding draws "path:line:col: severity rule: message" on one line that tools can read; then, where a person watches,
// the source line with a caret; then the other places; then "help: " with the next step.
func (o Output) Finding(f Finding) string {
	var b strings.Builder
	b.WriteString(o.Paint(Bold, place(f.Path, f.Line, f.Column)+":") + " ")
	b.WriteString(o.Paint(severity(f.Severity), Line(f.Severity)))
	if f.Rule != "" {
		b.WriteString(" " + Line(f.Rule))
	}
	b.WriteString(": " + Line(f.Message) + "\n")
	if o.Person && f.Line > 0 && f.Excerpt.Line != "" {
		column := f.Excerpt.Column
		if column == 0 {
			column = f.Column
		}
		b.WriteString(o.Excerpt("", f.Line, column, f.Excerpt.Line, f.Excerpt.Width))
	}
	for _, r := range f.Related {
		b.WriteString("  " + o.Paint(Dim, "see "+place(r.Path, r.Line, r.Column)+":") + " " + Line(r.Message) + "\n")
	}
	if f.Help != "" {
		b.WriteString(o.help(f.Help))
	}
	return b.String()
}

// help folds the next step beneath its word when a person reads it, and keeps it on one line for tools.
func (o Output) help(text string) string {
	const word = "help: "
	if !o.Person {
		return "  " + word + Line(text) + "\n"
	}
	lines := strings.Split(Wrap(text, o.width()-2-len(word)), "\n")
	return "  " + o.Paint(Bold, word) + strings.Join(lines, "\n"+strings.Repeat(" ", 2+len(word))) + "\n"
}

func severity(s string) State {
	switch s {
	case "error":
		return Error
	case "warning":
		return Warning
	case "info":
		return Info
	}
	return Plain
}

// place writes path:line:col. A path that starts with a colon gets "./" in front, so that a file name can never make a line
// that a build service takes for a command.
func place(path string, line, column int) string {
	path = Line(path)
	if strings.HasPrefix(path, ":") || strings.HasPrefix(path, "#") {
		path = "./" + path
	}
	if line > 0 {
		path += ":" + strconv.Itoa(line)
		if column > 0 {
			path += ":" + strconv.Itoa(column)
		}
	}
	return path
}

// Excerpt draws a source line with its number and a caret below the place, set by display width:
//
//	12 │   chloride: {value: 21, lot: CL-2511}
//	   │                     ^~
//
// source is that line, or the whole text, of which line then picks the one to show. column and width count characters, column
// from 1; a column of 0 draws no caret. Tabs become four blanks. A line too long for the terminal is shown as a window around the caret,
// its cut ends shown as …. A path, where given, is named above.
func (o Output) Excerpt(path string, line, column int, source string, width int) string {
	source = strings.TrimRight(source, "\r\n")
	if lines := strings.Split(source, "\n"); len(lines) > 1 && line >= 1 && line <= len(lines) {
		source = lines[line-1]
	}
	runes := []rune(Clean(strings.TrimRight(source, "\r")))
	gutter := strconv.Itoa(max(line, 0))
	bar := "  " + gutter + " │ "
	room := max(o.width()-Width(bar), 16)

	start, end := 0, 0 // columns of the caret
	texts, total := make([]string, len(runes)), 0
	for i, r := range runes {
		texts[i] = string(r)
		if r == '\t' {
			texts[i] = "    "
		}
		if i+1 == column {
			start = total
		}
		total += Width(texts[i])
		if i+1 < column+max(width, 1) {
			end = total
		}
	}
	if column > len(runes) {
		start, end = total, total+1
	}
	end = max(end, start+1)

	shown, offset := window(texts, total, start, end, room)
	var b strings.Builder
	if path != "" {
		b.WriteString(o.Paint(Bold, place(path, line, column)) + "\n")
	}
	b.WriteString(o.Paint(Dim, bar) + strings.TrimRight(shown, " ") + "\n")
	if column > 0 {
		length := max(1, min(end, offset+room)-start)
		caret := "^" + strings.Repeat("~", length-1)
		b.WriteString(o.Paint(Dim, strings.Repeat(" ", len(gutter)+2)+" │ ") + strings.Repeat(" ", start-offset) + o.Paint(Error, caret) + "\n")
	}
	return b.String()
}

// window cuts a long line to room columns around the caret. offset is the column of the line at which the window's first
// column lies.
func window(texts []string, total, start, end, room int) (shown string, offset int) {
	if total <= room && start < room {
		return strings.Join(texts, ""), 0
	}
	from := 0
	if end > room-1 {
		from = max(0, min(start-room/4, total+1-room))
	}
	var b strings.Builder
	used, at := 0, 0
	if from > 0 {
		b.WriteString("…")
		used = 1
	}
	for _, text := range texts {
		w := Width(text)
		switch {
		case from > 0 && at < from+1 && at+w > from+1: // a wide character across the edge
			b.WriteString(strings.Repeat(" ", at+w-from-1))
			used += at + w - from - 1
		case from > 0 && at < from+1:
		case used+w > room-1 && at+w < total || used+w > room:
			b.WriteString("…")
			return b.String(), from
		default:
			b.WriteString(text)
			used += w
		}
		at += w
	}
	return b.String(), from
}

// GitHubAnnotation writes a finding as a workflow command of GitHub Actions. Data cannot end a property or start another
// command: %, CR and LF are escaped everywhere, colon and comma in properties too.
func GitHubAnnotation(f Finding) string {
	kind := "notice"
	if f.Severity == "error" || f.Severity == "warning" {
		kind = f.Severity
	}
	data := strings.NewReplacer("%", "%25", "\r", "%0D", "\n", "%0A")
	property := strings.NewReplacer("%", "%25", "\r", "%0D", "\n", "%0A", ":", "%3A", ",", "%2C")
	var b strings.Builder
	fmt.Fprintf(&b, "::%s file=%s", kind, property.Replace(Clean(f.Path)))
	if f.Line > 0 {
		fmt.Fprintf(&b, ",line=%d", f.Line)
	}
	if f.Column > 0 {
		fmt.Fprintf(&b, ",col=%d", f.Column)
	}
	text := f.Message
	if f.Help != "" {
		text += "\nhelp: " + f.Help
	}
	fmt.Fprintf(&b, ",title=%s::%s\n", property.Replace(Clean(f.Rule)), data.Replace(Clean(text)))
	return b.String()
}
