package frontmatter

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"
	"unicode"
	"unicode/utf8"
)

// maxReported bounds how many characters of a file, and how many keys of a mapping, are
// reported one by one.
const maxReported = 16

// slow checks the bytes, finds the fences and lets the library read what lies between.
func (d *Document) slow(fenced bool) {
	defer func() {
		slices.SortStableFunc(d.Problems, func(a, b Problem) int { return cmp.Compare(a.Start, b.Start) })
	}()
	d.FrontEnd, d.Body = len(d.Source), len(d.Source)
	if n := len(d.Source); n > MaxFile {
		d.problem(RuleFrontMatter, 0, 0, fmt.Sprintf("the file is %d KiB, more than the %d KiB that a record may have", n>>10, MaxFile>>10),
			"move what is not part of the record into a file of its own and list it under attachments")
		return
	}
	d.Front = d.bom()
	if d.Front > 0 {
		d.Problems = append(d.Problems, Problem{Rule: RuleEncoding, End: d.Front, Warning: true,
			Message: "the file starts with a byte-order mark", Help: "save it as UTF-8 without a byte-order mark"})
	}
	if fenced && !d.fences() {
		d.encoding()
		return
	}
	bad := d.encoding()
	conflict := d.conflicts()
	if bad || conflict || !d.lineChecks() {
		return
	}
	d.library()
}

// encoding reports what is not clean UTF-8 text, in the whole file. It returns whether
// the front matter is affected, so that no parser may see it.
func (d *Document) encoding() (front bool) {
	src, reported, line := d.Source, 0, false
	for i := d.bom(); i < len(src); {
		c := src[i]
		if c >= ' ' && c < 0x7f || c == '\n' || c == '\t' {
			i++
			continue
		}
		if c == '\r' && i+1 < len(src) && src[i+1] == '\n' {
			if !line {
				line, d.crlf = true, true
				d.Problems = append(d.Problems, Problem{Rule: RuleEncoding, Start: i, End: i + 1, Warning: true,
					Message: "lines end in CR LF", Help: "save the file with LF line ends"})
			}
			i += 2
			continue
		}
		r, size := utf8.DecodeRune(src[i:])
		message, help := "", ""
		switch {
		case r == utf8.RuneError && size <= 1:
			size = 1
			message = fmt.Sprintf("byte 0x%02X is not UTF-8", c)
			help = "save the file as UTF-8"
		case badRune(r):
			message = fmt.Sprintf("%s U+%04X is not allowed", runeName(r), r)
			help = "delete it; it is invisible in most editors"
		}
		if message != "" {
			if reported++; reported <= maxReported {
				d.problem(RuleEncoding, i, i+size, message, help)
			}
			front = front || i < d.FrontEnd
		}
		i += size
	}
	if reported > maxReported {
		d.problem(RuleEncoding, len(src), len(src), fmt.Sprintf("%d more characters of this kind", reported-maxReported), "")
	}
	return front
}

// badRune reports characters that change what a reader sees without being seen (Unicode
// Technical Report 36, and the bidirectional controls of UAX 9), or that YAML takes for a
// line end or refuses (YAML 1.1, section 4.1 and 4.2).
func badRune(r rune) bool {
	switch {
	case r == '\n' || r == '\t':
		return false
	case r < 0x80:
		return r < ' ' || r == 0x7f
	case r < 0xa0:
		return true
	case r < 0x61c:
		return false
	case r == 0x2028, r == 0x2029, r == 0xfeff, r == 0xfffe, r == 0xffff:
		return true
	}
	return unicode.Is(unicode.Bidi_Control, r)
}

func runeName(r rune) string {
	switch {
	case r == 0:
		return "the NUL character"
	case r == '\r':
		return "a carriage return without a line feed,"
	case r == 0x2028 || r == 0x2029:
		return "the line separator"
	case r == 0xfeff:
		return "a byte-order mark in the middle of the file,"
	case r == 0xfffe || r == 0xffff:
		return "the noncharacter"
	case unicode.IsControl(r):
		return "the control character"
	}
	return "the bidirectional control character"
}

// lineAt returns the bounds of the line that starts at i: its text without the line end,
// and the start of the next.
func lineAt(src []byte, i int) (end, next int) {
	n := bytes.IndexByte(src[i:], '\n')
	if n < 0 {
		return len(src), len(src)
	}
	end, next = i+n, i+n+1
	if end > i && src[end-1] == '\r' {
		end--
	}
	return end, next
}

func isFence(line []byte) bool {
	return bytes.HasPrefix(line, []byte("---")) && len(bytes.TrimRight(line[3:], " \t")) == 0
}

