package render

import (
	"bytes"
	"fmt"
	"io"
	"regexp"
	"strings"
	"sync"
)

// bareNumber is what a CSV field may be without quotes: a number that every spreadsheet and parser reads alike.
var bareNumber = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[+-]?\d+(?:\.\d+)?(?:[eE][+-]?\d{1,3})?$`) })

var quoted = strings.NewReplacer(`"`, `""`, "\n", "\r\n")

// continued is a further line of a field that a build service would take for a workflow command in its log.
var continued = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`(\n[ \t]*)::`) })

// CSV writes a table as RFC 4180 asks: comma, CRLF, quotes doubled. Numbers stand bare and unchanged, all other text is
// quoted. A text that a spreadsheet would run as a formula (its first visible character is = + - @ or a full-width form of
// them, or it starts with a tab or a carriage return) gets an apostrophe in front, and so does "::" at the start of a further
// line, which a build service would take for a workflow command. All rows are
// checked before the first byte is written; a row of another length than the head is an error.
func CSV(w io.Writer, head []string, rows [][]string) error {
	var b bytes.Buffer
	line := func(fields []string) {
		for i, field := range fields {
			if i > 0 {
				b.WriteByte(',')
			}
			b.WriteString(csvField(field, true))
		}
		b.WriteString("\r\n")
	}
	line(head)
	for n, row := range rows {
		if len(row) != len(head) {
			return fmt.Errorf("write csv row %d: it has %d fields where the head has %d", n+1, len(row), len(head))
		}
		line(row)
	}
	if _, err := w.Write(b.Bytes()); err != nil {
		return fmt.Errorf("write csv: %w", err)
	}
	return nil
}

// CSVLine writes one row as CSV does, or with raw without the apostrophes, for a table that is too large to be held.
func CSVLine(w io.Writer, fields []string, raw bool) error {
	var b bytes.Buffer
	for i, field := range fields {
		if i > 0 {
			b.WriteByte(',')
		}
		b.WriteString(csvField(field, !raw))
	}
	b.WriteString("\r\n")
	if _, err := w.Write(b.Bytes()); err != nil {
		return fmt.Errorf("write csv: %w", err)
	}
	return nil
}

func csvField(s string, guard bool) string {
	if s != "" && s[len(s)-1] >= '0' && s[len(s)-1] <= '9' && s[0] <= '9' && bareNumber().MatchString(s) {
		return s
	}
	formula := strings.HasPrefix(s, "\t") || strings.HasPrefix(s, "\r")
	s = Clean(s)
	for _, r := range s {
		if r == ' ' || r == '\u00a0' || r == '\u3000' || r == '\t' || r == '\n' || r == replacement {
			continue
		}
		formula = formula || strings.ContainsRune("=+-@＝＋－＠", r)
		break
	}
	if guard && formula {
		s = "'" + s
	}
	if guard && strings.Contains(s, "::") {
		s = continued().ReplaceAllString(s, "$1'::")
	}
	if !strings.ContainsAny(s, "\"\n") {
		return `"` + s + `"`
	}
	return `"` + quoted.Replace(s) + `"`
}
