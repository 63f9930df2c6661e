package render

import (
	"regexp"
	"strings"
	"sync"
)

// command is what a build service takes for an order where it is in a log: "::set-output" at the start of a line, blanks
// before it or not, and "##[…]" or "##vso[…]" anywhere (GitHub Actions and Azure Pipelines, workflow and logging commands).
var command = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`(?m)^([ \t]*)::|#(#(?:[A-Za-z]+)?\[)`) })

// Inert takes the effect from workflow commands in a text for people: a backslash breaks the word, and Markdown takes it out
// again. Whatever prints text that may hold names, notes or reasons passes it through here.
func Inert(s string) string {
	if !strings.Contains(s, "::") && !strings.Contains(s, "##") {
		return s
	}
	return command().ReplaceAllStringFunc(s, func(match string) string {
		if strings.HasSuffix(match, "::") {
			return strings.TrimSuffix(match, "::") + `\::`
		}
		return `#\` + match[1:]
	})
}

// tag is the start of what a browser could take for markup: a tag, a comment, a declaration (HTML Living Standard, 13.2.5.6);
// or it is a whole autolink, which ends in >.
var tag = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile("<(?:(?:https?://|mailto:)[^\\s<>\"']*>|[A-Za-z0-9._+-]+@[A-Za-z0-9.-]+>|[A-Za-z!?/])")
})

// Passage makes a record's own Markdown fit to stand in a Markdown document for others: controls are replaced, raw HTML is
// text (by an entity, for a backslash would be undone by another before it), and no line is a workflow command. Headings, lists,
// tables and links stay.
func Passage(s string) string {
	return Inert(tag().ReplaceAllStringFunc(Clean(s), func(match string) string {
		if strings.HasSuffix(match, ">") {
			return match
		}
		return "&lt;" + match[1:]
	}))
}
