package report

import (
	"encoding/json"
	"flag"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"wj/docs/schema"
	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/judge"
	"wj/journal/plan"
	"wj/journal/trace"
	"wj/query"
	"wj/query/profile"
	"wj/render"
	"wj/testdata/raced"
	"wj/water"
)

var update = flag.Bool("update", false, "write the schemas anew")

// reports are the values that --format json prints, with what each is.
var reports = map[string]struct {
	value any
	is    string
}{
	"diff":    {DiffDocument{}, "what two states of a journal say differently, in the terms of the trade"},
	"verify":  {Verification{}, "what history and signatures prove of a journal"},
	"due":     {Due{}, "the next test of every schedule, the earliest first"},
	"stock":   {Stock{}, "what is left of lots, and how long it lasts"},
	"map":     {Map{}, "where the sites are, in degrees of WGS 84, and how far from each other or from a place, in metres"},
	"stats":   {Stats{}, "what the statistics know of one value at one site, in standard units"},
	"status":  {Status{}, "how the water is and what there is to do, the worst first"},
	"summary": {Summary{}, "what an owner is told about their water in a period"},
	"chart":   {Chart{}, "what one picture shows, as values: a control chart, lines, pairs, the ions of a water, or the shares of the ions of several"},
	"method":  {Method{}, "a procedure to work by"},
	"review":  {Review{}, "what a reviewer must see of a record before signing it"},
	"waiting": {Waiting{}, "what waits for decisions, worst first"},
	"branch":  {Branch{}, "what a reviewer must see of a branch before it is merged"},
	"log":     {Log{}, "what commits tell of a record, or of all that was recorded at a site"},
	"blame":   {Blame{}, "how every field of a record got its value"},
	"trace":   {Trace{}, "what rests on a record, or what it rests on"},
	"soften":  {plan.Softened{}, "lime softening as a procedure whose steps wait for readings"},
	"show":    {Record{}, "one record, with what follows from it"},
}

// schemaOf is the JSON Schema (draft 2020-12) of a type's fields.
func schemaOf(t reflect.Type, defs map[string]any) map[string]any {
	switch t {
	case reflect.TypeFor[Number]():
		return map[string]any{"type": "number"}
	case reflect.TypeFor[Figure]():
		return map[string]any{"type": []string{"number", "null"}}
	case reflect.TypeFor[Moment]():
		return map[string]any{"type": []string{"string", "null"}, "pattern": `^\d{4}-\d\d-\d\d(T\d\d:\d\d(:\d\d)?([+-]\d\d:\d\d|Z))?$`}
	case reflect.TypeFor[Day]():
		return map[string]any{"type": []string{"string", "null"}, "format": "date"}
	case reflect.TypeFor[Fields]():
		return map[string]any{"type": "object"}
	case reflect.TypeFor[Named[Reading]](), reflect.TypeFor[Named[Derived]](), reflect.TypeFor[Named[ReconciledReading]]():
		return map[string]any{"type": "object", "additionalProperties": schemaOf(t.Elem(), defs)}
	}
	switch t.Kind() {
	case reflect.String:
		return map[string]any{"type": "string"}
	case reflect.Bool:
		return map[string]any{"type": "boolean"}
	case reflect.Float64:
		return map[string]any{"type": "number"}
	case reflect.Int:
		return map[string]any{"type": "integer"}
	case reflect.Pointer:
		return map[string]any{"anyOf": []any{schemaOf(t.Elem(), defs), map[string]any{"type": "null"}}}
	case reflect.Slice:
		return map[string]any{"type": "array", "items": schemaOf(t.Elem(), defs)}
	case reflect.Map:
		return map[string]any{"type": "object", "additionalProperties": schemaOf(t.Elem(), defs)}
	case reflect.Interface:
		return map[string]any{}
	}
	if _, ok := defs[t.Name()]; !ok {
		defs[t.Name()] = nil // for a type that holds itself
		properties, required := map[string]any{}, []string{}
		var members func(t reflect.Type, optional bool)
		members = func(t reflect.Type, optional bool) {
			for i := range t.NumField() {
				f := t.Field(i)
				if f.Anonymous { // its members are the type's own; those of a pointer may be missing
					if f.Type.Kind() == reflect.Pointer {
						members(f.Type.Elem(), true)
					} else {
						members(f.Type, optional)
					}
					continue
				}
				name, option, _ := strings.Cut(f.Tag.Get("json"), ",")
				if name == "" || name == "-" {
					continue
				}
				properties[name] = schemaOf(f.Type, defs)
				if !optional && option != "omitempty" && option != "omitzero" {
					required = append(required, name)
				}
			}
		}
		members(t, false)
		defs[t.Name()] = map[string]any{"type": "object", "properties": properties, "required": required, "additionalProperties": false}
	}
	return map[string]any{"$ref": "#/$defs/" + t.Name()}
}