// fences finds the --- lines and sets Front, FrontEnd and Body. It returns false where
// there is nothing to read.
func (d *Document) fences() bool {
	src, start := d.Source, d.Front
	end, next := lineAt(src, start)
	if !isFence(src[start:end]) {
		d.noOpening(start, end)
		return false
	}
	d.Front = next
	for i := next; i < len(src); {
		end, next = lineAt(src, i)
		if isFence(src[i:end]) {
			d.FrontEnd, d.Body = i, next
			return d.frontSize()
		}
		i = next
	}
	at := d.guessBody()
	d.FrontEnd, d.Body = at, at
	line, _ := d.Position(at)
	message := "the closing --- line is missing"
	if at < len(src) {
		message = fmt.Sprintf("the closing --- line is missing; the notes seem to start at line %d", line)
	}
	d.problem(RuleFrontMatter, start, start+3, message, fmt.Sprintf("put a line with --- before line %d", line))
	return d.frontSize()
}

func (d *Document) frontSize() bool {
	if n := d.FrontEnd - d.Front; n > MaxFront {
		d.problem(RuleFrontMatter, d.Front, d.Front, fmt.Sprintf("the front matter is %d KiB, more than %d KiB", n>>10, MaxFront>>10),
			"move notes below the closing --- line")
		return false
	}
	return true
}

// noOpening says why the first line is not the opening fence.
func (d *Document) noOpening(start, end int) {
	src := d.Source
	d.Front, d.FrontEnd, d.Body = start, start, start
	text := bytes.TrimLeft(src[start:], " \t\r\n")
	switch {
	case len(text) == 0:
		d.problem(RuleFrontMatter, start, start, "the file is empty", "a record starts with a line ---, then key: value lines, then ---")
	case bytes.HasPrefix(text, []byte("---")):
		at := len(src) - len(text)
		d.problem(RuleFrontMatter, start, at, "something is before the opening ---", "delete the blanks before it, so that --- is the first line")
	case looksLikeYAML(src[start:end]):
		d.problem(RuleFrontMatter, start, end, "the opening --- line is missing", "put a line with --- before the first line")
	default:
		d.problem(RuleFrontMatter, start, end, "there is no front matter", "a record starts with a line ---, then key: value lines, then ---")
	}
}

// guessBody returns where the notes seem to start in a file without closing fence: after
// the last of the leading lines that look like YAML.
func (d *Document) guessBody() int {
	src, after := d.Source, d.Front
	for i := d.Front; i < len(src); {
		end, next := lineAt(src, i)
		line := src[i:end]
		switch {
		case len(bytes.TrimSpace(line)) == 0 || line[0] == '#':
		case looksLikeYAML(line) || after > d.Front && (line[0] == ' ' || line[0] == '\t'):
			after = next
		default:
			return d.skipBlank(after)
		}
		i = next
	}
	return d.skipBlank(after)
}

// skipBlank moves over blank lines.
func (d *Document) skipBlank(i int) int {
	for i < len(d.Source) {
		end, next := lineAt(d.Source, i)
		if len(bytes.TrimSpace(d.Source[i:end])) > 0 {
			break
		}
		i = next
	}
	return i
}

// looksLikeYAML reports whether a line without indentation is a key, an item or a
// bracket. A key of a record has no blanks, so a sentence with a colon is not taken.
func looksLikeYAML(line []byte) bool {
	if len(line) == 0 {
		return false
	}
	switch line[0] {
	case '}', ']', '"', '\'':
		return true
	}
	for i, c := range line {
		if c == ':' {
			return i > 0
		}
		if !isKeyByte(c) {
			return false
		}
	}
	return false
}

// conflicts reports what a merge left behind. A row of = alone is a heading in Markdown,
// so in the body it counts only between the other two marks.
func (d *Document) conflicts() bool {
	src, found := d.Source, false
	open, middle := -1, -1
	report := func(start, end int, message string) {
		found = true
		d.problem(RuleFrontMatter, start, end, message,
			"keep the lines that are right and delete the three marks; git checkout --merge -- FILE brings the conflict back")
	}
	for i := 0; i < len(src); {
		end, next := lineAt(src, i)
		line := src[i:end]
		switch markOf(line) {
		case '<':
			if open >= 0 {
				report(open, open+7, "a merge left a <<<<<<< mark without its end")
			}
			open, middle = i, -1
		case '=':
			if open >= 0 && middle < 0 {
				middle = i
			} else if i < d.FrontEnd {
				report(i, end, "a merge left a ======= mark")
			}
		case '>':
			switch {
			case open >= 0 && middle >= 0:
				report(open, open+7, d.sides(open, middle, i, line))
			case open >= 0:
				report(open, open+7, "a merge left a <<<<<<< mark without its =======")
			default:
				report(i, end, "a merge left a >>>>>>> mark")
			}
			open, middle = -1, -1
		}
		i = next
	}
	if open >= 0 {
		report(open, open+7, "a merge left a <<<<<<< mark without its end")
	}
	return found
}

