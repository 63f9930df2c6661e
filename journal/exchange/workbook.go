package exchange

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"path"
	"strconv"
	"strings"
	"time"
)

// An XLSX file is a ZIP of XML parts (ECMA-376, part 1; part names below are
// found through the workbook's relations). What is read of it is values: texts,
// numbers, and which number formats are dates. Formulas are never computed, their
// stored results are taken. Nothing is unpacked to the disk.
const (
	maxPart       = 128 << 20 // bytes of one part, unpacked
	maxParts      = 4_096
	maxSharedText = 2_000_000
)

// ReadWorkbook reads a sheet of an XLSX file, the first one where name is empty.
func ReadWorkbook(src []byte, name string) (*Sheet, error) {
	if bytes.HasPrefix(src, []byte("\xd0\xcf\x11\xe0")) {
		return nil, errors.New("it is an old or a locked workbook; save it as .xlsx without a password, or as CSV")
	}
	if len(src) > MaxSheetFile {
		return nil, fmt.Errorf("it is larger than %d MiB", MaxSheetFile>>20)
	}
	z, err := zip.NewReader(bytes.NewReader(src), int64(len(src)))
	if err != nil {
		return nil, errors.New("it is no workbook")
	}
	if len(z.File) > maxParts {
		return nil, fmt.Errorf("it has more than %d parts", maxParts)
	}
	w := workbook{parts: map[string]*zip.File{}}
	for _, f := range z.File {
		if f.UncompressedSize64 > maxPart {
			return nil, fmt.Errorf("%s is larger than %d MiB when unpacked", f.Name, maxPart>>20)
		}
		w.parts[strings.TrimPrefix(path.Clean("/"+f.Name), "/")] = f
	}
	target, name, err := w.find(name)
	if err != nil {
		return nil, err
	}
	if err := w.strings(); err != nil {
		return nil, err
	}
	if err := w.styles(); err != nil {
		return nil, err
	}
	s, err := w.sheet(target)
	if err != nil {
		return nil, err
	}
	s.Name = name
	return s, nil
}

type workbook struct {
	parts map[string]*zip.File
	mac   bool // days are counted from 1904
	texts []string
	dates []bool // of each cell style: is it a date
}

// each calls do for every start element of a part; a part that is absent has
// none.
func (w *workbook) each(part string, do func(d *xml.Decoder, e xml.StartElement) error) error {
	f := w.parts[part]
	if f == nil {
		return nil
	}
	r, err := f.Open()
	if err != nil {
		return fmt.Errorf("open %s: %w", part, err)
	}
	defer r.Close()
	limited := &io.LimitedReader{R: r, N: maxPart}
	d := xml.NewDecoder(limited)
	for {
		t, err := d.Token()
		if err == io.EOF {
			return nil
		}
		if limited.N <= 0 {
			return fmt.Errorf("%s is larger than %d MiB when unpacked", part, maxPart>>20)
		}
		if err != nil {
			return fmt.Errorf("read %s: %w", part, err)
		}
		if e, ok := t.(xml.StartElement); ok {
			if err := do(d, e); err != nil {
				return err
			}
		}
	}
}

