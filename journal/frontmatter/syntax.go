package frontmatter

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"sync"
)

// libraryPlace is the line that the library puts before a message; it is often one off
// and often missing, so the place is found here instead.
var libraryPlace = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^yaml: (line \d+: )?`) })

// lookahead is how many bytes beyond the mistake the library may have read: a token and
// the four characters by which it knows a document mark.
const lookahead = 8

// syntax reports a syntax error of the library with its place and, for the mistakes that
// people make, in words of its own. read is how many bytes of the front matter the library
// had taken when it gave up.
func (d *Document) syntax(err error, read int) {
	message := libraryPlace().ReplaceAllString(err.Error(), "")
	text := d.Source[d.Front:d.FrontEnd]
	read = max(0, min(read, len(text)))
	taken := text[:read]
	report := func(at, size int, message, help string) {
		at = max(0, min(at, len(text)))
		d.problem(RuleFrontMatter, d.Front+at, d.Front+min(at+size, len(text)), message, help)
	}
	last := len(bytes.TrimRight(taken, " \t\r\n"))
	start := bytes.LastIndexByte(taken[:last], '\n') + 1
	end, _ := lineAt(text, start)
	line := text[start:end]
	indent := len(line) - len(bytes.TrimLeft(line, " "))
	open := unclosed(taken)

	switch {
	case strings.Contains(message, "unknown anchor"):
		if name := strings.Split(message, "'"); len(name) > 1 {
			if at := bytes.Index(text, []byte("*"+name[1])); at >= 0 {
				report(at, len(name[1])+1, "a YAML alias is used", "write the value again; a text that starts with * must be quoted")
				return
			}
		}
	case strings.Contains(message, "end of stream") && open.quote >= 0:
		report(open.quote, 1, "the quote is not closed", "close it at the end of the text, on the same line")
		return
	case strings.Contains(message, "mapping values are not allowed"):
		d.secondColon(taken, report)
		return
	case strings.Contains(message, "cannot start any token"), strings.Contains(message, "comment or line break"):
		if at := lastStart(taken, "@`%>|\t"); at >= 0 {
			value := d.plainValue(text, at)
			report(at, len(value), fmt.Sprintf("a value cannot start with %q", text[at]), fmt.Sprintf("put it in quotes: \"%s\"", value))
			if last := &d.Problems[len(d.Problems)-1]; text[at] == '>' && !bytes.ContainsAny(value, `"\\`) {
				last.Fix = &Edit{Start: last.Start, End: last.End, New: `"` + string(value) + `"`}
			}
			return
		}
	case strings.Contains(message, "expected ',' or"), strings.Contains(message, "node content") && open.bracket >= 0:
		for back := 1; open.bracket < 0 && back <= lookahead && back < read; back++ {
			open = unclosed(taken[:read-back])
		}
		if open.bracket >= 0 {
			d.badBracket(open, last, report)
			return
		}
	case strings.Contains(message, "node content"):
		if at := bytes.LastIndexAny(taken, "]},"); at >= 0 {
			report(at, 1, fmt.Sprintf("%q is where a value is expected", text[at]), "delete it, or put the text in quotes")
			return
		}
	case strings.Contains(message, "expected key"), strings.Contains(message, "document start"), strings.Contains(message, "'-' indicator"):
		if at := afterQuote(line); at >= 0 {
			report(start+at, len(line)-at, "text follows the closing quote", "put all of the text inside the quotes")
			return
		}
		report(start+indent, len(line)-indent, "the line does not fit the lines above it",
			"indent it as far as the lines it belongs to, two blanks for each level, and write key: value")
		return
	case strings.Contains(message, "could not find expected ':'"):
		whole, _ := lineAt(text, bytes.LastIndexByte(taken, '\n')+1) // the library may stop within a line
		at, size := d.withoutColon(text[:max(whole, len(taken))])
		if glued := bytes.IndexByte(text[at:at+size], ':'); glued > 0 && isKeyByte(text[at]) {
			report(at+glued, 1, "there is no blank after the colon", "write key: value with a blank after the colon")
			return
		}
		report(at, size, "the line is not key: value", "write key: value with a blank after the colon; notes go below the closing --- line")
		return
	}
	report(max(last-1, 0), 1, message, "write it in the plain form: key: value, one to a line")
}

// badBracket explains brackets that do not fit. last is the end of what the library took.
func (d *Document) badBracket(open leftOpen, last int, report func(at, size int, message, help string)) {
	text := d.Source[d.Front:d.FrontEnd]
	end, _ := lineAt(text, open.bracket)
	shut := closingOf(text[open.bracket])
	switch whole := unclosed(text[:end]); {
	case open.wrong >= 0 && open.wrong < end:
		report(open.wrong, 1, fmt.Sprintf("%q does not close %q", text[open.wrong], text[open.bracket]), fmt.Sprintf("write %q", shut))
	case whole.bracket == open.bracket || last > end:
		report(open.bracket, 1, fmt.Sprintf("%q is not closed", text[open.bracket]), fmt.Sprintf("put %q at the end of the line, and a comma between its parts", shut))
	default:
		start := bytes.LastIndexByte(text[:open.bracket], '\n') + 1
		if at := afterQuote(text[start:end]); at >= 0 {
			report(start+at, 1, "text follows the closing quote", "put all of the text inside the quotes")
			return
		}
		at := max(last-1, 0)
		if colon := bytes.LastIndex(text[open.bracket:last], []byte(": ")); colon >= 0 {
			at = open.bracket + colon
		}
		report(at, 1, "a comma is missing, or the text needs quotes", "write {key: value, key: value}; put a text with a colon or comma in quotes")
	}
}

