package screen

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wj/journal"
	"wj/journal/bench"
	"wj/render"
	"wj/water"
)

// TestKeysFromTerminal reads what terminals send: xterm's control sequences
// (ECMA-48) mean nothing here, a character may come in two pieces.
func TestKeysFromTerminal(t *testing.T) {
	text := func(in []bench.Input) string {
		var b strings.Builder
		for _, i := range in {
			switch i.Key {
			case bench.Enter:
				b.WriteString("⏎")
			case bench.Backspace:
				b.WriteString("⌫")
			case bench.Clear:
				b.WriteString("␡")
			case leaveKey:
				b.WriteString("✗")
			default:
				b.WriteRune(i.Rune)
			}
		}
		return b.String()
	}
	for _, c := range []struct{ sent, want, rest string }{
		{"7.4\r", "7.4⏎", ""}, {"\x1b[A7\x1b[1;5C8\x1bOP9", "789", ""}, {"\x7f\x08\x03", "⌫⌫✗", ""},
		{"8\x159", "8␡9", ""}, {"µ", "µ", ""}, {"7\xc2", "7", "\xc2"}, {"\xff7", "7", ""}, {"\x1b", "", ""}, {"\x1b[200~84\x1b[201~", "84", ""},
	} {
		got, rest := parseKeys([]byte(c.sent))
		if text(got) != c.want || string(rest) != c.rest {
			t.Errorf("%q: %q and %q left", c.sent, text(got), rest)
		}
	}
}

var colours = regexp.MustCompile("\x1b\\[[0-9;]*m")

// TestScreenFits draws whatever state keys can lead to: no line is wider than
// the terminal, all fit its height, and the keys are always in sight.
func TestScreenFits(t *testing.T) {
	long := strings.Repeat("a long step that goes on and on and tells everything twice, ", 3)
	p := bench.Plan{Name: "A site with quite a long name, tap in the cellar 水", By: "ines", Taps: []bench.Tap{{Site: "a", Name: "A"}}, Tests: []bench.Test{
		{Analyte: water.Sulfate, NeedsLot: true, MethodName: "Sulfate", Caution: "Barium is poisonous: gloves", Units: []water.Unit{water.MilligramLitre},
			Lots:  []bench.Lot{{ID: "SU-1", Text: "expires 2027-01-31, 10 of 50 left"}},
			Steps: []journal.Step{{Do: long}, {Do: "stir", Mix: 20 * time.Second, Wait: time.Minute}, {Do: long}, {Do: "read"}}},
		{Analyte: water.PHValue},
	}}
	a := &Screen{Out: render.Detect(&bytes.Buffer{}, func(string) string { return "" }, "always")}
	judge := func(*bench.State) []bench.Doubt {
		return []bench.Doubt{{Message: long, Help: long}, {Message: "short"}, {Message: long}, {Message: long}}
	}
	rapid.Check(t, func(t *rapid.T) {
		now := time.Date(2026, 3, 4, 12, 0, 0, 0, time.UTC)
		m := &bench.Machine{Plan: p, State: bench.Begin(p, now), Judge: judge}
		width, height := rapid.SampledFrom([]int{40, 60, 80, 200}).Draw(t, "width"), rapid.SampledFrom([]int{12, 20, 24, 60}).Draw(t, "height")
		for _, r := range rapid.StringMatching(`[⏎⏎⏎⏎0-9><bslkrdnt?, .x水]{0,60}`).Draw(t, "keys") {
			in := bench.Input{Key: bench.Rune, Rune: r}
			if r == '⏎' {
				in = bench.Input{Key: bench.Enter}
			}
			m.Handle(in, now)
			v := m.View(now)
			lines, row, column, _ := a.draw(v, width, height, rapid.IntRange(0, 40).Draw(t, "skip"))
			if len(lines) > height {
				t.Fatalf("%d lines on %d", len(lines), height)
			}
			for _, l := range lines {
				if w := render.Width(colours.ReplaceAllString(l, "")); w >= width {
					t.Fatalf("%d columns of %d: %q", w, width, l)
				}
			}
			if row >= len(lines) || column >= width {
				t.Fatalf("the cursor is at %d, %d", row, column)
			}
			if last := v.Keys[len(v.Keys)-1]; !strings.Contains(lines[len(lines)-1], last.Does) {
				t.Fatalf("the keys are not in sight: %q", lines[len(lines)-1])
			}
		}
	})
}

// TestScreenPages leafs through what does not fit: every line comes in sight, and
// after the last the first.
func TestScreenPages(t *testing.T) {
	a := &Screen{Out: render.Detect(&bytes.Buffer{}, func(string) string { return "" }, "never")}
	v := bench.View{Where: "North well", Focus: -1, Keys: []bench.KeyHelp{{Key: "enter", Does: "keep"}}}
	for i := range 30 {
		v.Lines = append(v.Lines, bench.Line{Text: fmt.Sprintf("line %02d.", i)})
	}
	skip, seen, first := 0, "", ""
	for range 8 {
		lines, _, _, more := a.draw(v, 40, 14, skip)
		text := strings.Join(lines, "\n")
		if first == "" {
			first = text
		}
		if seen != "" && text == first {
			seen += "round"
			break
		}
		seen += text
		skip += more
	}
	for i := range 30 {
		if line := fmt.Sprintf("line %02d.", i); !strings.Contains(seen, line) {
			t.Errorf("%q never came in sight", line)
		}
	}
	if !strings.HasSuffix(seen, "round") || !strings.Contains(first, "more lines: space") {
		t.Errorf("not round, or not told:\n%s", seen)
	}
	v.Ask = "note" // a blank is typed then
	if _, _, _, more := a.draw(v, 40, 14, 0); more != 0 {
		t.Error("space leafs although it is typed")
	}
}
