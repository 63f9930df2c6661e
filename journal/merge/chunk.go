package merge

import (
	"strings"
)

// chunk is one key or list item of a record's front matter with the lines that
// it is written on, comments before it included.
type chunk struct {
	key      string   // of a list item: its whole text
	lines    []string // comments, the line of the key, and of a leaf all that follows
	children []*chunk
	list     bool // the children are items of a list
}

// text is the chunk as it is written.
func (c *chunk) text() string {
	var b strings.Builder
	c.write(&b)
	return b.String()
}

func (c *chunk) write(b *strings.Builder) {
	for _, l := range c.lines {
		b.WriteString(l + "\n")
	}
	for _, x := range c.children {
		x.write(b)
	}
}

// parse parts lines of block YAML by their indentation. Whatever is not plain
// keys and items in block form becomes part of a leaf.
func parse(lines []string) []*chunk {
	var out []*chunk
	var before []string // comments and empty lines
	indent := -1
	for i := 0; i < len(lines); i++ {
		line := lines[i]
		if isComment(line) {
			before = append(before, line)
			continue
		}
		if indent < 0 {
			indent = indentOf(line)
		}
		trimmed := strings.TrimSpace(line)
		if len(out) > 0 && (indentOf(line) < indent || trimmed[0] == ']' || trimmed[0] == '}') {
			last := out[len(out)-1]
			last.lines, last.children = append(append(flat(last), before...), line), nil
			before = nil
			continue
		}
		c := &chunk{key: keyOf(trimmed), lines: append(before, line)}
		before = nil
		end := i + 1
		for j := i + 1; j < len(lines); j++ {
			if isComment(lines[j]) {
				continue
			}
			item := strings.HasPrefix(strings.TrimSpace(lines[j]), "-") && indentOf(lines[j]) == indent && !strings.HasPrefix(trimmed, "-")
			if indentOf(lines[j]) <= indent && !item {
				break
			}
			end = j + 1
		}
		body := lines[i+1 : end]
		i = end - 1
		if len(body) > 0 {
			if strings.HasPrefix(trimmed, "-") || !isOpen(trimmed) {
				c.lines = append(c.lines, body...)
				if strings.HasPrefix(trimmed, "-") {
					for _, l := range body {
						c.key += "\n" + strings.TrimSpace(l)
					}
				}
			} else {
				c.children = parse(body)
				c.list = strings.HasPrefix(strings.TrimSpace(c.children[0].lines[len(c.children[0].lines)-1]), "-") || strings.HasPrefix(c.children[0].key, "- ")
			}
		}
		out = append(out, c)
	}
	if len(before) > 0 {
		if len(out) == 0 {
			return []*chunk{{key: "#", lines: before}}
		}
		out = append(out, &chunk{key: "#end", lines: before})
	}
	return out
}

func flat(c *chunk) []string { return strings.Split(strings.TrimSuffix(c.text(), "\n"), "\n") }

func isComment(line string) bool {
	t := strings.TrimSpace(line)
	return t == "" || t[0] == '#'
}

func indentOf(line string) int { return len(line) - len(strings.TrimLeft(line, " ")) }

// isOpen reports whether a key's value is in the lines below it.
func isOpen(line string) bool {
	if i := strings.Index(line, " #"); i >= 0 {
		line = strings.TrimSpace(line[:i])
	}
	return strings.HasSuffix(line, ":")
}

// keyOf is the key of a line, or the whole text of a list item.
func keyOf(line string) string {
	if strings.HasPrefix(line, "-") {
		return line
	}
	for _, quote := range []string{`"`, `'`} {
		if rest, ok := strings.CutPrefix(line, quote); ok {
			key, _, _ := strings.Cut(rest, quote)
			return key
		}
	}
	key, _, _ := strings.Cut(line, ":")
	return strings.TrimSpace(key)
}

// identity is what a list item is about: its first value. Two items of one
// identity are two versions of one fact.
func identity(item string) string {
	item = strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(item), "-"))
	item = strings.TrimSpace(strings.TrimPrefix(item, "{"))
	if i := strings.IndexAny(item, ",}\n"); i >= 0 {
		item = item[:i]
	}
	return strings.Join(strings.Fields(item), " ")
}

func find(list []*chunk, key string) *chunk {
	for _, c := range list {
		if c.key == key {
			return c
		}
	}
	return nil
}
