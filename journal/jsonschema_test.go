package journal

import (
	"bytes"
	"os"
	"strconv"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"wj/journal/frontmatter"
)

// The JSON Schema of every kind is a valid schema, and the front matter of the
// example journal satisfies the one of its kind (JSON Schema 2020-12, checked
// by an independent validator).
func TestJSONSchema(t *testing.T) {
	compiled := map[Kind]*jsonschema.Schema{}
	for k := KindPerson; k <= KindSettings; k++ {
		src, err := JSONSchema(k)
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
	}
	bad := map[string]any{"site": "a", "sampled": "yesterday", "by": "x", "readings": map[string]any{"sulphate": "84 mg/L"}}
	if compiled[KindSession].Validate(bad) == nil {
		t.Error("a wrong session satisfies the schema")
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
