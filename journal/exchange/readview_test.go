package exchange

import (
	"cmp"
	"io/fs"
	"maps"
	"os"
	"strings"
	"testing"
	"testing/fstest"

	"wj/journal"
	"wj/journal/exchange/dataset"
)

// TestViewsComeBack exports a journal in each view, imports the view into the same journal without its sessions, and compares what the
// view has. No row is skipped that holds a measured result, and none is made of what was computed.
func TestViewsComeBack(t *testing.T) {
	whole := fstest.MapFS{}
	for _, folder := range []string{"wj.yaml", "people", "owners", "sites", "lots", "instruments", "sessions", "methods", "changes", "batches", "targets", "events", "actions", "reports", "limits", "beers", "signoffs", "anchors"} {
		_ = fs.WalkDir(os.DirFS("../../example-journal"), folder, func(name string, e fs.DirEntry, err error) error {
			if err != nil || e.IsDir() {
				return err
			}
			text, err := os.ReadFile("../../example-journal/" + name)
			whole[name] = record(string(text))
			return err
		})
	}
	small := smallFiles(map[string]string{
		"instruments/pen.md": "---\nname: Pen\nmeasures:\n  conductivity: {units: uS/cm}\n---\n",
		"sessions/2026/2026-03-04-north-well-2.md": "---\nsite: north-well\nsampled: 2026-03-04T08:15+02:00\nby: ines\nsample: duplicate\nplace: [55.7, -19.5]\nreadings:\n" +
			"  sulfate:      {value: [84 mg/L, 86 mg/L], dilution: 2}\n  iron:         \">3 mg/L\"\n  calcium:      84.2 ± 1.7 mg/L\n  conductivity: {value: 1196 uS/cm, instrument: pen, tested: 2026-03-04T09:00+02:00}\n  temperature:  -0.5 degC\n---\n",
	})
	for _, files := range []fstest.MapFS{small, whole} {
		j := loaded(t, files)
		without := fstest.MapFS{}
		for name, file := range files {
			if !strings.HasPrefix(name, "sessions/") && !strings.HasPrefix(name, "changes/") && !strings.HasPrefix(name, "batches/") && !strings.HasPrefix(name, "actions/") && !strings.HasPrefix(name, "reports/") && !strings.HasPrefix(name, "signoffs/") {
				without[name] = file
			}
		}
		empty := loaded(t, without)
		for _, x := range []Export{{Format: "csv"}, {Format: "csv", Wide: true}, {Format: "geojson"}, {Format: "wqx"}, {Format: "wqx-csv"}} {
			text := written(t, j, x, dataset.Options{Measured: len(j.Sessions.List) > 9})
			sheet, form, src, err := ReadView(empty, []byte(text))
			if err != nil || form == "" {
				t.Fatalf("%v: not known again: %v", x, err)
			}
			m, problems := ParseMapping("view", src)
			if len(problems) > 0 {
				t.Fatalf("the map of views: %v", problems)
			}
			plan, wrong := Import(empty, m, sheet, ImportOptions{File: "view", By: "ines"})
			if wrong != nil {
				t.Fatalf("%s: %v", form, wrong)
			}
			for _, r := range plan.Rows {
				if r.RowState == Refused || r.RowState == Skipped && !strings.Contains(r.Message, "derived") && !strings.Contains(r.Message, `"void" is "1"`) && !strings.Contains(r.Message, "void is") {
					t.Fatalf("%s: row %d: %s: %s", form, r.Row, r.Message, r.Help)
				}
			}
			back := map[string]*journal.Session{}
			again := maps.Clone(without)
			for _, p := range plan.Records {
				again[p.Path] = record(string(p.Source))
			}
			whole, err := journal.Load(again, journal.Options{Sessions: true, Check: true})
			if err != nil {
				t.Fatal(err)
			}
			for _, p := range whole.Problems { // what a check standard holds is in no view
				if !strings.Contains(p.Message, "check standard without its true values") {
					t.Fatalf("%s: %s:%d: %s", form, p.Path, p.Line, p.Message)
				}
			}
			for _, s := range whole.Sessions.List {
				back[s.ID] = s
			}
			for _, s := range j.Sessions.List {
				b := back[s.ID]
				delete(back, s.ID)
				if s.Void != nil || len(s.Readings) == 0 {
					continue
				}
				if b == nil {
					t.Fatalf("%s: %s did not come back", form, s.ID)
				}
				if b.Site != s.Site || !b.Sampled.Equal(s.Sampled) || b.By != s.By || b.Source != s.Source || b.Sample != s.Sample || len(b.Readings) != len(s.Readings) || form != "csv --wide" && b.Laboratory != s.Laboratory {
					t.Fatalf("%s: %s came back as %+v", form, s.ID, b)
				}
				for i := range s.Readings {
					was := &s.Readings[i]
					now, has := b.Reading(was.Analyte)
					switch {
					case !has:
						t.Fatalf("%s: %s lacks %s", form, s.ID, was.Analyte)
					case form == "csv --wide": // the number in its standard unit alone
						if now.First.Bound != was.First.Bound {
							t.Errorf("%s: %s %s: %s was %s", form, s.ID, was.Analyte, now.First.String(), was.First.String())
						}
					case journal.TypedReading(now) != journal.TypedReading(was) || now.Lot != was.Lot || cmp.Or(now.Instrument, b.Instrument) != cmp.Or(was.Instrument, s.Instrument) || !now.Tested.Equal(was.Tested):
						t.Errorf("%s: %s %s: %s %s %s %s was %s %s %s %s", form, s.ID, was.Analyte, journal.TypedReading(now), now.Lot, now.Instrument, now.Tested, journal.TypedReading(was), was.Lot, was.Instrument, was.Tested)
					}
				}
			}
			if len(back) > 0 {
				t.Errorf("%s made %d sessions that were not there", form, len(back))
			}
		}
	}
}
