package render

import (
	"html"
	"strings"

	"github.com/yuin/goldmark/ast"
)

// LinkTarget judges the target of a link. Only http, https and mailto and relative targets are links here; ok is false for
// every other scheme, for "//host" and its backslash forms, and for a target with blanks or controls in front or inside,
// which browsers drop before they read the scheme (WHATWG URL Standard, section 4.4). target is the text to show: the
// target itself, or "unsafe link" with the scheme.
func LinkTarget(destination string) (target string, ok bool) {
	s := html.UnescapeString(destination)
	for _, r := range s {
		if !safe(r) {
			return "unsafe link", false
		}
	}
	trimmed := strings.TrimSpace(s)
	if len(trimmed) > 1 && strings.ContainsAny(trimmed[:1], `/\`) && strings.ContainsAny(trimmed[1:2], `/\`) {
		return "unsafe link", false
	}
	colon := strings.IndexByte(trimmed, ':')
	if end := strings.IndexAny(trimmed, "/?#"); colon < 0 || end >= 0 && end < colon {
		return Line(s), true
	}
	switch scheme := strings.ToLower(trimmed[:colon]); scheme {
	case "http", "https", "mailto":
		return Line(s), s == trimmed
	default:
		return "unsafe link: " + Line(scheme), false
	}
}

// inlineLinks lists the links, images and autolinks below a node, so that they can be changed without disturbing the walk.
func inlineLinks(doc ast.Node) []ast.Node {
	var found []ast.Node
	_ = ast.Walk(doc, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		switch n.Kind() {
		case ast.KindLink, ast.KindImage, ast.KindAutoLink:
			if entering {
				found = append(found, n)
			}
		}
		return ast.WalkContinue, nil
	})
	return found
}
