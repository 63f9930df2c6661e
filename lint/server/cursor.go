package server

import (
	"bytes"
	"regexp"
	"strings"
	"sync"
)

// cursor is what is being typed at a place. The record need not be readable:
// a half-typed line seldom is YAML, so the text itself is looked at.
type cursor struct {
	path    []string // the keys that lead to the mapping (key) or the value; "-" is an item
	key     bool     // a key may be here, in the mapping at path
	flow    bool     // inside { } or [ ]
	typed   string   // what is between start and the cursor
	start   int      // where the key or value begins
	end     int      // where the word under the cursor ends
	present map[string]bool
}

// front gives the bytes of the front matter, also of one that is not closed.
func front(src []byte, settings bool) (start, end int) {
	if settings {
		return 0, len(src)
	}
	src = bytes.TrimPrefix(src, []byte("\xef\xbb\xbf"))
	line, _, ok := bytes.Cut(src, []byte("\n"))
	if strings.TrimRight(string(line), "\r \t") != "---" || !ok {
		return 0, -1
	}
	start = len(line) + 1
	for at := start; at < len(src); {
		line, _, _ := bytes.Cut(src[at:], []byte("\n"))
		if t := strings.TrimRight(string(line), "\r \t"); t == "---" || t == "..." {
			return start, at - 1
		}
		at += len(line) + 1
	}
	return start, len(src)
}

// level is one step of the block structure above the cursor.
type level struct {
	indent int
	key    string // "-" for an item
	value  bool   // something stands behind the colon
}

// scan walks the lines down to the cursor.
type scan struct {
	block []level
	flow  []frame
}

// frame is an open bracket.
type frame struct {
	bracket byte
	key     string // the key whose value is being read; "" before one
	token   int    // where the present key or value begins
	present map[string]bool
	base    int // levels of block above it
}

var blockKey = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^("[^"]*"|'[^']*'|[^\s#:{}\[\],"'&*!|>%@-][^:{}\[\],"']*?)\s*:(?:\s+|$)`)
})

// cursorAt finds what is typed at an offset; ok is false outside the front
// matter and inside comments.
func cursorAt(src []byte, settings bool, offset int) (cursor, bool) {
	start, end := front(src, settings)
	if offset < start || offset > end {
		return cursor{}, false
	}
	var s scan
	for at := start; ; {
		line := src[at:]
		if i := bytes.IndexByte(line, '\n'); i >= 0 {
			line = line[:i]
		}
		next := at + len(line) + 1
		line = bytes.TrimRight(line, "\r")
		if offset < next || next > len(src) {
			return s.last(src, start, end, at, at+len(line), offset)
		}
		s.line(string(line), at)
		at = next
	}
}

// indentOf is the number of blanks that a line begins with.
func indentOf(line string) int { return len(line) - len(strings.TrimLeft(line, " ")) }

// line takes a whole line in; at is where it begins.
func (s *scan) line(line string, at int) {
	trimmed := strings.TrimSpace(line)
	if trimmed == "" || strings.HasPrefix(trimmed, "#") {
		return
	}
	if len(s.flow) > 0 {
		if s.inside(line) {
			s.brackets(line, at)
			return
		}
		s.flow = nil // a bracket that was never closed ends with its block
	}
	content, column := s.enter(line)
	if m := blockKey().FindStringSubmatch(content); m != nil {
		rest := content[len(m[0]):]
		s.block = append(s.block, level{column, unquote(m[1]), rest != "" && rest[0] != '#'})
		if rest != "" && (rest[0] == '{' || rest[0] == '[') {
			s.brackets(rest, at+column+len(m[0]))
		}
		return
	}
	if content != "" && (content[0] == '{' || content[0] == '[') {
		s.brackets(content, at+column)
	}
}

// inside reports whether a line belongs to the bracket that is open: it is
// indented further than the key of the bracket, or there is no such key.
func (s *scan) inside(line string) bool {
	base := s.flow[0].base
	return base == 0 || indentOf(line) > s.block[base-1].indent
}

// enter leaves the levels that a line's indentation ends, enters the items that
// its dashes begin, and gives what is left with its column.
func (s *scan) enter(line string) (content string, column int) {
	column = indentOf(line)
	content = line[column:]
	for {
		dash := content == "-" || strings.HasPrefix(content, "- ")
		for n := len(s.block); n > 0; n = len(s.block) {
			top := s.block[n-1]
			if top.indent < column || top.indent == column && dash && top.key != "-" && !top.value {
				break
			}
			s.block = s.block[:n-1]
		}
		if !dash {
			return content, column
		}
		s.block = append(s.block, level{column, "-", false})
		rest := strings.TrimLeft(content[1:], " ")
		column += len(content) - len(rest)
		content = rest
	}
}

// brackets reads flow collections from a piece of a line.
func (s *scan) brackets(piece string, at int) {
	for i := 0; i < len(piece); i++ {
		var top *frame
		if len(s.flow) > 0 {
			top = &s.flow[len(s.flow)-1]
		}
		switch c := piece[i]; {
		case c == '{' || c == '[':
			s.flow = append(s.flow, frame{bracket: c, token: at + i + 1, present: map[string]bool{}, base: len(s.block)})
		case top == nil:
			return // behind the last bracket
		case c == '}' || c == ']':
			s.flow = s.flow[:len(s.flow)-1]
		case c == '"' || c == '\'':
			if n := strings.IndexByte(piece[i+1:], c); n >= 0 {
				i += n + 1
			} else {
				return // a quotation mark that is not closed
			}
		case c == '#' && (i == 0 || piece[i-1] == ' '):
			return
		case c == ',':
			top.key, top.token = "", at+i+1
		case c == ':' && top.bracket == '{' && top.key == "" && (i+1 == len(piece) || piece[i+1] == ' '):
			if from := max(top.token-at, 0); from <= i { // the key may begin on this line
				top.key = unquote(strings.TrimSpace(piece[from:i]))
				top.present[top.key] = true
			}
			top.token = at + i + 1
		}
	}
	if n := len(s.flow); n > 0 && s.flow[n-1].token > at+len(piece) {
		s.flow[n-1].token = at + len(piece)
	}
}

// last takes in the cursor's line up to the cursor and says what is typed.
func (s *scan) last(src []byte, start, end, at, lineEnd, offset int) (cursor, bool) {
	offset = min(offset, lineEnd)
	before := string(src[at:offset])
	if i := strings.Index(before, "#"); i >= 0 && (i == 0 || before[i-1] == ' ') && !strings.ContainsAny(before[:i], `"'`) {
		return cursor{}, false
	}
	c := cursor{end: offset, present: map[string]bool{}}
	for c.end < lineEnd && isWord(src[c.end]) {
		c.end++
	}
	inFlow := len(s.flow) > 0 && (strings.TrimSpace(before) == "" || s.inside(before))
	if inFlow {
		s.brackets(before, at)
	} else {
		s.flow = nil
		s.line(before, at)
		if strings.TrimSpace(before) == "" {
			s.enter(before) // an empty line: its blanks say where it belongs
		}
	}
	for _, l := range s.block {
		c.path = append(c.path, l.key)
	}
	if len(s.flow) > 0 {
		c.inBrackets(s, src, offset, lineEnd)
		return c, true
	}
	content := before
	if n := len(s.block); n > 0 {
		top := s.block[n-1]
		if m := blockKey().FindStringSubmatch(strings.TrimLeft(contentOf(before), " ")); m != nil && unquote(m[1]) == top.key {
			// Behind the colon.
			rest := contentOf(before)[len(m[0]):]
			c.typed, c.start = rest, offset-len(rest)
			return c, true
		}
	}
	content = contentOf(content)
	c.key, c.typed, c.start = true, content, offset-len(content)
	c.siblings(src[start:max(start, end)], at-start, len(before)-len(content))
	return c, true
}

