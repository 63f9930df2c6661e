package dataset

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"

	"wj/render"
)

// jsonSink writes one JSON object a line: first a line for each row of the tables
// journals and exports and of the lists, then one for each record with its fields as
// typed, its results and its references.
type jsonSink struct {
	w    *bufio.Writer
	text bytes.Buffer
}

// NewJSONLines writes JSON Lines.
func NewJSONLines(w io.Writer) Sink { return &jsonSink{w: bufio.NewWriterSize(w, 64<<10)} }

func (s *jsonSink) Write(e *Entry) error {
	line := object{}
	for _, row := range e.Rows {
		o := object{}
		for i, c := range row.Table.Columns {
			if v := row.Values[i]; v != nil {
				o[c.Name] = v
			}
		}
		switch {
		case row.Table.Name == recordsTable.Name && e.Kind != 0:
			for k, v := range o {
				line[k] = v
			}
		case e.Kind == 0:
			o["table"] = row.Table.Name
			if err := s.line(o); err != nil {
				return err
			}
		case row.Table == resultsTable, row.Table == linksTable:
			for i := range row.Table.Key { // the record says them itself
				if c := row.Table.Columns[i].Name; c == "journal_id" || c == "session_id" || c == "from_kind" || c == "from_id" {
					delete(o, c)
				}
			}
			list, _ := line[row.Table.Name].([]any)
			line[row.Table.Name] = append(list, o)
		}
	}
	if e.Kind == 0 {
		return nil
	}
	line["table"], line["fields"] = recordsTable.Name, e.Meaning
	return s.line(line)
}

func (s *jsonSink) line(o object) error {
	s.text.Reset()
	e := json.NewEncoder(&s.text)
	e.SetEscapeHTML(false)
	if err := e.Encode(o); err != nil {
		return fmt.Errorf("write a line of JSON: %w", err)
	}
	text := s.text.Bytes()
	for i, c := range text {
		if c >= 0x7f || c == '#' && text[max(0, i-1)] == '#' { // something that a terminal may act on
			_, err := s.w.WriteString(render.EscapeJSON(string(text)))
			return err
		}
	}
	_, err := s.w.Write(text)
	return err
}

func (s *jsonSink) Finish() error { return s.w.Flush() }
