package usage

import (
	"fmt"
	"strings"

	"github.com/alecthomas/kong"

	"wj/render"
)

// Markdown is the page of one command, as Manual has it in roff.
func Markdown(n *kong.Node) string {
	var b strings.Builder
	fmt.Fprintf(&b, "# %s\n\n%s\n\n", render.Line("wj "+n.Name), n.Help)
	b.WriteString("    " + manUsage(n) + "\n\n")
	for _, para := range strings.Split(n.Detail, "\n\n") {
		if para = strings.TrimSpace(para); strings.Contains(para, "\n") || strings.HasPrefix(para, "wj ") {
			para = "```\n" + strings.ReplaceAll(para, "\n    ", "\n") + "\n```"
		}
		b.WriteString(para + "\n\n")
	}
	for _, p := range n.Positional {
		fmt.Fprintf(&b, "- `%s`: %s\n", p.Summary(), p.Help)
	}
	for _, f := range n.Flags {
		if !f.Hidden {
			fmt.Fprintf(&b, "- `%s`: %s\n", flagName(f), f.Help)
		}
	}
	return b.String()
}

// flagName is a flag as a page heads it: "-n, --dry-run", "--site=SITE".
func flagName(f *kong.Flag) string {
	name := "--" + f.Name
	if f.Short != 0 {
		name = "-" + string(f.Short) + ", " + name
	}
	if !f.IsBool() {
		name += "=" + strings.Trim(f.FormatPlaceHolder(), "\"")
	}
	return name
}
