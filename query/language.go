package query

import (
	_ "embed"
	"slices"
	"sort"
	"wj/water"
)

//go:embed language.md
var language string

// Language is the reference page of the query language, in Markdown.
func Language() string { return language }

// Words lists the functions and reductions of the language, and its names that
// are no analytes: what Language explains.
func Words() []string {
	words := slices.Clone(reductionKinds)
	for name := range functions {
		words = append(words, name)
	}
	for _, name := range Names() {
		if _, analyte := water.Lookup(name); !analyte {
			words = append(words, name)
		}
	}
	sort.Strings(words)
	return slices.Compact(words)
}
