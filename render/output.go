package render

import (
	"errors"
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
	Typed    // a command to type
	Within   // inside the limit
	Unjudged // no limit applies
)

// Style is how one state looks: the parameters of an SGR sequence, the mark beside the text, and what the mark means.
type Style struct{ SGR, Mark, Meaning string }

// styles are the house colours: few, of the 16-colour set, so that a person's own palette applies, and readable on a white and
// on a black ground alike. In the palettes that terminals start with only magenta has 4.5:1 and more on both (WCAG 2.2, 1.4.3).
var styles = [...]Style{
	Over:     {"1;35", "●", "over"},
	Under:    {"1;35", "●", "under"},
	Doubtful: {"35", "◐", "inconclusive"},
	Heading:  {SGR: "1"},
	Dim:      {SGR: "2"},
	Error:    {"1;35", "!", "error"},
	Warning:  {"35", "~", "warning"},
	Info:     {"", "i", "information"},
	Bold:     {SGR: "1"},
	Typed:    {SGR: "4"},
	Within:   {"", "○", "within"},
	Unjudged: {"", "·", "no limit"},
}

// Style gives the style of a state.
func (s State) Style() Style {
	if int(s) >= len(styles) || s < 0 {
		return Style{}
	}
	return styles[s]
}

// Output is where text goes and what it may look like there. Width is in columns; [Unbounded] lets no line be broken.
type Output struct {
	W      io.Writer
	Width  int
	Colour bool
	Person bool // a terminal, so probably somebody watching
	ASCII  bool // no characters but those of every terminal

	also []Output // screens of other widths that show the same
}

// Screens is a writer that wants the same on screens of other widths, each with a writer of its own.
type Screens interface{ Screens() map[int]io.Writer }

// The bounds of the width: below 40 nothing is legible, above 200 the eye loses the line.
const (
	minWidth, defaultWidth, maxWidth = 40, 80, 200
)

// Detect finds out about a writer without ever asking the terminal, which could answer late or not at all.
// colour is "always", "never" or "auto" (anything else counts as auto); auto means colour on a terminal unless NO_COLOR is set and
// not empty or TERM is "dumb". The width is COLUMNS, else the terminal's own, else 80, held within 40 to 200.
// ASCII is for TERM=dumb and for a locale that is set and is not of UTF-8 (POSIX.1-2024, 8.2: LC_ALL before LC_CTYPE before LANG).
func Detect(w io.Writer, env func(string) string, colour string) (o Output) {
	o = Output{W: w, Width: defaultWidth, ASCII: env("TERM") == "dumb" || !utf8Locale(env)}
	file, isFile := w.(interface{ Fd() uintptr })
	o.Person = isFile && term.IsTerminal(int(file.Fd()))
	if w, ok := w.(interface{ Terminal() bool }); ok { // what shows itself to a person, or a test of what they see
		o.Person = w.Terminal()
	}
	if n, err := strconv.Atoi(env("COLUMNS")); err == nil && n > 0 {
		o.Width = n
	} else if o.Person && isFile {
		if n, _, err := term.GetSize(int(file.Fd())); err == nil && n > 0 {
			o.Width = n
		}
	}
	o.Width = o.width()
	defer func() {
		if s, ok := w.(Screens); ok {
			for width, w := range s.Screens() {
				other := o
				other.W, other.Width, other.also = w, width, nil
				o.also = append(o.also, other)
			}
		}
	}()
	switch colour {
	case "always":
		o.Colour = true
	case "never":
	default:
		o.Colour = o.Person && env("NO_COLOR") == "" && env("TERM") != "dumb"
	}
	return o
}

// utf8Locale reports whether the locale is of UTF-8; one that is not set is taken for it.
func utf8Locale(env func(string) string) bool {
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if v := strings.ToUpper(env(name)); v != "" {
			return strings.HasSuffix(v, "UTF-8") || strings.HasSuffix(v, "UTF8") || strings.Contains(v, "UTF-8@")
		}
	}
	return true
}

// Unbounded is the width of an output where lines may be as long as they like: a pipe into another program.
const Unbounded = math.MaxInt32

// Plain is the output without colour and with the characters of every terminal alone.
func (o Output) Plain() Output {
	o.Colour, o.ASCII = false, true
	return o
}

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
	style := s.Style()
	if !o.Colour || style.SGR == "" || text == "" {
		return text
	}
	return "\x1b[" + style.SGR + "m" + text + "\x1b[0m"
}

// Fit folds the lines of a cleaned text between words where a person reads it: a terminal would break them anywhere. For a program
// they stay whole.
func (o Output) Fit(s string) string {
	if !o.Person || o.Width == Unbounded {
		return s
	}
	return fold(s, o.width())
}

// Show prints what draw makes for the output, and for each of its [Screens].
func (o Output) Show(draw func(Output) string) error {
	err := o.Print(draw(o))
	for _, other := range o.also {
		err = errors.Join(err, other.Print(draw(other)))
	}
	return err
}

// Write gives the output, and each of its screens, bytes as they are.
func (o Output) Write(b []byte) (int, error) {
	for _, other := range o.also {
		_, _ = other.W.Write(b)
	}
	return o.W.Write(b)
}

// Print writes a text through the gate. Where no person watches, a line that a build service would take for one of
// its commands ("::error::", "##[group]") gets a bar in front, for it can only have come from somebody's data.
func (o Output) Print(s string) error {
	s = o.Fit(Gate(s, o.Colour))
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
