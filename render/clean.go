// Package render draws what people see: terminal text, tables, findings, charts, Markdown, HTML, CSV and JSON.
// It knows neither the journal nor the water; it draws the strings and numbers it is given, and it is the one place
// where text from outside is made harmless before it reaches a terminal, a browser or a spreadsheet.
//
//	d := render.Document{Title: "Town main, 11 March 2026"}
//	d.Answer("Sulfate is over the site's own limit.")
//	out := render.Detect(os.Stdout, os.Getenv, "auto")
//	err := out.Print(out.Document(d))
package render

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// replacement stands visibly for everything that is taken out.
const replacement = unicode.ReplacementChar

// safe reports whether a character may be shown as it is. unicode.IsGraphic leaves out the categories
// Cc, Cf, Cs, Co, Cn, Zl and Zp, that is controls, format and bidi characters, private use and unassigned ones.
// The default-ignorable letters and marks are invisible although they count as graphic
// (Unicode Standard Annex 44, DerivedCoreProperties), so they could hide text.
func safe(r rune) bool {
	if r < 0x7f {
		return r >= 0x20
	}
	if !unicode.IsGraphic(r) || unicode.Is(unicode.Other_Default_Ignorable_Code_Point, r) {
		return false
	}
	emojiOrTextForm := r == 0xfe0e || r == 0xfe0f
	return emojiOrTextForm || !unicode.Is(unicode.Variation_Selector, r)
}

// Clean makes text of several lines harmless. Invalid UTF-8, controls (C0, DEL, C1), bidi controls, format
// characters and invisible letters each become one U+FFFD; line feeds and tabs stay; CRLF becomes LF.
// Apart from CRLF the number of characters does not change, so positions in the source stay true.
func Clean(s string) string {
	if plainASCII(s) {
		return s
	}
	s = strings.ReplaceAll(s, "\r\n", "\n")
	return strings.Map(func(r rune) rune {
		if r == '\n' || r == '\t' || safe(r) {
			return r
		}
		return replacement
	}, s)
}

// plainASCII is the shortcut for nearly every string of a journal.
func plainASCII(s string) bool {
	for i := 0; i < len(s); i++ {
		if c := s[i]; (c < 0x20 && c != '\n' && c != '\t') || c >= 0x7f {
			return false
		}
	}
	return true
}

// Line makes text harmless and keeps it on one line: as Clean, and a line feed becomes ⏎ and a tab a blank.
// Names, paths, messages and table cells pass through it.
func Line(s string) string {
	s = Clean(s)
	if !strings.ContainsAny(s, "\n\t") {
		return s
	}
	return strings.NewReplacer("\n", "⏎", "\t", " ").Replace(strings.TrimRight(s, "\n"))
}

// Gate is the last door before a terminal: it lets printable characters, line feeds and, where colour is allowed,
// the plain colour sequences (SGR) of this package through. A tab becomes a blank, anything else one U+FFFD.
// Concealed and blinking text and every background colour are refused too, for they can hide what is written.
func Gate(s string, colour bool) string {
	if plainASCII(s) && !strings.Contains(s, "\t") {
		return s
	}
	var b strings.Builder
	b.Grow(len(s))
	for len(s) > 0 {
		if n := colourSequence(s); colour && n > 0 {
			b.WriteString(s[:n])
			s = s[n:]
			continue
		}
		r, n := utf8.DecodeRuneInString(s)
		s = s[n:]
		switch {
		case r == '\n' || safe(r):
			b.WriteRune(r)
		case r == '\t':
			b.WriteByte(' ')
		default:
			b.WriteRune(replacement)
		}
	}
	return b.String()
}

// colourSequence gives the length of an allowed SGR sequence at the start of s, or 0 (ECMA-48:1991, 8.3.117).
// Allowed are reset, bold, faint, italic, underline and crossed out with their ends, and foreground colours
// of the 16- and 256-colour sets.
func colourSequence(s string) int {
	if len(s) < 3 || s[0] != 0x1b || s[1] != '[' {
		return 0
	}
	end := 2
	for end < len(s) && (s[end] == ';' || s[end] >= '0' && s[end] <= '9') {
		end++
	}
	if end == len(s) || s[end] != 'm' || end > 32 {
		return 0
	}
	parameters := strings.Split(s[2:end], ";")
	for i := 0; i < len(parameters); i++ {
		n, err := strconv.Atoi(parameters[i])
		switch {
		case err != nil || len(parameters[i]) > 1 && parameters[i][0] == '0': // 08 is concealed to some
			return 0
		case n <= 4, n == 9, n >= 22 && n <= 24, n == 29, n >= 30 && n <= 37, n == 39, n >= 90 && n <= 97:
		case n == 38 && i+2 < len(parameters) && parameters[i+1] == "5":
			if index, err := strconv.Atoi(parameters[i+2]); err != nil || index > 255 {
				return 0
			}
			i += 2
		default:
			return 0
		}
	}
	return end + 1
}
