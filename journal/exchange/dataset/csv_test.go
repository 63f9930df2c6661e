package dataset

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// regular compiles the schemas' one pattern that looks ahead, which the library cannot:
// a path neither begins with a dot, a slash or a tilde, nor has two dots in a row.
func regular(pattern string) (jsonschema.Regexp, error) {
	if pattern == `^(?=^[^./~])(^((?!\.{2}).)*$).*$` {
		return relative{}, nil
	}
	return regexp.Compile(pattern)
}

type relative struct{}

func (relative) MatchString(path string) bool {
	return path != "" && !strings.ContainsAny(path[:1], "./~") && !strings.Contains(path, "..")
}

func (relative) String() string { return "a relative path" }

// TestDataPackageFollowsItsSchema holds the description of a package, and of each of
// its tables, to the published schemas of the Data Package Standard.
func TestDataPackageFollowsItsSchema(t *testing.T) {
	dir := formats["datapackage"](t, example(t), Options{Origin: testOrigin})
	text, err := os.ReadFile(filepath.Join(dir, "datapackage.json"))
	if err != nil {
		t.Fatal(err)
	}
	var description map[string]any
	if err := json.Unmarshal(text, &description); err != nil {
		t.Fatal(err)
	}
	schema := func(name string) *jsonschema.Schema {
		c := jsonschema.NewCompiler()
		c.AssertFormat()
		c.UseRegexpEngine(regular)
		s, err := c.Compile("../../../testdata/published/frictionless-" + name + "-1.0.json")
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	whole, table := schema("datapackage"), schema("tableschema")
	if err := whole.Validate(description); err != nil {
		t.Error(err)
	}
	resources := description["resources"].([]any)
	if len(resources) != len(AllTables()) {
		t.Errorf("%d tables of %d", len(resources), len(AllTables()))
	}
	for _, r := range resources {
		if err := table.Validate(r.(map[string]any)["schema"]); err != nil {
			t.Errorf("%s: %v", r.(map[string]any)["name"], err)
		}
	}
	// The schemas refuse what is wrong: a name with blanks, a type that there is not.
	description["name"] = "a journal"
	first := resources[0].(map[string]any)["schema"].(map[string]any)
	first["fields"].([]any)[0].(map[string]any)["type"] = "text"
	if whole.Validate(description) == nil || table.Validate(first) == nil {
		t.Error("the schemas hold nothing")
	}
}
