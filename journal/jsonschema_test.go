package journal

import (
	"bytes"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"wj/journal/frontmatter"
	"wj/water"
)

// The JSON Schema of every kind is a valid schema, and the front matter of the
// example journal satisfies the one of its kind (JSON Schema 2020-12, checked
// by an independent validator).
func TestJSONSchema(t *testing.T) {
	compiled := map[Kind]*jsonschema.Schema{}
	rules := []RuleDoc{{Name: "reagent/expired"}, {Name: "site/overdue", Settings: map[string]string{"late": "x"}}, {Name: "reagent/expires-soon"}}
	for k := KindSettings; k > NoKind; k-- {
		src, err := JSONSchema(k, rules)
		if err != nil {
			t.Fatal(err)
		}
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(src))
		if err != nil {
			t.Fatal(err)
		}
		c := jsonschema.NewCompiler()
		if err := c.AddResource(k.String()+".json", doc); err != nil {
			t.Fatal(err)
		}
		if compiled[k], err = c.Compile(k.String() + ".json"); err != nil {
			t.Fatalf("%s: %v", k, err)
		}
		rules = nil // in records any name is right
	}
	for text, right := range map[string]bool{
		"format: 1\nlint: {reagent/expired: off}": true, "format: 1\nlint: {reagent/expird: off}": false, "format: 1\nlint: {reagent/expired: of}": false,
		"format: 1\nlint: {site/overdue: {severity: info, late: 3 d}}": true, "format: 1\nlint: {site/overdue: {latr: 3 d}}": false,
		"format: 1\nrules: {house/iron: {where: iron > 1, message: x}}\nlint_for: [{sites: [a], lint: {house/iron: off}}]": true,
		"format: 1\nrules: {iron: {where: iron > 1, message: x}}":                                                          false, "format: 1\nrules: {house/iron: {message: x}}": false,
		"format: 1\nlimits: {nitrate: {max: 50 mg/L NO3}}": true, "format: 1\nlimits: {nitrate: {max: 50 mg/dl}}": false, "format: 1\nunits: {alkalinity: dKH}": true, "format: 1\nunits: {alkalinity: dKHH}": false,
		"format: 1\nscale: {mass: 1 g, volume: 1 mL}": true, "format: 1\nscale: {mass: 1 mL}": false,
	} {
		var d frontmatter.Document
		if d.ParseYAML([]byte(text)); (compiled[KindSettings].Validate(jsonOf(&d, 0)) == nil) != right {
			t.Errorf("%s: right is not %v", text, right)
		}
	}
	// Every spelling of every unit of every analyte is right, in any case; a unit of something
	// else is not.
	for _, key := range water.AnalyteKeys() {
		id, _ := water.Lookup(key)
		written, _ := readingSchema(&id)["pattern"].(string)
		if written == "" {
			continue
		}
		right := regexp.MustCompile(written).MatchString
		for _, u := range id.Info().Units() {
			for _, s := range append(u.Spellings(), u.String()) {
				if q, err := water.ParseQuantity("84 " + s); err != nil || id.Info().Fit(q) != nil || u.IsNone() {
					continue
				}
				for _, text := range []string{"84 " + s, "<84 " + strings.ToUpper(s), "84.5 ± 2 " + strings.ToLower(s)} {
					if !right(text) {
						t.Errorf("%s: %q is not right", key, text)
					}
				}
			}
		}
		if right("84 mg/dl") || right("84") || right("mg/L") {
			t.Errorf("%s may be in mg/dl, or without unit or number", key)
		}
	}
	bad := map[string]any{"site": "a", "sampled": "yesterday", "by": "x", "readings": map[string]any{"sulphate": "84 mg/L"}}
	if compiled[KindSession].Validate(bad) == nil {
		t.Error("a wrong session satisfies the schema")
	}
	bad = map[string]any{"site": "a", "sampled": "2026-03-04T08:15+01:00", "by": "x", "readings": map[string]any{"sulfate": "84 mg/dl"}}
	if compiled[KindSession].Validate(bad) == nil {
		t.Error("mg/dl satisfies the schema")
	}
	if bad["readings"] = map[string]any{"sulfate": "84 mg/l SO4"}; compiled[KindSession].Validate(bad) != nil {
		t.Error("mg/l SO4 does not satisfy the schema")
	}
	const dir = "../example-journal"
	if _, err := os.Stat(dir + "/" + SettingsFile); err != nil {
		t.Skip("there is no example journal yet")
	}
	j, err := Load(Dir(dir), Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range append([]File{{Kind: KindSettings, Path: SettingsFile}}, j.Files...) {
		src, err := readFile(j.FS, f.Path, nil)
		if err != nil {
			t.Fatal(err)
		}
		var d frontmatter.Document
		if f.Kind == KindSettings {
			d.ParseYAML(src)
		} else {
			d.Parse(src)
		}
		if err := compiled[f.Kind].Validate(jsonOf(&d, 0)); err != nil {
			t.Errorf("%s: %v", f.Path, err)
		}
	}
}

// jsonOf is a document as a YAML reader of the core schema would give it.
func jsonOf(d *frontmatter.Document, i int32) any {
	switch n := d.Nodes[i]; n.Kind {
	case frontmatter.Mapping:
		m := map[string]any{}
		for c := range d.Children(i) {
			m[d.Key(c)] = jsonOf(d, c)
		}
		return m
	case frontmatter.Sequence:
		l := []any{}
		for c := range d.Children(i) {
			l = append(l, jsonOf(d, c))
		}
		return l
	default:
		s := d.Text(i)
		if n.Style == frontmatter.Plain {
			if v, err := strconv.ParseFloat(s, 64); err == nil {
				return v
			}
			if s == "true" || s == "false" {
				return s == "true"
			}
		}
		return s
	}
}
