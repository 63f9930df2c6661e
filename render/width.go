package render

import (
	"regexp"
	"strings"
	"sync"
	"unicode/utf8"

	"github.com/mattn/go-runewidth"
)

// Width is the number of terminal columns that a text without colour takes (Unicode Standard Annex 11;
// ambiguous characters count one, whatever the locale, so that output does not depend on it).
func Width(s string) int {
	if printableASCII(s) {
		return len(s)
	}
	return (&runewidth.Condition{StrictEmojiNeutral: true}).StringWidth(s)
}

// printableASCII reports whether every byte is a character of one column.
func printableASCII(s string) bool {
	for i := 0; i < len(s); i++ {
		if s[i] < 0x20 || s[i] >= 0x7f {
			return false
		}
	}
	return true
}

// runeColumns is the width of a single character, tabs excluded.
func runeColumns(r rune) int {
	return (&runewidth.Condition{StrictEmojiNeutral: true}).RuneWidth(r)
}

// pad fills a text with blanks to a width in columns; a wider text stays whole.
func pad(s string, width int, right bool) string {
	fill := strings.Repeat(" ", max(0, width-Width(s)))
	if right {
		return fill + s
	}
	return s + fill
}

// Wrap cleans a text and breaks its lines at blanks so that none is wider than width columns (at least 8). Lines that fit
// stay as they are, continued ones keep the indentation of the first. Wide characters may be parted from each other; a word
// that alone is too long is broken, for cutting it would lose something. Tabs become four blanks.
func Wrap(s string, width int) string {
	if len(s) <= max(width, 8) && printableASCII(s) {
		return strings.TrimRight(s, " ")
	}
	return fold(strings.ReplaceAll(Clean(s), "\t", "    "), max(width, 8))
}

// glyph is a character with the marks that stand on it, its width in columns, and the colour sequences in force.
type glyph struct {
	text, colour string
	columns      int
}

func (g glyph) blank() bool { return g.text == " " }

// glyphs takes a line apart; colour sequences cost no width and are remembered with each character.
func glyphs(line string) []glyph {
	var out []glyph
	colour := ""
	for len(line) > 0 {
		if n := colourSequence(line); n > 0 {
			colour += line[:n]
			if sequence := line[:n]; sequence == "\x1b[0m" {
				colour = ""
			}
			line = line[n:]
			continue
		}
		r, n := utf8.DecodeRuneInString(line)
		columns := runeColumns(r)
		if columns == 0 && len(out) > 0 {
			out[len(out)-1].text += line[:n]
		} else {
			out = append(out, glyph{line[:n], colour, columns})
		}
		line = line[n:]
	}
	return out
}

// join writes glyphs with as few colour sequences as can be; the line ends without colour and without blanks.
func join(line []glyph) string {
	for len(line) > 0 && line[len(line)-1].blank() {
		line = line[:len(line)-1]
	}
	var b strings.Builder
	colour := ""
	for _, g := range line {
		if g.colour != colour {
			if colour != "" {
				b.WriteString("\x1b[0m")
			}
			b.WriteString(g.colour)
			colour = g.colour
		}
		b.WriteString(g.text)
	}
	if colour != "" {
		b.WriteString("\x1b[0m")
	}
	return b.String()
}

// hanging matches what continued lines leave room for: blanks, the bars of quotes, and the mark of a list item.
var hanging = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^(?:[ │]*)(?:- \[[ x]\] |- |\d{1,4}\. |[#]{1,6} )?`)
})

// fold breaks every line of a clean text that is wider than width. A line may hold colour sequences.
func fold(s string, width int) string {
	lines := strings.Split(s, "\n")
	var out []string
	for _, line := range lines {
		rest := glyphs(line)
		start := hanging().FindString(plain(rest))
		indent := glyphs(strings.Map(func(r rune) rune {
			if r == '│' {
				return r
			}
			return ' '
		}, start))
		if len(indent) > width/2 {
			indent = nil
		}
		n := cut(rest, width, len(indent))
		out = append(out, join(rest[:n]))
		for rest = rest[n:]; len(rest) > 0; rest = rest[n:] {
			for len(rest) > 1 && rest[0].blank() {
				rest = rest[1:]
			}
			n = cut(rest, width-len(indent), 0)
			out = append(out, join(append(indent[:len(indent):len(indent)], rest[:n]...)))
		}
	}
	return strings.Join(out, "\n")
}

func plain(line []glyph) string {
	var b strings.Builder
	for _, g := range line {
		b.WriteString(g.text)
	}
	return b.String()
}

// cut tells how many glyphs go on the first line. The first keep glyphs are indentation, after which no line ends.
func cut(line []glyph, width, keep int) int {
	used, last := 0, 0
	for i, g := range line {
		if i > keep && (line[i-1].blank() || g.columns == 2 && line[i-1].columns == 2) {
			last = i
		}
		if used += g.columns; used > width && !g.blank() {
			if last == 0 {
				last = max(i, keep+1)
			}
			return last
		}
	}
	return len(line)
}
