package exchange

import (
	"bytes"
	"encoding/binary"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf16"
	"unicode/utf8"
)

// Limits of what is read in: more than any laboratory sends at once.
const (
	MaxSheetFile  = 64 << 20
	maxSheetRows  = 200_000
	maxSheetCols  = 2_000
	maxSheetCells = 8_000_000
	maxCellText   = 32 << 10
)

// Sheet is a table as somebody sent it.
type Sheet struct {
	Name  string
	Lines []Line
}

// Line is a row of a sheet. Number is that of the row in the file, from 1; in a
// text file with line breaks inside quotes, the line on which it starts.
type Line struct {
	Number int
	Sheet  string // "" in the first sheet
	Cells  []Cell

	kept   []int // of a reshaped line: the columns that its first cells came from
	origin int   // and that of the others
	remark string
}

// Cell is one field. A workbook knows dates from numbers: Day and Clock say
// which parts of Time are there.
type Cell struct {
	Text       string
	Time       time.Time
	Day, Clock bool
}

// cell is the cell in a column, counted from 0; empty beyond the end of the row.
func (l *Line) cell(column int) Cell {
	if column < 0 || column >= len(l.Cells) {
		return Cell{}
	}
	return l.Cells[column]
}

// blank reports whether nothing is written in the row.
func (l *Line) blank() bool {
	for _, c := range l.Cells {
		if c.Text != "" {
			return false
		}
	}
	return true
}

// ReadDelimited reads a text file of fields. comma is the delimiter, 0 to find
// it out; encoding is "utf-8", "windows-1252" or "" (UTF-8, or UTF-16 where a
// byte-order mark says so).
func ReadDelimited(src []byte, comma rune, encoding string) (*Sheet, error) {
	if len(src) > MaxSheetFile {
		return nil, fmt.Errorf("it is larger than %d MiB", MaxSheetFile>>20)
	}
	text, err := decodeText(src, encoding)
	if err != nil {
		return nil, err
	}
	if !strings.Contains(text, "\n") {
		text = strings.ReplaceAll(text, "\r", "\n") // line ends of old spreadsheets
	}
	if comma == 0 {
		comma = findDelimiter(text)
	}
	r := csv.NewReader(strings.NewReader(text))
	r.Comma, r.FieldsPerRecord, r.ReuseRecord = comma, -1, true
	s := &Sheet{}
	cells := 0
	for {
		record, err := r.Read()
		if err == io.EOF {
			return s, nil
		}
		var pe *csv.ParseError
		if errors.As(err, &pe) {
			return nil, fmt.Errorf("line %d, column %d: %w", pe.Line, pe.Column, pe.Err)
		}
		if err != nil {
			return nil, err
		}
		line, _ := r.FieldPos(0)
		l := Line{Number: line, Cells: make([]Cell, len(record))}
		for i, field := range record {
			if len(field) > maxCellText {
				return nil, fmt.Errorf("line %d: a field is longer than %d KiB; is a quote missing?", line, maxCellText>>10)
			}
			l.Cells[i].Text = tidy(field)
		}
		cells += len(record)
		if err := withinLimits(len(s.Lines)+1, len(record), cells); err != nil {
			return nil, err
		}
		s.Lines = append(s.Lines, l)
	}
}

func withinLimits(rows, columns, cells int) error {
	switch {
	case rows > maxSheetRows:
		return fmt.Errorf("it has more than %d rows; import it in parts", maxSheetRows)
	case columns > maxSheetCols:
		return fmt.Errorf("it has more than %d columns", maxSheetCols)
	case cells > maxSheetCells:
		return fmt.Errorf("it has more than %d cells; import it in parts", maxSheetCells)
	}
	return nil
}

// tidy takes blanks away that nobody sees: around the text, and the fixed and
// narrow ones that spreadsheets and laboratories put in between.
func tidy(s string) string {
	if strings.ContainsAny(s, "\u00a0\u202f\u2009\ufeff") {
		s = strings.NewReplacer("\u00a0", " ", "\u202f", " ", "\u2009", " ", "\ufeff", "").Replace(s)
	}
	return strings.TrimSpace(s)
}

// decodeText makes a string of a text file's bytes.
func decodeText(src []byte, encoding string) (string, error) {
	switch {
	case bytes.HasPrefix(src, []byte{0xff, 0xfe}), bytes.HasPrefix(src, []byte{0xfe, 0xff}):
		var order binary.ByteOrder = binary.LittleEndian
		if src[0] == 0xfe {
			order = binary.BigEndian
		}
		units := make([]uint16, 0, len(src)/2)
		for i := 2; i+1 < len(src); i += 2 {
			units = append(units, order.Uint16(src[i:]))
		}
		return string(utf16.Decode(units)), nil
	case encoding == "windows-1252":
		var b strings.Builder
		b.Grow(len(src))
		for _, c := range src {
			if c >= 0x80 && c < 0xa0 {
				b.WriteRune(windows1252[c-0x80])
			} else {
				b.WriteRune(rune(c))
			}
		}
		return b.String(), nil
	}
	src = bytes.TrimPrefix(src, []byte("\xef\xbb\xbf"))
	if bytes.IndexByte(src, 0) >= 0 {
		return "", errors.New("it is no text file")
	}
	if !utf8.Valid(src) {
		return "", errors.New("it is not UTF-8; if it comes from an older Windows program, write encoding: windows-1252 in the map")
	}
	return string(src), nil
}

// windows1252 are the characters of bytes 0x80 to 0x9f (WHATWG Encoding Standard,
// index windows-1252); the rest is as in Unicode.
var windows1252 = [32]rune{
	0x20ac, 0x81, 0x201a, 0x0192, 0x201e, 0x2026, 0x2020, 0x2021, 0x02c6, 0x2030, 0x0160, 0x2039, 0x0152, 0x8d, 0x017d, 0x8f,
	0x90, 0x2018, 0x2019, 0x201c, 0x201d, 0x2022, 0x2013, 0x2014, 0x02dc, 0x2122, 0x0161, 0x203a, 0x0153, 0x9d, 0x017e, 0x0178,
}

// findDelimiter finds the character that cuts the first lines into the same
// number of fields most often.
func findDelimiter(text string) rune {
	lines := strings.SplitN(text, "\n", 42)
	if len(lines) > 41 {
		lines = lines[:41]
	}
	best, bestScore := ',', 0
	for _, comma := range []rune{',', ';', '\t', '|'} {
		counts := map[int]int{}
		for _, line := range lines {
			n, quoted := 0, false
			for _, r := range line {
				if r == '"' {
					quoted = !quoted
				} else if r == comma && !quoted {
					n++
				}
			}
			if n > 0 {
				counts[n]++
			}
		}
		for n, times := range counts {
			if score := times * min(n, 40); score > bestScore {
				best, bestScore = comma, score
			}
		}
	}
	return best
}
