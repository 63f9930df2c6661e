package dataset

import (
	"fmt"
	"io/fs"
	"maps"
	"os"
	"runtime"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"pgregory.net/rapid"

	"wj/journal"
	"wj/testdata/raced"
	"wj/water"
	"wj/water/substance"
)

// texts are what people and programs write, the awkward ones among them.
var texts = rapid.OneOf(
	rapid.SampledFrom([]string{"=1+1", "- x", "yes", "null", "'", "\"", "a: b", "#", "a,b;c", "NULL", "2026-11", "<5 mg/L", "µ ÷ CaCO₃", "line\nbreak", " lead", "trail ", "~1/0~", "12", "1e3", "\u2028", "a\tb", "{x}", "[1]"}),
	rapid.StringMatching(`[a-zA-Zäß0-9 _.,:;<>±%/()'"#-]{1,30}`), rapid.StringN(1, 12, 40),
).Filter(func(s string) bool {
	return holdable(s) && !strings.ContainsAny(s, "\u0085\ufeff\ufffe\uffff") && !hasControl(s)
})

func hasControl(s string) bool {
	for _, r := range s {
		if r < ' ' && r != '\n' && r != '\t' || r >= 0x7f && r < 0xa0 || r == 0xfffd {
			return true
		}
	}
	return false
}

// drawValue draws the meaning of a field.
func drawValue(t *rapid.T, f *journal.Field) any {
	switch {
	case f.Type == journal.TypeDict:
		m := meaning{}
		for range rapid.IntRange(1, 3).Draw(t, "entries") {
			key := texts.Draw(t, "key")
			switch f.Keys {
			case journal.AnalyteKey, journal.ValueKey, journal.TargetKey:
				key = water.ID(rapid.IntRange(0, int(water.NumAnalytes)-1).Draw(t, "analyte")).String()
			case journal.SubstanceKey:
				key = rapid.SampledFrom(substance.All()).Draw(t, "substance").Key
			}
			m[key] = drawValue(t, f.Of)
		}
		return m
	case f.Type == journal.TypeList, f.Type == journal.TypeOneOrList:
		n := rapid.IntRange(1, 3).Draw(t, "items")
		if f.Of.Type == journal.TypeReading {
			n = 2
		}
		list := make([]any, n)
		for i := range list {
			list[i] = drawValue(t, f.Of)
		}
		return list
	case f.Type == journal.TypeMap || f.Fields != nil:
		return drawMapping(t, f.Fields)
	case f.Type == journal.TypeReading && f.Key == "value":
		list := make([]any, rapid.IntRange(1, 3).Draw(t, "replicates"))
		for i := range list {
			list[i] = drawQuantity(t)
		}
		return list
	case f.Type == journal.TypePlace:
		return []any{fmt.Sprint(rapid.IntRange(-90, 90).Draw(t, "latitude")), fmt.Sprintf("%.3f", rapid.Float64Range(-180, 180).Draw(t, "longitude"))}
	}
	switch f.Type {
	case journal.TypeDate:
		return fmt.Sprintf("20%02d-%02d-%02d", rapid.IntRange(0, 99).Draw(t, "y"), rapid.IntRange(1, 12).Draw(t, "m"), rapid.IntRange(1, 28).Draw(t, "d"))
	case journal.TypeTime:
		return fmt.Sprintf("2026-%02d-%02dT%02d:%02d+0%d:00", rapid.IntRange(1, 12).Draw(t, "m"), rapid.IntRange(1, 28).Draw(t, "d"), rapid.IntRange(0, 23).Draw(t, "h"), rapid.IntRange(0, 59).Draw(t, "min"), rapid.IntRange(0, 9).Draw(t, "offset"))
	case journal.TypeChoice:
		if len(f.Choices) > 0 {
			return rapid.SampledFrom(f.Choices).Draw(t, "choice")
		}
	case journal.TypeInteger:
		return fmt.Sprint(rapid.Int64().Draw(t, "n"))
	case journal.TypeFlag:
		return fmt.Sprint(rapid.Bool().Draw(t, "flag"))
	case journal.TypeQuantity, journal.TypeReading:
		return drawQuantity(t)
	}
	return texts.Draw(t, "text")
}

