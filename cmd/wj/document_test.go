package main

import (
	"bytes"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
	"github.com/rogpeppe/go-internal/testscript"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"wj/docs/schema"
)

// withoutJSON are the commands that have no --format json, each with the reason.
// A command that prints a record or an answer has one.
var withoutJSON = map[string]string{
	"init": "writes files", "demo": "writes files", "enter": "asks a person", "round": "asks a person", "new": "writes a record", "import": "writes records", "amend": "writes a record",
	"void": "writes a record", "hook": "writes a file", "lsp": "has its own protocol", "schema": "prints a schema", "sign": "writes a record", "bundle": "writes an archive", "anchor": "writes a record",
	"mail": "writes a message", "export": "has formats of its own", "completion": "prints a script", "man": "prints a page",

	"page": "writes a page", "site": "writes pages", "remark": "writes a record", "resolve": "writes records", "migrate": "writes records",

	"attach": "writes a record", "split": "writes a journal", "join": "writes records", "transfer": "writes a record",
}

// Every command that prints a record or an answer can print it as JSON.
func TestEveryAnswerHasJSON(t *testing.T) {
	var cl commandLine
	parser, err := kong.New(&cl, kong.Vars{"version": ""})
	if err != nil {
		t.Fatal(err)
	}
	left := maps.Clone(withoutJSON)
	for _, n := range parser.Model.Children {
		if n.Hidden {
			continue
		}
		has := slices.ContainsFunc(n.Flags, func(f *kong.Flag) bool { return f.Name == "format" && slices.Contains(f.EnumSlice(), "json") })
		switch _, listed := withoutJSON[n.Name]; {
		case !has && !listed:
			t.Errorf("wj %s has no --format json", n.Name)
		case has && listed:
			t.Errorf("wj %s has --format json: take it out of withoutJSON", n.Name)
		}
		delete(left, n.Name)
	}
	for name := range left {
		t.Errorf("there is no command %q", name)
	}
}

func compiledSchema(output string) (*jsonschema.Schema, error) {
	src, _ := schema.Of(output)
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(src))
	if err != nil {
		return nil, err
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	if err := c.AddResource(schema.ID(output), doc); err != nil {
		return nil, err
	}
	return c.Compile(schema.ID(output))
}

func TestSchemasCompile(t *testing.T) {
	for _, output := range schema.Names() {
		if _, err := compiledSchema(output); err != nil {
			t.Errorf("%s: %v", output, err)
		}
	}
}

// validate FILE: the file (or stdout) is a JSON document that follows the schema
// that it names.
func validate(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 1 || neg {
		ts.Fatalf("usage: validate file")
	}
	text := ts.ReadFile(args[0])
	v, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
	if err != nil {
		ts.Fatalf("%s is no JSON: %v", args[0], err)
	}
	o, _ := v.(map[string]any)
	name, _ := o["schema"].(string)
	parts := strings.Split(name, ":")
	if len(parts) != 4 {
		ts.Fatalf("%s names no schema", args[0])
	}
	s, err := compiledSchema(parts[2])
	ts.Check(err)
	if err := s.Validate(v); err != nil {
		ts.Fatalf("%s: %v\n%s", args[0], err, text)
	}
}
