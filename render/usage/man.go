package usage

import (
	"fmt"
	"strings"

	"github.com/alecthomas/kong"

	"wj/render"
)

// roff writes a text so that the man macros take it as text (groff_man(7)): a
// backslash, a hyphen and a leading dot or apostrophe are not markup.
func roff(s string) string {
	s = strings.NewReplacer("\\", "\\e", "-", "\\-").Replace(render.Clean(s))
	lines := strings.Split(s, "\n")
	for i, l := range lines {
		if strings.HasPrefix(l, ".") || strings.HasPrefix(l, "'") {
			lines[i] = "\\&" + l
		}
	}
	var b strings.Builder
	for _, r := range strings.Join(lines, "\n") {
		if r > 126 { // every man reader knows the escape, not every one the encoding (groff_char(7))
			fmt.Fprintf(&b, "\\[u%04X]", r)
		} else {
			b.WriteRune(r)
		}
	}
	return b.String()
}

func manTitle(b *strings.Builder, name, help string) {
	fmt.Fprintf(b, ".TH %s 1 \"\" wj \"Water journal\"\n.SH NAME\n%s \\- %s\n", strings.ToUpper(roff(name)), roff(name), roff(strings.TrimSuffix(help, ".")))
}

// Manual is the manual page of the program, in roff.
func Manual(model *kong.Application) string {
	var b strings.Builder
	manTitle(&b, "wj", "a water journal in plain text")
	b.WriteString(".SH SYNOPSIS\n.B wj\n.RI [ flags ]\n.I command\n.RI [ arguments ]\n")
	b.WriteString(".SH DESCRIPTION\n" + roff(model.Help) + "\n.PP\nA journal is a folder of Markdown files with a wj.yaml at its root, kept in Git.\nData go to standard output, talk to standard error.\n")
	b.WriteString(".SH FLAGS\n")
	manFlags(&b, model.Flags)
	b.WriteString(".SH COMMANDS\n")
	for _, n := range model.Children {
		if n.Hidden {
			continue
		}
		fmt.Fprintf(&b, ".SS %s\n", roff(manUsage(n)))
		fmt.Fprintf(&b, "%s\n", roff(n.Help))
		manBody(&b, n)
	}
	b.WriteString(".SH EXIT STATUS\n.TP\n.B 0\nfine\n.TP\n.B 1\nfindings, or nothing matched\n.TP\n.B 2\nit could not be done\n")
	b.WriteString(".SH ENVIRONMENT\n.TP\n.B WJ_BY\nwho is recording: the id of a person of the journal\n.TP\n.B NO_COLOR\nno colour\n.TP\n.B COLUMNS\nthe width to draw for\n")
	b.WriteString(".SH FILES\n.TP\n.I wj.yaml\nsettings, limits and policy; marks the root of a journal\n.TP\n.I .wj\\-enter\\-SITE.json\na session at the bench that is not finished\n")
	return b.String()
}

// ManualOf is the manual page of one command, in roff.
func ManualOf(n *kong.Node) string {
	var b strings.Builder
	manTitle(&b, "wj-"+n.Name, n.Help)
	fmt.Fprintf(&b, ".SH SYNOPSIS\n%s\n.SH DESCRIPTION\n%s\n", roff(manUsage(n)), roff(n.Help))
	manBody(&b, n)
	b.WriteString(".SH SEE ALSO\n.BR wj (1)\n")
	return b.String()
}

func manUsage(n *kong.Node) string {
	parts := []string{"wj", n.Name}
	for _, p := range n.Positional {
		s := p.Summary()
		parts = append(parts, s)
	}
	return strings.Join(parts, " ")
}

func manBody(b *strings.Builder, n *kong.Node) {
	for _, para := range strings.Split(n.Detail, "\n\n") {
		if para = strings.TrimSpace(para); para == "" {
			continue
		}
		if strings.Contains(para, "\n") || strings.HasPrefix(para, "wj ") {
			var lines []string
			for _, l := range strings.Split(para, "\n") {
				lines = append(lines, strings.TrimSpace(l))
			}
			fmt.Fprintf(b, ".PP\n.nf\n.RS\n%s\n.RE\n.fi\n", roff(strings.Join(lines, "\n")))
			continue
		}
		fmt.Fprintf(b, ".PP\n%s\n", roff(para))
	}
	for _, p := range n.Positional {
		fmt.Fprintf(b, ".TP\n.I %s\n%s\n", roff(p.Name), roff(p.Help))
	}
	manFlags(b, n.Flags)
}

func manFlags(b *strings.Builder, flags []*kong.Flag) {
	for _, f := range flags {
		if f.Hidden {
			continue
		}
		fmt.Fprintf(b, ".TP\n.B %s\n%s\n", roff(flagName(f)), roff(f.Help))
	}
}