func attribute(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// find finds the part of a sheet by its name, and the name where none is asked
// for.
func (w *workbook) find(name string) (part, found string, err error) {
	relations := map[string]string{}
	err = w.each("xl/_rels/workbook.xml.rels", func(_ *xml.Decoder, e xml.StartElement) error {
		if e.Name.Local == "Relationship" {
			target := attribute(e, "Target")
			if !strings.HasPrefix(target, "/") {
				target = "/xl/" + target
			}
			relations[attribute(e, "Id")] = strings.TrimPrefix(path.Clean(target), "/")
		}
		return nil
	})
	if err != nil {
		return "", "", err
	}
	var names []string
	err = w.each("xl/workbook.xml", func(_ *xml.Decoder, e xml.StartElement) error {
		switch e.Name.Local {
		case "workbookPr":
			v := attribute(e, "date1904")
			w.mac = v == "1" || v == "true"
		case "sheet":
			id := ""
			for _, a := range e.Attr {
				if a.Name.Local == "id" && a.Name.Space != "" {
					id = a.Value
				}
			}
			names = append(names, attribute(e, "name"))
			if part == "" && (name == "" || attribute(e, "name") == name) {
				part, found = relations[id], attribute(e, "name")
			}
		}
		return nil
	})
	switch {
	case err != nil:
		return "", "", err
	case len(names) == 0:
		return "", "", errors.New("it is no workbook: it names no sheets")
	case part == "" || w.parts[part] == nil:
		return "", "", fmt.Errorf("it has no sheet %q; its sheets are %s", name, strings.Join(names, ", "))
	}
	return part, found, nil
}

// names lists the sheets.
func (w *workbook) names() (names []string, err error) {
	err = w.each("xl/workbook.xml", func(_ *xml.Decoder, e xml.StartElement) error {
		if e.Name.Local == "sheet" {
			names = append(names, attribute(e, "name"))
		}
		return nil
	})
	return names, err
}

// strings reads the shared texts.
func (w *workbook) strings() error {
	return w.each("xl/sharedStrings.xml", func(d *xml.Decoder, e xml.StartElement) error {
		if e.Name.Local != "si" {
			return nil
		}
		if len(w.texts) >= maxSharedText {
			return fmt.Errorf("it has more than %d texts", maxSharedText)
		}
		text, err := richText(d, e)
		w.texts = append(w.texts, text)
		return err
	})
}

// richText joins the runs of a text and leaves phonetic readings out.
func richText(d *xml.Decoder, start xml.StartElement) (string, error) {
	var t struct {
		Text string   `xml:"t"`
		Runs []string `xml:"r>t"`
	}
	if err := d.DecodeElement(&t, &start); err != nil {
		return "", err
	}
	text := tidy(t.Text + strings.Join(t.Runs, ""))
	if len(text) > maxCellText {
		return "", fmt.Errorf("a cell holds more than %d KiB of text", maxCellText>>10)
	}
	return text, nil
}

// styles finds out which cell styles show a number as a date.
func (w *workbook) styles() error {
	formats := map[string]bool{}
	cells := false
	return w.each("xl/styles.xml", func(_ *xml.Decoder, e xml.StartElement) error {
		switch e.Name.Local {
		case "numFmt":
			formats[attribute(e, "numFmtId")] = dateFormat(attribute(e, "formatCode"))
		case "cellStyleXfs":
			cells = false
		case "cellXfs":
			cells = true
		case "dxfs", "cellStyles":
			cells = false
		case "xf":
			if cells {
				id := attribute(e, "numFmtId")
				n, _ := strconv.Atoi(id)
				// Built-in formats of dates and times: ECMA-376, part 1, 18.8.30.
				w.dates = append(w.dates, formats[id] || n >= 14 && n <= 22 || n >= 45 && n <= 47 || n >= 27 && n <= 36 || n >= 50 && n <= 58)
			}
		}
		return nil
	})
}

// dateFormat reports whether a number format shows a date or a time: it has a
// letter of one outside quotes, brackets and escapes.
func dateFormat(code string) bool {
	quoted, bracket := false, 0
	for i := 0; i < len(code); i++ {
		switch c := code[i]; {
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '\\' || c == '_' || c == '*':
			i++
		case c == '[':
			if rest := strings.ToLower(code[i:]); strings.HasPrefix(rest, "[h") || strings.HasPrefix(rest, "[m") || strings.HasPrefix(rest, "[s") {
				return true
			}
			bracket++
		case c == ']':
			bracket--
		case bracket > 0:
		case strings.IndexByte("dmyhsDMYHS", c) >= 0:
			return true
		}
	}
	return false
}

// sheet reads the cells of a sheet.
func (w *workbook) sheet(part string) (*Sheet, error) {
	s := &Sheet{}
	row, cells := 0, 0
	err := w.each(part, func(d *xml.Decoder, e xml.StartElement) error {
		switch e.Name.Local {
		case "row":
			row++
			if n, err := strconv.Atoi(attribute(e, "r")); err == nil {
				if n < row || n > 1<<20 {
					return fmt.Errorf("its rows are out of order at row %d", n)
				}
				row = n
			}
			s.Lines = append(s.Lines, Line{Number: row})
			return withinLimits(len(s.Lines), 0, cells)
		case "c":
			if len(s.Lines) == 0 {
				return errors.New("it has a cell outside a row")
			}
			l := &s.Lines[len(s.Lines)-1]
			column := len(l.Cells)
			if ref := attribute(e, "r"); ref != "" {
				n, ok := columnNumber(strings.TrimRight(ref, "0123456789"))
				if !ok || n < column {
					return fmt.Errorf("it has a cell %q out of order", ref)
				}
				column = n
			}
			cells++
			if err := withinLimits(0, column+1, cells+column-len(l.Cells)); err != nil {
				return err
			}
			for len(l.Cells) < column {
				l.Cells = append(l.Cells, Cell{})
				cells++
			}
			c, err := w.cell(d, e)
			l.Cells = append(l.Cells, c)
			return err
		}
		return nil
	})
	return s, err
}

// columnNumber reads the letters of a column, A being 0.
func columnNumber(letters string) (int, bool) {
	n := 0
	for _, r := range letters {
		if r < 'A' || r > 'Z' || n > maxSheetCols {
			return 0, false
		}
		n = n*26 + int(r-'A') + 1
	}
	return n - 1, n > 0
}

func (w *workbook) cell(d *xml.Decoder, e xml.StartElement) (Cell, error) {
	var x struct {
		Formula string `xml:"f"`
		Value   string `xml:"v"`
		Inline  struct {
			Text string   `xml:"t"`
			Runs []string `xml:"r>t"`
		} `xml:"is"`
	}
	if err := d.DecodeElement(&x, &e); err != nil {
		return Cell{}, err
	}
	if x.Value == "" && x.Formula != "" {
		return Cell{Text: tidy("=" + x.Formula)}, nil // never computed: whoever reads it sees that
	}
	switch attribute(e, "t") {
	case "s":
		n, err := strconv.Atoi(strings.TrimSpace(x.Value))
		if err != nil || n < 0 || n >= len(w.texts) {
			return Cell{}, errors.New("it refers to a text that it does not hold")
		}
		return Cell{Text: w.texts[n]}, nil
	case "inlineStr":
		return Cell{Text: tidy(x.Inline.Text + strings.Join(x.Inline.Runs, ""))}, nil
	case "str", "e", "d":
		return Cell{Text: tidy(x.Value)}, nil
	case "b":
		return Cell{Text: map[string]string{"1": "true", "0": "false"}[strings.TrimSpace(x.Value)]}, nil
	}
	text := strings.TrimSpace(x.Value)
	if text == "" {
		return Cell{}, nil
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return Cell{Text: text}, nil
	}
	style, err := strconv.Atoi(attribute(e, "s"))
	if err == nil && style >= 0 && style < len(w.dates) && w.dates[style] && v >= 0 && v < 2_958_466 {
		return w.moment(v), nil
	}
	return Cell{Text: formatStored(v)}, nil
}

// formatStored writes a stored number as the spreadsheet shows it at most: with
// 15 significant digits, so that 7.4200000000000008 is 7.42.
func formatStored(v float64) string {
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 15, 64), 64)
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

// moment turns a serial number into a day and a time of day, to the second
// (ECMA-376, part 1, 18.17.4). Serials up to 60 are off by the leap day of 1900
// that never was.
func (w *workbook) moment(v float64) Cell {
	epoch := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
	if w.mac {
		epoch = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
	} else if v < 60 {
		epoch = epoch.AddDate(0, 0, 1)
	}
	whole := math.Floor(v)
	seconds := math.Round((v - whole) * 86400)
	t := epoch.AddDate(0, 0, int(whole)).Add(time.Duration(seconds) * time.Second)
	c := Cell{Time: t, Day: whole > 0, Clock: seconds > 0}
	switch {
	case c.Day && c.Clock:
		c.Text = t.Format("2006-01-02 15:04:05")
	case c.Day:
		c.Text = t.Format("2006-01-02")
	default:
		c.Text, c.Clock = t.Format("15:04:05"), true
	}
	return c
}