// contentOf is a line without its blanks and dashes.
func contentOf(line string) string {
	content := strings.TrimLeft(line, " ")
	for content == "-" || strings.HasPrefix(content, "- ") {
		content = strings.TrimLeft(content[1:], " ")
	}
	return content
}

// inBrackets says what is typed in a flow collection.
func (c *cursor) inBrackets(s *scan, src []byte, offset, lineEnd int) {
	c.flow = true
	for _, f := range s.flow {
		if f.bracket == '[' {
			c.path = append(c.path, "-")
		} else if f.key != "" {
			c.path = append(c.path, f.key)
		}
	}
	top := s.flow[len(s.flow)-1]
	c.start = min(max(top.token, 0), offset)
	for c.start < offset && (src[c.start] == ' ' || src[c.start] == '\n' || src[c.start] == '\r') {
		c.start++
	}
	c.typed = string(src[c.start:offset])
	c.key = top.bracket == '{' && top.key == ""
	c.present = top.present
	for _, m := range flowKey().FindAllSubmatch(src[offset:lineEnd], -1) {
		c.present[string(m[1])] = true
	}
}

var flowKey = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`([A-Za-z_]+):`) })

// siblings finds the keys that stand beside a key in a block.
func (c *cursor) siblings(front []byte, at, column int) {
	lines := strings.Split(string(front), "\n")
	here := bytes.Count(front[:min(at, len(front))], []byte("\n"))
	for _, step := range []int{-1, 1} {
		for i := here + step; i >= 0 && i < len(lines); i += step {
			content := contentOf(lines[i])
			if content == "" || content[0] == '#' {
				continue
			}
			indent := len(lines[i]) - len(content)
			m := blockKey().FindStringSubmatch(content)
			dash := indentOf(lines[i]) < indent
			if step > 0 && dash && indent <= column || indent < column {
				break
			}
			if indent == column && m != nil {
				c.present[unquote(m[1])] = true
			}
			if dash && indent == column {
				break // the item's first line
			}
		}
	}
}

func unquote(s string) string {
	s = strings.TrimSpace(s)
	if len(s) >= 2 && (s[0] == '"' || s[0] == '\'') && s[len(s)-1] == s[0] {
		return s[1 : len(s)-1]
	}
	return s
}

// isWord reports whether a byte belongs to an id, a key, a unit or a rule.
func isWord(c byte) bool {
	return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '_' || c == '-' || c == '/' || c == '.' || c >= 0x80
}
