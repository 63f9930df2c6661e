// Package reader answers the conformance suite as wj reads a journal.
package reader

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing/fstest"

	"wj/journal"
	"wj/journal/exchange/dataset"
	"wj/testdata/format/suite"
)

// aside are the tables that describe an export, or repeat what others hold.
var aside = []string{"records", "journals", "exports", "record_links", "journal_settings", "tombstones"}

// Answer reads a journal.
func Answer(q suite.Question) (suite.Answer, error) {
	files := fstest.MapFS{}
	for name, text := range q.Files {
		files[name] = &fstest.MapFile{Data: []byte(text)}
	}
	j, err := journal.Load(files, journal.Options{Sessions: true, Check: true})
	if err != nil {
		return suite.Answer{Problems: []string{"the journal cannot be read"}}, nil
	}
	problems := slices.Clone(j.Problems)
	for _, f := range j.Files {
		d, _, err := j.ReadRecord(f)
		if err != nil {
			return suite.Answer{}, err
		}
		problems = append(problems, journal.Check(d, f.Kind, f.Path, j)...)
	}
	var places []string
	for _, p := range problems {
		places = append(places, fmt.Sprintf("%s:%d:%d %s", p.Path, p.Line, p.Column, p.Rule))
	}
	if len(places) > 0 {
		slices.Sort(places)
		return suite.Answer{Problems: slices.Compact(places)}, nil
	}
	var rows facts
	_, err = dataset.Export(j, dataset.Options{Origin: dataset.Origin{JournalID: "j", Dirty: -1}}, &rows)
	return suite.Answer{Rows: rows}, err
}

// facts keeps the rows of what the files state, each with its columns in the order of its table.
type facts []json.RawMessage

func (f *facts) Finish() error { return nil }

func (f *facts) Write(e *dataset.Entry) error {
	for _, r := range e.Rows {
		if r.Table.Layer != dataset.Facts || slices.Contains(aside, r.Table.Name) {
			continue
		}
		members := []string{`"table":` + quoted(r.Table.Name)}
		for i, v := range r.Values {
			if c := r.Table.Columns[i].Name; v != nil && c != "journal_id" {
				members = append(members, quoted(c)+":"+quoted(dataset.FormatValue(v)))
			}
		}
		*f = append(*f, json.RawMessage("{"+strings.Join(members, ",")+"}"))
	}
	return nil
}

func quoted(s string) string {
	var b strings.Builder
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	_ = e.Encode(s)
	return strings.TrimSuffix(b.String(), "\n")
}
