// Package docs holds the longer texts of the documentation: the data model, the
// evidence, and the short records of decisions.
//
//	for _, name := range docs.Names() {
//		fmt.Println(docs.Read(name))
//	}
package docs

import (
	"embed"
	"io/fs"
)

//go:embed *.md decisions/*.md
var files embed.FS

// Names lists the texts by their path in this folder, in alphabetical order.
func Names() []string {
	names, _ := fs.Glob(files, "*.md") // the patterns are right and an embedded folder can be read
	more, _ := fs.Glob(files, "decisions/*.md")
	return append(names, more...)
}

// Read is the Markdown of a text, "" for a name that is none.
func Read(name string) string {
	src, _ := files.ReadFile(name)
	return string(src)
}
