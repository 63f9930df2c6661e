package journal

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Capital begins a sentence with a text; pH and its like stay as they are.
func Capital(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return ""
	}
	if next, _ := utf8.DecodeRuneInString(s[n:]); unicode.IsUpper(next) {
		return s
	}
	return string(unicode.ToUpper(first)) + s[n:]
}

// Count writes "1 session", "3 sessions", "2 batches" or "4 people".
func Count(n int, what string) string {
	switch {
	case n == 1:
		return "1 " + what
	case what == "person":
		what = "people"
	case strings.HasSuffix(what, "y") && what != "day":
		what = strings.TrimSuffix(what, "y") + "ies"
	case strings.HasSuffix(what, "ch"):
		what += "es"
	default:
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}
