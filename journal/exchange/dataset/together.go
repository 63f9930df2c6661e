package dataset

import "wj/journal"

// Together is a sink for several journals, exported one after another: what is the same
// in all of them is written once, and the sink below ends with Close.
type Together struct {
	sink Sink
	had  map[string]bool // rows of lists, by table and name
}

// NewTogether makes one sink of several journals.
func NewTogether(sink Sink) *Together { return &Together{sink, map[string]bool{}} }

// Write implements [Sink].
func (t *Together) Write(e *Entry) error {
	if e.Kind != journal.NoKind {
		return t.sink.Write(e)
	}
	once := *e
	once.Rows = nil
	for _, row := range e.Rows {
		if row.Table.Layer == Lists {
			name := row.Table.Name + " " + asText(row.Values[0])
			if t.had[name] {
				continue
			}
			t.had[name] = true
		}
		once.Rows = append(once.Rows, row)
	}
	return t.sink.Write(&once)
}

// Finish implements [Sink]: the end of one journal.
func (t *Together) Finish() error { return nil }

// Close ends the last.
func (t *Together) Close() error { return t.sink.Finish() }
