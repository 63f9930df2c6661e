package exchange

import (
	"archive/zip"
	"bytes"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"wj/journal"
)

// Read reads a table by what it is, not by its name, as a map says: delimiter and encoding of a
// text file, sheets of a workbook. Of a later sheet the heads, and what is above them, are left out.
func Read(src []byte, m *Mapping) (*Sheet, error) {
	if !isWorkbook(src) {
		return ReadDelimited(src, m.Delimiter, m.Encoding)
	}
	sheets := m.Sheets
	if slices.Equal(sheets, []string{"all"}) {
		var err error
		if sheets, err = SheetNames(src); err != nil {
			return nil, err
		}
	}
	if len(sheets) == 0 {
		sheets = []string{""}
	}
	var out *Sheet
	cells := 0
	for _, name := range sheets {
		s, err := ReadWorkbook(src, name)
		if err != nil {
			return nil, err
		}
		if out == nil {
			out = s
			continue
		}
		for _, l := range s.Lines {
			if len(m.Header) > 0 && l.Number <= m.Header[len(m.Header)-1] {
				continue
			}
			l.Sheet = s.Name
			cells += len(l.Cells)
			out.Lines = append(out.Lines, l)
		}
		if err := withinLimits(len(out.Lines), 0, cells); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func isWorkbook(src []byte) bool {
	return bytes.HasPrefix(src, []byte("PK\x03\x04")) || bytes.HasPrefix(src, []byte("\xd0\xcf\x11\xe0"))
}

// SheetNames lists the sheets of a workbook.
func SheetNames(src []byte) ([]string, error) {
	z, err := zip.NewReader(bytes.NewReader(src), int64(len(src)))
	if err != nil || len(z.File) > maxParts {
		return nil, fmt.Errorf("it is no workbook that can be read")
	}
	w := workbook{parts: map[string]*zip.File{}}
	for _, f := range z.File {
		w.parts[strings.TrimPrefix(f.Name, "/")] = f
	}
	return w.names()
}

// Draft drafts a map for a file: of the sheet named, else of the first that has heads; sheets with
// the same heads are named with it.
func Draft(j *journal.Journal, src []byte, file, sheet, by string) (yaml []byte, unsure int, err error) {
	file = filepath.Base(file)
	if !isWorkbook(src) {
		s, err := ReadDelimited(src, 0, "")
		if err == nil || !strings.Contains(err.Error(), "UTF-8") {
			if err != nil {
				return nil, 0, err
			}
			return Guess(j, s, file, by)
		}
		if s, err = ReadDelimited(src, 0, "windows-1252"); err != nil {
			return nil, 0, err
		}
		yaml, unsure, err = Guess(j, s, file, by)
		return append([]byte("encoding: windows-1252  # ? the file is not UTF-8: are its letters right?\n"), yaml...), unsure + 1, err
	}
	names := []string{sheet}
	if sheet == "" {
		if names, err = SheetNames(src); err != nil {
			return nil, 0, err
		}
	}
	var first *Sheet
	var heads []string
	var like []string
	for _, name := range names[:min(len(names), 40)] {
		s, err := ReadWorkbook(src, name)
		if err != nil {
			return nil, 0, err
		}
		switch _, found := guessHeader(s); {
		case first == nil || heads == nil && found != nil:
			first, heads = s, found
		case found != nil && slices.Equal(found, heads):
			like = append(like, s.Name)
		}
	}
	return Guess(j, first, file, by, like...)
}
