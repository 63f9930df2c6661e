// Package bluemonday takes the place of the HTML sanitizer that the Markdown
// renderer imports. That one compiles some hundred regular expressions and the
// grammar of CSS whenever a program starts, an eighth of the start-up time of wj,
// and the renderer asks it only about raw HTML, for which our parser has no nodes:
// HTML is shown as it was typed. The file go.mod of wj replaces the module by this
// folder; an upgrade of glamour that asks for more of it does not build.
package bluemonday

// Policy has nothing to choose.
type Policy struct{}

// StrictPolicy is the only one.
func StrictPolicy() *Policy { return &Policy{} }

// Sanitize leaves text as it is: a terminal runs no HTML.
func (*Policy) Sanitize(s string) string { return s }