// secondColon explains a colon that YAML did not expect, the last one in taken.
func (d *Document) secondColon(taken []byte, report func(at, size int, message, help string)) {
	colon := -1
	for i := len(taken) - 1; i >= 0 && colon < 0; i-- {
		if taken[i] == ':' && (i+1 == len(taken) || isBlank(taken[i+1])) {
			colon = i
		}
	}
	colon = max(colon, 0)
	start := bytes.LastIndexByte(taken[:colon], '\n') + 1
	if first := bytes.Index(taken[start:colon], []byte(": ")); first >= 0 {
		report(colon, 1, "a second colon is in the value", "put the value in quotes, or the second key on a line of its own")
		return
	}
	indent := len(taken[start:colon]) - len(bytes.TrimLeft(taken[start:colon], " "))
	above := bytes.TrimRight(taken[:start], " \t\r\n")
	aboveStart := bytes.LastIndexByte(above, '\n') + 1
	if line := above[aboveStart:]; len(line) > 0 && !bytes.Contains(line, []byte(": ")) {
		at := aboveStart + len(line) - len(bytes.TrimLeft(line, " "))
		if glued := bytes.IndexByte(line, ':'); glued > 0 {
			report(aboveStart+glued, 1, "there is no blank after the colon", "write key: value with a blank after the colon")
			return
		}
		report(at, aboveStart+len(line)-at, "the line is not key: value", "write key: value; notes go below the closing --- line")
		return
	}
	report(start+indent, colon-start-indent, "the line is indented below one that has a value already",
		"indent it as far as the line above, or take the value away from that line")
}

// withoutColon finds the last line of taken that has no key.
func (d *Document) withoutColon(taken []byte) (at, size int) {
	for end := len(taken); end > 0; {
		start := bytes.LastIndexByte(taken[:end], '\n') + 1
		line := bytes.TrimSpace(taken[start:end])
		if len(line) > 0 && line[0] != '#' && !bytes.Contains(line, []byte(": ")) && !bytes.HasSuffix(line, []byte(":")) {
			at = start + bytes.Index(taken[start:end], line)
			return at, len(line)
		}
		end = start - 1
	}
	return max(len(bytes.TrimRight(taken, " \t\r\n"))-1, 0), 1
}

// plainValue is the text of a value that starts at a place, without the comment
// behind it: to the end of the line, or within brackets to what ends the value there.
func (d *Document) plainValue(text []byte, at int) []byte {
	end, _ := lineAt(text, at)
	value := text[at:end]
	if unclosed(text[:at]).bracket >= 0 {
		if n := bytes.IndexAny(value, ",]}"); n >= 0 {
			value = value[:n]
		}
	}
	for i := 1; i < len(value); i++ {
		if value[i] == '#' && (value[i-1] == ' ' || value[i-1] == '\t') {
			value = value[:i]
			break
		}
	}
	return bytes.TrimRight(value, " \t\r")
}

// lastStart returns the last of the bytes in set that starts a value in taken, or -1.
func lastStart(taken []byte, set string) int {
	for i := len(taken) - 1; i >= 0; i-- {
		if strings.IndexByte(set, taken[i]) >= 0 && (i == 0 || strings.IndexByte(" [{,\n\t", taken[i-1]) >= 0) {
			return i
		}
	}
	return -1
}

// afterQuote returns where text goes on after a closed quote of line, or -1.
func afterQuote(line []byte) int {
	at := lastStart(line, `"'`)
	if at < 0 {
		return -1
	}
	end, ok := quotedEnd(line, at, line[at])
	rest := bytes.TrimLeft(line[min(end, len(line)):], " ")
	if !ok || len(rest) == 0 || strings.IndexByte("#,]}:", rest[0]) >= 0 {
		return -1
	}
	return len(line) - len(rest)
}

func closingOf(bracket byte) byte {
	if bracket == '{' {
		return '}'
	}
	return ']'
}

// leftOpen is what a text opens and does not close; -1 is nothing.
type leftOpen struct {
	quote, bracket int // the quote, the innermost bracket
	wrong          int // a closing bracket that does not fit bracket
}

// unclosed reads text as YAML far enough to distinguish quotes, brackets and comments.
func unclosed(text []byte) leftOpen {
	var stack []int
	for i := 0; i < len(text); i++ {
		c := text[i]
		starts := i == 0 || strings.IndexByte(" [{,\n\t", text[i-1]) >= 0
		switch {
		case (c == '"' || c == '\'') && starts:
			end, ok := quotedEnd(text, i, c)
			if !ok {
				return leftOpen{quote: i, bracket: -1, wrong: -1}
			}
			i = end - 1
		case c == '#' && starts:
			i, _ = lineAt(text, i)
			i--
		case (c == '{' || c == '[') && (starts || len(stack) > 0):
			stack = append(stack, i)
		case (c == '}' || c == ']') && len(stack) > 0:
			bracket := stack[len(stack)-1]
			if closingOf(text[bracket]) != c {
				return leftOpen{quote: -1, bracket: bracket, wrong: i}
			}
			stack = stack[:len(stack)-1]
		}
	}
	if len(stack) == 0 {
		return leftOpen{-1, -1, -1}
	}
	return leftOpen{quote: -1, bracket: stack[len(stack)-1], wrong: -1}
}
