package render

import (
	"bytes"
	"html"
	"strings"

	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/text"
)

// HTML turns a Markdown text into a fragment of safe HTML: raw HTML is shown as text, links are only http, https, mailto and
// relative ones, images only relative ones (a remote image would tell its server who reads), and no control or bidi
// character is left, typed or written as an entity. A text that is too large or too deep comes as one preformatted block.
func HTML(src string) string {
	clean := Clean(src)
	out, ok := safeHTML(clean)
	if !ok {
		return "<pre>" + html.EscapeString(clean) + "</pre>\n"
	}
	return Clean(out)
}

func safeHTML(clean string) (out string, ok bool) {
	defer func() { // the renderer is not ours; a panic in it must cost the markup, not the program
		if recover() != nil {
			ok = false
		}
	}()
	if len(clean) > maxMarkdown || tooDeep(clean) {
		return "", false
	}
	markdown := newMarkdown()
	source := []byte(clean)
	root := markdown.Parser().Parse(text.NewReader(source))
	if depth(root) > maxDepth {
		return "", false
	}
	for _, n := range inlineLinks(root) {
		safeLink(n, source)
	}
	var b bytes.Buffer
	if err := markdown.Renderer().Render(&b, source, root); err != nil {
		return "", false
	}
	return b.String(), true
}

// safeLink keeps a link that may be followed and turns every other into its text and the reason.
func safeLink(n ast.Node, source []byte) {
	parent := n.Parent()
	var destination []byte
	switch n := n.(type) {
	case *ast.Link:
		destination = n.Destination
		n.SetAttributeString("rel", []byte("nofollow noreferrer"))
	case *ast.Image:
		destination = n.Destination
	case *ast.AutoLink:
		destination = n.URL(source)
		if n.AutoLinkType == ast.AutoLinkEmail {
			destination = append([]byte("mailto:"), destination...)
		}
	}
	target, ok := LinkTarget(string(destination))
	_, image := n.(*ast.Image)
	remote := image && strings.Contains(target, ":")
	if ok && !remote || parent == nil {
		return
	}
	if autolink, isAuto := n.(*ast.AutoLink); isAuto {
		parent.ReplaceChild(parent, n, plainHTML(string(autolink.Label(source))))
		return
	}
	for child := n.FirstChild(); child != nil; {
		next := child.NextSibling()
		parent.InsertBefore(parent, n, child)
		child = next
	}
	parent.ReplaceChild(parent, n, plainHTML(" ("+target+")"))
}

// plainHTML is a node of ready escaped text.
func plainHTML(s string) ast.Node {
	node := ast.NewString([]byte(html.EscapeString(s)))
	node.SetCode(true)
	return node
}