func drawQuantity(t *rapid.T) string {
	if rapid.IntRange(0, 5).Draw(t, "odd") == 0 {
		return texts.Draw(t, "text")
	}
	return rapid.SampledFrom([]string{"", "<", ">"}).Draw(t, "bound") + rapid.StringMatching(`[0-9]{1,3}(\.[0-9]{1,2})?`).Draw(t, "number") + rapid.SampledFrom([]string{" mg/L", " mg/L CaCO3", "", " degC", " g", " mL", " d", " %", " uS/cm"}).Draw(t, "unit")
}

func drawMapping(t *rapid.T, fields []journal.Field) meaning {
	m := meaning{}
	for i := range fields {
		if f := &fields[i]; f.Required || rapid.IntRange(0, 2).Draw(t, "there") == 0 {
			m[f.Key] = drawValue(t, f)
		}
	}
	return m
}

// drawJournal draws a journal with a few records of every kind.
func drawJournal(t *rapid.T) fstest.MapFS {
	files := fstest.MapFS{}
	add := func(path string, kind journal.Kind, m meaning, body string) {
		src, err := compose(kind, m, body)
		if err != nil {
			return // a text that YAML, or its limits, cannot take
		}
		files[path] = &fstest.MapFile{Data: src}
	}
	settings := meaning{"format": "1", "timezone": "Europe/Vilnius"}
	for _, f := range journal.KindSettings.Fields() {
		if f.Key != "format" && f.Key != "timezone" && f.Type != journal.TypeRuleSetting && rapid.Bool().Draw(t, "setting") && f.Key != "lint" {
			settings[f.Key] = drawValue(t, &f)
		}
	}
	files["wj.yaml"] = &fstest.MapFile{Data: []byte("format: 1\ntimezone: Europe/Vilnius\n")}
	add("wj.yaml", journal.KindSettings, settings, "")
	for _, k := range journal.Kinds() {
		for n := range rapid.IntRange(0, 2).Draw(t, "records") {
			id := fmt.Sprintf("%s-%d", k, n)
			path := k.Folder() + "/" + id + ".md"
			if k == journal.KindSession {
				path = k.Folder() + "/2026/" + id + ".md"
			}
			body := ""
			if rapid.Bool().Draw(t, "body") {
				body = "\n" + texts.Draw(t, "text") + "\n"
			}
			add(path, k, drawMapping(t, k.Fields()), body)
			if f, ok := files[path]; ok && rapid.IntRange(0, 5).Draw(t, "ends") == 0 { // from a program of another system
				f.Data = []byte(strings.ReplaceAll(string(f.Data), "\n", "\r\n"))
			}
			if rapid.IntRange(0, 5).Draw(t, "untidy") == 0 {
				if f, ok := files[path]; ok { // a key that nobody knows
					files[path] = &fstest.MapFile{Data: append([]byte("---\nhobby: swimming\n"), strings.TrimPrefix(string(f.Data), "---\n")...)}
				}
			}
		}
	}
	return files
}

