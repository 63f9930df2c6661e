package main

import (
	_ "embed"
	"io"
	"strings"

	"github.com/alecthomas/kong"

	"wj/render"
)

// helpText is what the commands say of themselves, each under its name: examples first.
//
//go:embed help.txt
var helpText string

// describe gives each command its text; lines of a paragraph are joined.
func describe(n *kong.Node) {
	texts := map[string]string{}
	for _, part := range strings.Split("\n"+helpText, "\n== ")[1:] {
		name, text, _ := strings.Cut(part, "\n")
		paragraphs := strings.Split(strings.TrimSpace(text), "\n\n")
		for i, p := range paragraphs {
			if !typedText(p) {
				paragraphs[i] = strings.ReplaceAll(p, "\n", " ")
			}
		}
		texts[name] = strings.Join(paragraphs, "\n\n")
	}
	_ = kong.Visit(n, func(node kong.Visitable, next kong.Next) error {
		if n, ok := node.(*kong.Node); ok && n.Type == kong.CommandNode {
			n.Detail = texts[n.Path()]
		}
		return next(nil)
	})
}

// typedText reports whether a paragraph is of commands to type.
func typedText(p string) bool {
	first, _, _ := strings.Cut(strings.TrimSpace(p), " ")
	return strings.HasPrefix(p, "    ") || first == "wj" || first == "source"
}

// printHelp is kong's page, with the examples under a heading; the flags of every command are on the program's own page alone.
func printHelp(o kong.HelpOptions, ctx *kong.Context) error {
	n := ctx.Selected()
	for _, f := range ctx.Flags() {
		f.Help = strings.ReplaceAll(f.Help, f.Enum, strings.ReplaceAll(f.Enum, ",", ", "))
	}
	if n == nil {
		return kong.DefaultHelpPrinter(o, ctx)
	}
	for _, f := range ctx.Model.Flags {
		f.Hidden = true
	}
	if typedText(n.Detail) {
		n.Detail = "Examples:\n\n    " + n.Detail
	}
	if err := kong.DefaultHelpPrinter(o, ctx); err != nil {
		return err
	}
	_, err := io.WriteString(ctx.Stdout, "\nFlags of every command, such as -C DIR and --plain: wj --help\n")
	return err
}

// helpWriter folds what kong does not: its usage line.
type helpWriter struct{ out render.Output }

func (h helpWriter) Write(p []byte) (int, error) {
	lines := strings.SplitAfter(string(p), "\n")
	for i, line := range lines {
		if !strings.HasPrefix(line, "    wj ") { // an example is typed as it is
			lines[i] = h.out.Fit(line)
		}
	}
	_, err := io.WriteString(h.out.W, strings.Join(lines, ""))
	return len(p), err
}