// markOf returns the character of the conflict mark that a line is, or 0. Git writes
// seven of them, then nothing or a blank and a name (gitattributes, conflict-marker-size).
func markOf(line []byte) byte {
	if len(line) < 7 || len(line) > 7 && line[7] != ' ' {
		return 0
	}
	c := line[0]
	if c != '<' && c != '=' && c != '>' {
		return 0
	}
	for _, b := range line[1:7] {
		if b != c {
			return 0
		}
	}
	if c == '=' && len(bytes.TrimSpace(line)) > 7 {
		return 0
	}
	return c
}

func (d *Document) sides(open, middle, last int, line []byte) string {
	end, _ := lineAt(d.Source, open)
	a, _ := d.Position(open)
	b, _ := d.Position(middle)
	c, _ := d.Position(last)
	return fmt.Sprintf("a merge was left unresolved: %s is %s, %s is %s",
		lineRange(a+1, b-1), sideName(d.Source[open:end], "one side"), lineRange(b+1, c-1), sideName(line, "the other"))
}

func lineRange(a, b int) string {
	switch {
	case b < a:
		return fmt.Sprintf("nothing after line %d", a-1)
	case a == b:
		return fmt.Sprintf("line %d", a)
	}
	return fmt.Sprintf("lines %d to %d", a, b)
}

func sideName(line []byte, fallback string) string {
	name := bytes.TrimSpace(line[7:])
	if len(name) == 0 || len(name) > 80 || !utf8.Valid(name) || bytes.IndexFunc(name, badRune) >= 0 {
		return fallback
	}
	return string(name)
}

// lineChecks looks at the front matter line by line for what no parser should see or for
// what the library words badly. It returns whether the library may read on.
func (d *Document) lineChecks() bool {
	src, ok, content := d.Source, true, false
	for i := d.Front; i < d.FrontEnd; {
		end, next := lineAt(src, i)
		line := src[i:end]
		indent := len(line) - len(bytes.TrimLeft(line, " "))
		text := line[indent:]
		refuse := func(from, to int, message, help string) {
			ok = false
			d.problem(RuleFrontMatter, i+from, i+to, message, help)
		}
		switch {
		case len(line) > MaxLine:
			refuse(0, 0, fmt.Sprintf("the line has %d bytes, more than %d", len(line), MaxLine), "move long text below the closing --- line")
		case len(bytes.TrimSpace(text)) == 0 || text[0] == '#':
		case text[0] == '\t':
			refuse(indent, indent+1, "a tab is used for indentation", "indent with two blanks")
		case bytes.HasPrefix(text, []byte("\u00a0")):
			refuse(indent, indent+2, "a no-break space is used for indentation", "indent with two ordinary blanks")
		case indent == 0 && text[0] == '%':
			refuse(0, 1, "a line starts with %", "YAML directives are not used here; quote the text")
		case indent == 0 && content && len(text) >= 3 && (string(text[:3]) == "---" || string(text[:3]) == "...") &&
			(len(text) == 3 || text[3] == ' ' || text[3] == '\t'):
			refuse(0, 3, "a second document starts here", "a file holds one record; make it a file of its own")
		default:
			content = true
			if at := tooDeep(text); at >= 0 {
				refuse(indent+at, indent+at+1, fmt.Sprintf("nested more than %d deep", MaxDepth), "no record needs that many brackets")
			}
		}
		i = next
	}
	return ok
}

// tooDeep returns where a line nests deeper than any record does, or -1. It spares the
// parser ten thousand brackets; nesting over several lines is found in the tree.
func tooDeep(text []byte) int {
	depth, quote := 1, byte(0)
	for i, c := range text {
		switch {
		case quote != 0:
			if c == quote && (quote == '\'' || text[i-1] != '\\') {
				quote = 0
			}
		case (c == '"' || c == '\'') && (i == 0 || bytes.IndexByte([]byte(" [{,"), text[i-1]) >= 0):
			quote = c
		case c == '#' && i > 0 && (text[i-1] == ' ' || text[i-1] == '\t'):
			return -1 // a comment
		case c == '[' || c == '{' || c == '-' && depth == 1+i/2 && i%2 == 0 && i+1 < len(text) && text[i+1] == ' ':
			if depth++; depth > MaxDepth {
				return i
			}
		case c == ']' || c == '}':
			depth--
		}
	}
	return -1
}