// TestRandomJournalsComeBack: each journal through all formats with WJ_FORMATS=1, more
// of them with -rapid.checks=1000: whatever a journal holds, every complete format gives it
// back byte for byte; and where the columns hold all of a record, they alone give back
// its meaning.
func TestRandomJournalsComeBack(t *testing.T) {
	if raced.On() {
		t.Skip("a hundred journals, four formats each, by one goroutine: without the race detector only")
	}
	whole := 0
	rapid.Check(t, func(rt *rapid.T) {
		files := drawJournal(rt)
		j, err := journal.Load(files, journal.Options{})
		if err != nil {
			rt.Fatal(err)
		}
		var m memory
		if _, err := Export(j, Options{Origin: testOrigin}, &m); err != nil {
			rt.Fatal(err)
		}
		for _, e := range m.entries {
			if e.Kind == journal.NoKind {
				continue
			}
			rows := rowsOf{}
			for _, r := range e.Rows {
				rows[r.Table.Name] = append(rows[r.Table.Name], r.Values)
			}
			record := rows[recordsTable.Name][0]
			if got := rows.meaning(e.Kind); digest(e.Kind, e.ID, got, asText(record[9])) != asText(record[7]) {
				rt.Fatalf("%s\nbecame %v\nfrom   %v", asText(record[5]), got, e.Meaning)
			}
			if asText(record[8]) == "1" {
				whole++
			}
		}
		names := []string{rapid.SampledFrom([]string{"", "", "jsonl", "", "jsonl", "datapackage", "parquet", "sqlite"}).Draw(rt, "format")} // files take time
		if os.Getenv("WJ_FORMATS") != "" {
			names = slices.Sorted(maps.Keys(formats))
		}
		for _, name := range names {
			if name != "" {
				comesBack(t, rt, name, j, files)
			}
		}
	})
	if whole == 0 {
		t.Error("no record was in its columns")
	}
}

// comesBack holds what a format gives back to the files.
func comesBack(t *testing.T, rt *rapid.T, name string, j *journal.Journal, files fstest.MapFS) {
	n := 0
	where := formats[name](t, j, Options{Origin: testOrigin})
	_, err := Restore(where, "", func(r Record) error {
		n++
		want, err := fs.ReadFile(files, r.Path)
		if err != nil || r.Edited || string(want) != string(r.Content) {
			rt.Fatalf("%s by %s: %v, edited %v\n%q\n%q", r.Path, name, err, r.Edited, r.Content, want)
		}
		return nil
	}, func(p *Problem) { rt.Fatal(p) })
	if err != nil || n != len(j.Files)+1 {
		rt.Fatalf("%s: %d records of %d, %v", name, n, len(j.Files)+1, err)
	}
}

// TestMemoryDoesNotGrow: what lives while a journal is exported is no more for many
// sessions than for few, but for their names.
func TestMemoryDoesNotGrow(t *testing.T) {
	if testing.Short() || raced.On() {
		t.Skip("it collects garbage many times, and under the race detector sync.Pool throws away what it was given")
	}
	const most = 1500 // bytes a session: its name in the list of files, and in the folder itself here
	defer func(n int) { parquetGroup = n }(parquetGroup)
	parquetGroup = 256 // so that few sessions fill one
	peak := func(format string, n int) uint64 {
		files := fstest.MapFS{"wj.yaml": {Data: []byte("format: 1\ntimezone: UTC\n")}}
		note := &fstest.MapFile{}
		for i := range n {
			note = &fstest.MapFile{Data: []byte("---\nsite: north-well\nsampled: 2026-03-04T08:15+02:00\nby: ines\nreadings: {pH: 7.4, alkalinity: 118 mg/L CaCO3, calcium: 80 mg/L, sulfate: 84 mg/L, chloride: <5 mg/L}\n---\n" + strings.Repeat("A remark. ", 30))}
			files[fmt.Sprintf("sessions/2026/s-%06d.md", i)] = note
		}
		j, err := journal.Load(files, journal.Options{})
		if err != nil {
			t.Fatal(err)
		}
		var before, now runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		var most uint64
		formats[format](t, j, Options{Origin: testOrigin, Progress: func(done int) {
			if done%256 == 0 {
				runtime.GC()
				runtime.ReadMemStats(&now)
				most = max(most, now.HeapAlloc-min(now.HeapAlloc, before.HeapAlloc))
			}
		}})
		return most
	}
	for format := range formats {
		n, pools := 768, uint64(0)
		if format == "parquet" { // its buffers come from pools that every collection empties
			n, pools = 1536, 16<<20
		}
		few, many := peak(format, n), peak(format, 2*n)
		if many > few+pools && (many-few-pools)/uint64(n) > most {
			t.Errorf("%s: %d bytes for %d sessions, %d for %d", format, few, n, many, 2*n)
		}
		t.Logf("%s: %d KiB for %d sessions, %d KiB for %d", format, few>>10, n, many>>10, 2*n)
	}
}
