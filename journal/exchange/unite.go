package exchange

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"wj/journal"
	"wj/render"
)

// UnitedFormats are those in which the exports of several journals make one.
var UnitedFormats = []string{"csv", "jsonl"}

// United puts the exports of several journals at Output as one.
func (x *Export) United(format string, journals []string, parts []io.ReadSeeker) error {
	if !x.toStdout() {
		if err := journal.Outside(x.Output); err != nil {
			return err
		}
	}
	return x.stream(func(w io.Writer) error { return Unite(format, w, journals, parts) })
}

// Unite makes one export of those of several journals, each row behind the name of
// its journal as its first column, journal. In CSV the columns are those of any of
// them, and the bytes of a field stay as they are: a text in quotes, a number without.
func Unite(format string, w io.Writer, journals []string, parts []io.ReadSeeker) error {
	out := bufio.NewWriter(w)
	var err error
	switch format {
	case "csv":
		err = uniteCSV(out, journals, parts)
	case "jsonl":
		for i, part := range parts {
			name, failed := render.Encode(journals[i])
			if err = errors.Join(failed, eachRecord(part, !inCSV, func(line []byte) error {
				rest, ok := bytes.CutPrefix(line, []byte("{"))
				if !ok {
					return fmt.Errorf("the export of %s has a line that is no object", journals[i])
				}
				_, err := fmt.Fprintf(out, "{\"journal\":%s,%s\n", name, rest)
				return err
			})); err != nil {
				break
			}
		}
	default:
		err = fmt.Errorf("%s of several journals is not one file", format)
	}
	return errors.Join(err, out.Flush())
}

func uniteCSV(out *bufio.Writer, journals []string, parts []io.ReadSeeker) error {
	all := []string{`"journal"`}
	heads := make([][]string, len(parts))
	for i, part := range parts {
		stop := errors.New("the head is read")
		if err := eachRecord(part, inCSV, func(line []byte) error { heads[i] = splitCSV(line); return stop }); err != nil && !errors.Is(err, stop) {
			return err
		}
		at := 0 // a column that only some have stands behind the one before it
		for _, head := range heads[i] {
			if k := slices.Index(all, head); k >= 0 {
				at = k
				continue
			}
			at++
			all = slices.Insert(all, at, head)
		}
		if _, err := part.Seek(0, io.SeekStart); err != nil {
			return err
		}
	}
	_, _ = out.WriteString(strings.Join(all, ",") + "\n")
	for i, part := range parts {
		place := make([]int, len(heads[i]))
		for k, head := range heads[i] {
			place[k] = slices.Index(all, head)
		}
		first := true
		if err := eachRecord(part, inCSV, func(line []byte) error {
			if first {
				first = false
				return nil
			}
			row := make([]string, len(all))
			row[0] = `"` + strings.ReplaceAll(journals[i], `"`, `""`) + `"`
			for k, field := range splitCSV(line) {
				if k < len(place) {
					row[place[k]] = field
				}
			}
			_, err := out.WriteString(strings.Join(row, ",") + "\n")
			return err
		}); err != nil {
			return err
		}
	}
	return nil
}

// inCSV says that a line break in quotes is part of a record.
const inCSV = true

// eachRecord gives the records of a text, without their line ends.
func eachRecord(r io.Reader, quoted bool, f func(record []byte) error) error {
	in := bufio.NewReaderSize(r, 64<<10)
	var record []byte
	for {
		line, err := in.ReadBytes('\n')
		record = append(record, line...)
		if err != nil && !errors.Is(err, io.EOF) {
			return err
		}
		if end := err != nil; end || !quoted || bytes.Count(record, []byte(`"`))%2 == 0 {
			if text := bytes.TrimRight(record, "\r\n"); len(text) > 0 {
				if failed := f(text); failed != nil {
					return failed
				}
			}
			if record = record[:0]; end {
				return nil
			}
		}
	}
}

// splitCSV takes a record apart at its commas outside of quotes.
func splitCSV(record []byte) []string {
	var out []string
	start, quoted := 0, false
	for i, c := range record {
		switch {
		case c == '"':
			quoted = !quoted
		case c == ',' && !quoted:
			out = append(out, string(record[start:i]))
			start = i + 1
		}
	}
	return append(out, string(record[start:]))
}
