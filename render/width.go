package render

import (
	"strings"

	"github.com/mattn/go-runewidth"
)

// Width is the number of terminal columns that a text without colour takes (Unicode Standard Annex 11;
// ambiguous characters count one, whatever the locale, so that output does not depend on it).
func Width(s string) int {
	return (&runewidth.Condition{StrictEmojiNeutral: true}).StringWidth(s)
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

// Wrap cleans a text and breaks its lines at blanks so that none is wider than width columns. Lines that fit stay as
// they are, continued ones keep the indentation of the first. Wide characters may be parted from each other; a word
// that alone is too long is broken, for cutting it would lose something. Tabs become four blanks.
func Wrap(s string, width int) string {
	width = max(width, 8)
	lines := strings.Split(strings.ReplaceAll(Clean(s), "\t", "    "), "\n")
	var out []string
	for _, line := range lines {
		line = strings.TrimRight(line, " ")
		if Width(line) <= width {
			out = append(out, line)
			continue
		}
		text := strings.TrimLeft(line, " ")
		indent := strings.Repeat(" ", min(len(line)-len(text), width/2))
		out = append(out, fold(text, width-len(indent), indent)...)
	}
	return strings.Join(out, "\n")
}

// fold breaks one line; every line of the result starts with indent.
func fold(text string, width int, indent string) []string {
	var out []string
	line, used := "", 0
	flush := func() {
		if line != "" {
			out = append(out, indent+line)
		}
		line, used = "", 0
	}
	for word := range strings.SplitSeq(text, " ") {
		if word == "" {
			continue
		}
		for n, piece := range pieces(word, width) {
			columns, gap := Width(piece), 0
			if n == 0 && line != "" {
				gap = 1
			}
			if used+gap+columns > width {
				flush()
				gap = 0
			}
			line += strings.Repeat(" ", gap) + piece
			used += gap + columns
		}
	}
	flush()
	return out
}

// pieces parts a word where a line may end inside it: between wide characters, and anywhere in a word longer than
// the line. Marks without width stay with the character before them.
func pieces(word string, width int) []string {
	total := Width(word)
	var out []string
	start, used, lastWide := 0, 0, false
	for i, r := range word {
		w := runeColumns(r)
		wide := w == 2
		if i > start && w > 0 && (wide && lastWide || total > width && used+w > width) {
			out = append(out, word[start:i])
			start, used = i, 0
		}
		used += w
		if w > 0 {
			lastWide = wide
		}
	}
	return append(out, word[start:])
}
