// Package schema holds the JSON Schema of every JSON document that wj prints, one
// file for each output: NAME.json here is what `wj schema NAME` prints, and what
// the tests of cmd/wj hold the output to.
//
//	src, ok := schema.Of("query")
//
// Each document is an object whose first member, schema, names its schema:
// {"schema": "urn:wj:query:1", …}. A new member keeps the number; a member that
// goes, or that means something else, raises it.
package schema

import (
	"embed"
	"strings"
)

//go:embed *.json
var files embed.FS

// Of is the JSON Schema of an output; ok is false where there is none of that name.
func Of(output string) (src []byte, ok bool) {
	src, err := files.ReadFile(output + ".json")
	return src, err == nil
}

// Names lists the outputs that have a schema, in alphabetical order.
func Names() []string {
	list, _ := files.ReadDir(".") // an embedded folder can always be read
	names := make([]string, len(list))
	for i, f := range list {
		names[i] = strings.TrimSuffix(f.Name(), ".json")
	}
	return names
}

// ID is the name of an output's schema, which is the first member of each of its
// documents: "urn:wj:query:1".
func ID(output string) string { return "urn:wj:" + output + ":1" }
