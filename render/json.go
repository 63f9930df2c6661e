package render

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"unicode/utf8"
)

// Object is a JSON object whose members keep their order.
type Object []Member

// Member is one name and value of an Object. Value is a string, a Number, a bool, an int, nil, a []any of these, or an Object.
type Member struct {
	Name  string
	Value any
}

// Encode gives any value of typed fields as JSON in a single line, by the rules of encoding/json and with what a terminal or
// a build service could act on as \\u escapes.
func Encode(value any) (string, error) {
	var b bytes.Buffer
	encoder := json.NewEncoder(&b)
	if err := encoder.Encode(value); err != nil {
		return "", fmt.Errorf("write json: %w", err)
	}
	return EscapeJSON(strings.TrimSuffix(b.String(), "\n")), nil
}

// EscapeJSON takes JSON that another encoder wrote and writes the characters that may not be shown as escapes; in JSON they
// occur in strings alone, so that every reader gets the same text. The second of two number signs is one of them: together
// they start a command in the log of a build service.
func EscapeJSON(text string) string {
	var b strings.Builder
	before := rune(0)
	for _, r := range text {
		if r == '\n' || safe(r) && (r != '#' || before != '#') {
			b.WriteRune(r)
		} else {
			appendEscape(&b, r)
		}
		before = r
	}
	return b.String()
}

func appendEscape(b io.Writer, r rune) {
	if r > 0xffff {
		r -= 0x10000
		fmt.Fprintf(b, `\u%04x\u%04x`, 0xd800+(r>>10), 0xdc00+(r&0x3ff))
		return
	}
	fmt.Fprintf(b, `\u%04x`, r)
}

// Number is a number as it was typed: 7.40 is written as 7.40. It must be a JSON number (RFC 8259, section 6).
type Number string

var jsonNumber = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^-?(?:0|[1-9]\d*)(?:\.\d+)?(?:[eE][+-]?\d+)?$`) })

// JSONLines writes one object a line, each line complete JSON. Every character that a terminal could act on is written as a
// \u escape, so nothing is lost and nothing acts. Objects are all formed before the first byte is written; the error names
// the object and the member that could not be.
func JSONLines(w io.Writer, objects []Object) error {
	var b bytes.Buffer
	for n, object := range objects {
		if err := appendJSON(&b, object); err != nil {
			return fmt.Errorf("write json line %d: %w", n+1, err)
		}
		b.WriteByte('\n')
	}
	if _, err := w.Write(b.Bytes()); err != nil {
		return fmt.Errorf("write json lines: %w", err)
	}
	return nil
}

// JSON gives one value in a single line; the same values and the same errors as for JSONLines.
func JSON(value any) (string, error) {
	var b bytes.Buffer
	if err := appendJSON(&b, value); err != nil {
		return "", fmt.Errorf("write json: %w", err)
	}
	return b.String(), nil
}

func appendJSON(b *bytes.Buffer, value any) error {
	switch v := value.(type) {
	case nil:
		b.WriteString("null")
	case bool:
		b.WriteString(strconv.FormatBool(v))
	case int:
		b.WriteString(strconv.Itoa(v))
	case string:
		appendJSONString(b, v)
	case Number:
		if !jsonNumber().MatchString(string(v)) {
			return fmt.Errorf("%q is not a number in JSON; give it as a string", string(v))
		}
		b.WriteString(string(v))
	case []any:
		b.WriteByte('[')
		for i, item := range v {
			if i > 0 {
				b.WriteByte(',')
			}
			if err := appendJSON(b, item); err != nil {
				return fmt.Errorf("item %d: %w", i+1, err)
			}
		}
		b.WriteByte(']')
	case Object:
		b.WriteByte('{')
		for i, member := range v {
			if i > 0 {
				b.WriteByte(',')
			}
			appendJSONString(b, member.Name)
			b.WriteByte(':')
			if err := appendJSON(b, member.Value); err != nil {
				return fmt.Errorf("member %q: %w", member.Name, err)
			}
		}
		b.WriteByte('}')
	default:
		return fmt.Errorf("a value of type %T has no written form; give numbers as Number or int", value)
	}
	return nil
}

func appendJSONString(b *bytes.Buffer, s string) {
	b.WriteByte('"')
	before := rune(0)
	for len(s) > 0 {
		r, n := utf8.DecodeRuneInString(s)
		s = s[n:]
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case r == '#' && before == '#':
			appendEscape(b, r) // two would start a command in the log of a build service
		case safe(r) && r != '<' && r != '>' && r != '&': // those three could end a script element in HTML
			b.WriteRune(r)
		default:
			appendEscape(b, r)
		}
		before = r
	}
	b.WriteByte('"')
}
