package render

import (
	"io"
	"math"
	"strconv"
	"strings"

	"golang.org/x/term"
)

// State is what a value is besides its number. Every state has a mark as well as a colour, since colour alone is lost
// in a pipe, on paper and to some eyes.
type State int

// The states of a cell or point.
const (
	Plain    State = iota
	Over           // above a limit
	Under          // below a limit
	Doubtful       // not to be relied on
	Heading
	Dim
	Error
	Warning
	Info
	Bold
)

// Style is how one state looks: the parameters of an SGR sequence, the mark beside the text, and what the mark means.
type Style struct{ SGR, Mark, Meaning string }

// Theme holds one style for each state. Dark says for which background it was chosen.
type Theme struct {
	Dark                                                            bool
	Over, Under, Doubtful, Heading, Dim, Error, Warning, Info, Bold Style
}

// ThemeFor gives the house colours for a dark or a light background. They are of the 16-colour set, so that a
// person's own palette applies; the bright half of it reads better on dark.
func ThemeFor(dark bool) Theme {
	colour := func(n int) string {
		if dark {
			n += 60
		}
		return strconv.Itoa(n)
	}
	return Theme{
		Dark:     dark,
		Over:     Style{colour(35), ">", "over"},
		Under:    Style{colour(36), "<", "under"},
		Doubtful: Style{"2", "?", "doubtful"},
		Heading:  Style{SGR: "1"},
		Dim:      Style{SGR: "2"},
		Error:    Style{colour(31), "!", "error"},
		Warning:  Style{colour(33), "~", "warning"},
		Info:     Style{colour(34), "i", "information"},
		Bold:     Style{SGR: "1"},
	}
}

// Style gives the style of a state.
func (t Theme) Style(s State) Style {
	switch s {
	case Over:
		return t.Over
	case Under:
		return t.Under
	case Doubtful:
		return t.Doubtful
	case Heading:
		return t.Heading
	case Dim:
		return t.Dim
	case Error:
		return t.Error
	case Warning:
		return t.Warning
	case Info:
		return t.Info
	case Bold:
		return t.Bold
	}
	return Style{}
}

// Output is where text goes and what it may look like there. Width is in columns; [Unbounded] lets no line be broken.
type Output struct {
	W      io.Writer
	Width  int
	Colour bool
	Person bool // a terminal, so probably somebody watching
	Theme  Theme
}

// The bounds of the width: below 40 nothing is legible, above 200 the eye loses the line.
const (
	minWidth, defaultWidth, maxWidth = 40, 80, 200
)

// Detect finds out about a writer without ever asking the terminal, which could answer late or not at all.
// colour is "always", "never" or "auto" (anything else counts as auto); auto means colour on a terminal unless NO_COLOR is set and
// not empty or TERM is "dumb". The width is COLUMNS, else the terminal's own, else 80, held within 40 to 200.
// COLORFGBG decides between the dark and the light theme; without it the background is taken for dark.
func Detect(w io.Writer, env func(string) string, colour string) Output {
	o := Output{W: w, Width: defaultWidth, Theme: ThemeFor(darkBackground(env("COLORFGBG")))}
	file, isFile := w.(interface{ Fd() uintptr })
	o.Person = isFile && term.IsTerminal(int(file.Fd()))
	if n, err := strconv.Atoi(env("COLUMNS")); err == nil && n > 0 {
		o.Width = n
	} else if o.Person {
		if n, _, err := term.GetSize(int(file.Fd())); err == nil && n > 0 {
			o.Width = n
		}
	}
	o.Width = o.width()
	switch colour {
	case "always":
		o.Colour = true
	case "never":
	default:
		o.Colour = o.Person && env("NO_COLOR") == "" && env("TERM") != "dumb"
	}
	return o
}

// darkBackground reads COLORFGBG, "foreground;background" or "foreground;default;background" in the numbers of the
// 16-colour set (set by several terminals; common practice, no source).
func darkBackground(value string) bool {
	fields := strings.Split(value, ";")
	n, err := strconv.Atoi(fields[len(fields)-1])
	return err != nil || len(fields) < 2 || n < 7 || n == 8
}

// Unbounded is the width of an output where lines may be as long as they like: a pipe into another program.
const Unbounded = math.MaxInt32

// width guards against an Output that was filled in by hand.
func (o Output) width() int {
	switch o.Width {
	case 0:
		return defaultWidth
	case Unbounded:
		return Unbounded
	}
	return min(max(o.Width, minWidth), maxWidth)
}

// Paint colours a text that has been cleaned before, where colour is on.
func (o Output) Paint(s State, text string) string {
	style := o.Theme.Style(s)
	if !o.Colour || style.SGR == "" || text == "" {
		return text
	}
	return "\x1b[" + style.SGR + "m" + text + "\x1b[0m"
}

// Print writes a text through the gate. Where no person watches, a line that a build service would take for one of
// its commands ("::error::", "##[group]") gets a bar in front, for it can only have come from somebody's data.
func (o Output) Print(s string) error {
	s = Gate(s, o.Colour)
	if !o.Person && (strings.Contains(s, "::") || strings.Contains(s, "##[")) {
		lines := strings.Split(s, "\n")
		for i, line := range lines {
			if text := strings.TrimLeft(line, " "); strings.HasPrefix(text, "::") || strings.HasPrefix(text, "##[") {
				lines[i] = "| " + line
			}
		}
		s = strings.Join(lines, "\n")
	}
	_, err := io.WriteString(o.W, s)
	return err
}
