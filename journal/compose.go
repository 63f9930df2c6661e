package journal

import (
	"fmt"
	"strings"

	"wj/journal/frontmatter"
)

// Entry is one key of a record to be written: its value in YAML (a scalar
// already quoted where it must be, or a flow collection), or entries below it.
type Entry struct {
	Key   string
	Value string
	Below []Entry
}

// Compose writes a record in the canonical form: keys in the order of the
// kind's schema, nested keys on lines of their own with their values aligned,
// then the body.
func Compose(kind Kind, entries []Entry, body string) []byte {
	order := map[string]int{}
	for i, f := range kind.Fields() {
		order[f.Key] = i
	}
	sorted := make([]Entry, 0, len(entries))
	for _, f := range kind.Fields() {
		for _, e := range entries {
			if e.Key == f.Key {
				sorted = append(sorted, e)
			}
		}
	}
	for _, e := range entries {
		if _, known := order[e.Key]; !known {
			sorted = append(sorted, e)
		}
	}
	var b strings.Builder
	if kind != KindSettings {
		b.WriteString("---\n")
	}
	writeEntries(&b, sorted, "")
	if kind != KindSettings {
		b.WriteString("---\n")
		if body = strings.TrimSpace(body); body != "" {
			b.WriteString("\n" + body + "\n")
		}
	}
	return []byte(b.String())
}

func writeEntries(b *strings.Builder, entries []Entry, indent string) {
	width := 0
	if indent != "" {
		for _, e := range entries {
			if e.Below == nil {
				width = max(width, len(keyText(e.Key)))
			}
		}
	}
	for _, e := range entries {
		key := keyText(e.Key)
		if e.Below != nil {
			b.WriteString(indent + key + ":\n")
			writeEntries(b, e.Below, indent+"  ")
			continue
		}
		pad := ""
		if n := width - len(key); n > 0 {
			pad = strings.Repeat(" ", n)
		}
		fmt.Fprintf(b, "%s%s:%s %s\n", indent, key, pad, e.Value)
	}
}

// keyText writes a key. A word of letters and underscores stands plain, on
// among them: our reader takes every such key as text.
func keyText(key string) string {
	for i := 0; i < len(key); i++ {
		c := key[i] | 0x20
		if (c < 'a' || c > 'z') && key[i] != '_' && !(i > 0 && isDigit(key[i])) {
			return frontmatter.Quote(key)
		}
	}
	switch key {
	case "", "true", "false", "null":
		return frontmatter.Quote(key)
	}
	return key
}
