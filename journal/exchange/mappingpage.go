package exchange

import _ "embed"

//go:embed mapping.md
var mappingPage string

// MappingPage is the reference page of the maps that [ParseMapping] reads, in Markdown.
func MappingPage() string { return mappingPage }