func schemaPath(name string) string { return filepath.Join("../../docs/schema", name+".json") }

// TestSchemas holds the schemas of the repository to the types; -update writes them.
func TestSchemas(t *testing.T) {
	for name, r := range reports {
		defs, command := map[string]any{}, name
		if name == "soften" {
			command = "treat --soften"
		}
		root := schemaOf(reflect.TypeOf(r.value), defs)
		root["$schema"], root["$id"], root["title"], root["description"], root["$defs"] = "https://json-schema.org/draft/2020-12/schema", schema.ID(name), "wj "+command+" --format json", r.is, defs
		defs[reflect.TypeOf(r.value).Name()].(map[string]any)["properties"].(map[string]any)["schema"] = map[string]any{"const": schema.ID(name)}
		want, err := json.MarshalIndent(root, "", " ")
		if err != nil {
			t.Fatal(err)
		}
		want = append(want, '\n')
		if *update {
			if err := os.WriteFile(schemaPath(name), want, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if have, err := os.ReadFile(schemaPath(name)); err != nil || string(have) != string(want) {
			t.Errorf("%s is not that of the type; write it with go test ./query/report -run TestSchemas -update (%v)", schemaPath(name), err)
		}
	}
}

// example reads the example journal.
func example(t *testing.T) (*journal.Journal, time.Time) {
	t.Helper()
	j, err := journal.Load(os.DirFS("../../example-journal"), journal.Options{Sessions: true, Check: true})
	if err != nil {
		t.Fatal(err)
	}
	return j, time.Date(2026, 9, 25, 9, 0, 0, 0, j.Settings.Zone)
}

// valid encodes a report as a command does and holds it to its schema.
func valid(t *testing.T, name string, value any) {
	t.Helper()
	compiled, err := jsonschema.NewCompiler().Compile(schemaPath(name))
	if err != nil {
		t.Fatal(err)
	}
	text, err := render.Encode(value)
	if err != nil {
		t.Fatal(err)
	}
	instance, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if err := compiled.Validate(instance); err != nil {
		t.Errorf("%s: %v\n%s", name, err, text[:min(len(text), 800)])
	}
}

// drawn holds a document to the width: no line is longer, at 40, 80 and 120 columns, in ASCII too.
func drawn(t *testing.T, name string, d render.Document) {
	t.Helper()
	for _, width := range []int{40, 80, 120} {
		for _, ascii := range []bool{false, true} {
			for n, line := range strings.Split(render.Output{Width: width, ASCII: ascii}.Document(d), "\n") {
				if render.Width(line) > width {
					t.Errorf("%s at %d columns, line %d is longer: %q", name, width, n+1, line)
				}
			}
		}
	}
}

func TestSummarySchema(t *testing.T) {
	j, now := example(t)
	for _, owner := range j.Owners.List {
		s, err := NewSummary(j, owner, SummaryRequest{From: now.AddDate(-2, 0, 0), To: now, Now: now, Changes: judge.NewChanges(j, evidence.Facts{Now: now})})
		if err != nil {
			t.Fatal(err)
		}
		valid(t, "summary", s)
		drawn(t, "summary "+owner.ID, s.Document())
	}
}

func TestShowSchema(t *testing.T) {
	j, now := example(t)
	seen, most := map[journal.Kind]int{}, 2
	if raced.On() {
		most = 1
	}
	for i, f := range j.Files {
		if seen[f.Kind]++; f.Kind == journal.KindSession && i%197 > 0 || f.Kind != journal.KindSession && seen[f.Kind] > most { // a part of the many
			continue
		}
		r, err := NewRecord(j, f, RecordRequest{Now: now})
		if err != nil {
			t.Fatal(err)
		}
		valid(t, "show", r)
		drawn(t, f.Path, r.Document(false))
		drawn(t, f.Path, r.Document(true))
		if lines := strings.Count(render.Output{Width: 80}.Document(r.Document(false)), "\n"); (r.SessionPart != nil || r.SitePart != nil) && lines > 30 {
			t.Errorf("%s takes %d lines", f.Path, lines)
		}
	}
}

func TestStatusSchema(t *testing.T) {
	j, now := example(t)
	tasks := judge.ToDos(j, judge.NewChanges(j, evidence.Facts{Now: now}))
	for _, one := range []*journal.Journal{j, {Settings: j.Settings}, {Settings: j.Settings, Sites: j.Sites}} {
		s, err := NewStatus(one, StatusRequest{Now: now, Tasks: tasks})
		if err != nil {
			t.Fatal(err)
		}
		valid(t, "status", s)
		for _, d := range []render.Document{s.Document(false), s.Document(true), s.Brief()} {
			drawn(t, "status", d)
		}
		tasks = nil
	}
}

func TestMethodSchema(t *testing.T) {
	j, _ := example(t)
	for _, m := range j.Methods.List {
		r, err := NewMethod(j, m)
		if err != nil {
			t.Fatal(err)
		}
		valid(t, "method", r)
		drawn(t, m.ID, r.Document())
	}
}

func TestChartSchema(t *testing.T) {
	j, now := example(t)
	for _, q := range []ChartRequest{
		{Values: []string{"sulfate"}, Sites: []string{"north-well"}},
		{Values: []string{"iron"}, Sites: []string{"north-well"}},
		{Values: []string{"conductivity"}, Sites: []string{"ro-permeate"}},
		{Values: []string{"pH"}, Sites: []string{"town-main"}, From: now.AddDate(-1, 0, 0)},
		{Values: []string{"nitrite"}, Sites: []string{"north-well"}, From: now.AddDate(1, 0, 0)},
		{Values: []string{"conductivity"}, EachSite: true, From: now.AddDate(-1, 0, 0)},
		{Values: []string{"calcium_hardness", "sulfate"}, Against: true, Sites: []string{"north-well"}},
		{Values: []string{"mash_pH", "residual_alkalinity"}},
		{Ions: "2026-06-05-north-well"},
		{Ions: "2026-06-09-north-well"},
		{Waters: true},
		{Waters: true, From: now.AddDate(1, 0, 0)},
	} {
		c, err := NewChart(j, q)
		if err != nil {
			t.Fatal(err)
		}
		valid(t, "chart", c)
		if picture, err := c.SVG(); (err == nil) != (c.Nothing == "") || err == nil && !strings.Contains(picture, "<svg") {
			t.Errorf("%+v: picture %.20q, %v; nothing: %q", q, picture, err, c.Nothing)
		}
	}
}

func TestStatsSchema(t *testing.T) {
	j, now := example(t)
	for _, id := range []string{"north-well", "town-main", "ro-permeate", "hot-liquor-tank"} {
		site, _ := j.Sites.Get(id)
		for _, value := range []string{"sulfate", "conductivity", "pH", "residual_alkalinity"} {
			series, err := query.History(j, id, value, query.SeriesRequest{})
			if err != nil {
				t.Fatal(err)
			}
			if len(series.Points) == 0 {
				continue
			}
			s, err := NewStats(j, site, series, profile.Options{}, now)
			if err != nil {
				t.Fatal(err)
			}
			valid(t, "stats", s)
			drawn(t, value+" "+id, s.Document())
		}
	}
}

func TestReviewSchema(t *testing.T) {
	j, now := example(t)
	changes := judge.NewChanges(j, evidence.Facts{Now: now})
	for _, c := range append([]string{"2026-06-09-north-well", "SU-2604"}, j.IDs(journal.KindChange)...) {
		f, err := j.Record(c)
		if err != nil {
			t.Fatal(err)
		}
		r, err := NewReview(j, f, ReviewRequest{Now: now, Changes: changes, Digest: "0123456789ab"})
		if err != nil {
			t.Fatal(err)
		}
		valid(t, "review", r)
		drawn(t, c, r.Document(false))
		if lines := strings.Count(render.Output{Width: 80}.Document(r.Document(false)), "\n"); r.State == "proposed" && lines > 40 {
			t.Errorf("the review of %s takes %d lines", c, lines)
		}
	}
}

func TestDueAndStockSchemas(t *testing.T) {
	j, now := example(t)
	for _, at := range []time.Time{now, now.AddDate(0, 2, 0)} {
		d := NewDue(j, judge.Due(j, at), at)
		valid(t, "due", d)
		if len(d.Tests) == 0 {
			t.Error("nothing is due, ever")
		}
		for _, all := range []bool{false, true} {
			s := NewStock(j, judge.Stock(j, at, 90), at, 90, all)
			valid(t, "stock", s)
			if len(s.Groups) == 0 {
				t.Error("nothing is in stock")
			}
		}
	}
}

func TestMapSchema(t *testing.T) {
	j, _ := example(t)
	well, _ := j.Sites.Get("north-well")
	for _, from := range []journal.Place{{}, well.Place} {
		m := NewMap(j, SitesNear(j, nil, from, 0), from, 0)
		valid(t, "map", m)
		if len(m.Sites) < 5 || (m.From != nil) != (m.Sites[0].Distance != nil) {
			t.Errorf("%+v", m)
		}
	}
	if near := SitesNear(j, []string{"quillmarsh"}, well.Place, 10_000); len(near) == 0 || near[0] != well {
		t.Errorf("%d sites within 10 km of the well", len(near))
	}
}

func TestTraceSchema(t *testing.T) {
	j, _ := example(t)
	f, err := j.Record("SU-2507")
	if err != nil {
		t.Fatal(err)
	}
	for _, errs := range []map[water.ID]float64{nil, {water.Sulfate: -0.18}, {water.Sulfate: -0.3}} {
		var off trace.Off
		if errs != nil {
			off = trace.OffBehind(f, errs)
		}
		down := NewTrace(j, f, true, off)
		valid(t, "trace", down)
		if (down.Changes+down.Batches > 0) != (errs != nil) {
			t.Errorf("%v: %d changes and %d batches were worked out again", errs, down.Changes, down.Batches)
		}
	}
	valid(t, "trace", NewTrace(j, f, false, nil))
}

// What a record's file and its commits tell is put side by side, also where only the file tells of it.
func TestLogAndBlameSchemas(t *testing.T) {
	file := func(sulfate, more string) []byte {
		return []byte("---\nsite: north-well\nsampled: 2026-05-01T08:00+03:00\nby: ines\nreadings:\n  sulfate: {value: " + sulfate + ", lot: SU-1}\n" + more + "---\n")
	}
	f := journal.File{Kind: journal.KindSession, ID: "2026-05-01-north-well", Path: "sessions/2026-05-01-north-well.md"}
	at := time.Date(2026, 5, 1, 9, 0, 0, 0, time.UTC)
	versions := []evidence.Version{
		{Content: file("90 mg/L", ""), Before: [][]byte{file("86 mg/L", "")}, Path: f.Path},
		{Commit: "bbbbbbbbbb", Name: "Pia", When: at, Content: file("86 mg/L", ""), Before: [][]byte{file("84 mg/L", "")}, Path: f.Path},
		{Commit: "aaaaaaaaaa", Name: "Ines", When: at, Content: file("84 mg/L", ""), Before: [][]byte{nil}, Path: f.Path},
	}
	b, err := NewBlame(f, versions, "sulfate")
	if err != nil {
		t.Fatal(err)
	}
	valid(t, "blame", b)
	if b.Silent() != 2 {
		t.Errorf("%d values changed without an amendment, not 2", b.Silent())
	}
	text := b.Text(render.Output{Width: 100})
	for _, want := range []string{"(not yet)", "90 mg/L", "was 86 mg/L", "was 84 mg/L", "! changed without an amendment"} {
		if !strings.Contains(text, want) {
			t.Errorf("the blame lacks %q:\n%s", want, text)
		}
	}
	if _, err := NewBlame(f, versions, "nitrate"); err == nil || !strings.Contains(journal.HintOf(err), "sulfate") {
		t.Errorf("a field that is not there: %v, %q", err, journal.HintOf(err))
	}
	var settings []evidence.Setting
	for _, s := range b.Settings {
		settings = append(settings, s.is)
	}
	l := NewLog([]evidence.Entry{{Path: f.Path, What: "changed", Settings: settings}, {Path: f.Path, What: "recorded", Commit: "aaaaaaaaaa", When: at, Proof: "signed by ines"}}, 0, true)
	valid(t, "log", l)
	if lines, older := l.Lines(1); len(lines) != 1 || older != 1 || !strings.Contains(lines[0], "NOT COMMITTED") {
		t.Errorf("%q, and %d older", lines, older)
	}
}

// A printed value never contradicts its mark.
func TestBeside(t *testing.T) {
	none := math.NaN()
	for _, c := range []struct {
		text      string
		v, lo, hi float64
		want      string
	}{
		{"140.0", 140.04, 90, 140, "140.04"}, {"140.0", 139.96, 90, 140, "140.0"}, {"140 ± 5", 140.2, 90, 140, "140.2 ± 5"}, {"90", 89.9996, 90, 140, "89.9996"},
		{"141", 140.4, 90, 140.5, "140.4"}, {"122", 121.7, 90, 140, "122"}, {"?", none, 90, 140, "?"}, {"0.0", 0.0001, none, 0, "0.0001"},
	} {
		if got := beside(c.text, c.v, c.lo, c.hi); got != c.want {
			t.Errorf("%s of %g in %g to %g: %q, want %q", c.text, c.v, c.lo, c.hi, got, c.want)
		}
	}
}
