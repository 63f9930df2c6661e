package render

import (
	"encoding/json"
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func sampleDocument() Document {
	d := Document{Title: "North well, 15 September 2026"}
	d.Answer("Sulfate is likely over the own limit of 300 mg/L; the rest is as usual.")
	d.Table("", Table{Columns: []Column{{}, {Head: "reading"}, {Head: "result", Right: true}, {Head: "unit"}}, Rows: [][]Cell{
		{{Text: "◐", State: Plain}, {Text: "sulfate"}, {Text: "318 ± 35"}, {Text: "mg/L"}}, {{Text: "○"}, {Text: "pH"}, {Text: "7.20 ± 0.16"}, {}}}})
	d.Fact("derived", "calcium %s · magnesium %s", "172 ± 11", "30 ± 11")
	d.List("lots", []string{"SU-2604", "CL-2604"})
	d.Command("more", "67 results since Oct 2023", "wj chart sulfate north-well")
	d.Items("Findings", []string{"none but those that were silenced with a reason that goes on for longer than a line of the screen"})
	d.Passage("Notes", "*318*. <b>The dose</b> of June would land at 206 with it.")
	return d
}

// TestDocumentWidth holds every line to the width and every word to its line.
func TestDocumentWidth(t *testing.T) {
	for _, width := range []int{40, 80, 120} {
		for _, ascii := range []bool{false, true} {
			text := Output{Width: width, ASCII: ascii}.Document(sampleDocument())
			for line := range strings.SplitSeq(text, "\n") {
				if Width(line) > width {
					t.Errorf("%d columns at %d: %q", Width(line), width, line)
				}
			}
			if ascii && !printableASCII(strings.ReplaceAll(text, "\n", "")) {
				t.Errorf("not ASCII:\n%s", text)
			}
			for _, whole := range []string{"wj chart sulfate north-well", "since Oct 2023"} {
				if !strings.Contains(text, whole) {
					t.Errorf("%q is broken at %d:\n%s", whole, width, text)
				}
			}
		}
	}
	if text := (Output{Width: 80}).Document(sampleDocument()); !strings.Contains(text, "172 ± 11 · magnesium 30 ± 11") {
		t.Error(text)
	}
}

// TestDocumentForms finds the same statements in every form, and no markup of the text's own.
func TestDocumentForms(t *testing.T) {
	d := sampleDocument()
	for name, text := range map[string]string{"terminal": Output{Width: 80}.Document(d), "markdown": d.Markdown(), "html": d.Page()} {
		for _, want := range []string{"North well, 15 September 2026", "Sulfate is likely over", "318", "172", "SU-2604", "wj chart sulfate north-well", "The dose"} {
			if !strings.Contains(text, want) {
				t.Errorf("%s lacks %q:\n%s", name, want, text)
			}
		}
		if name != "terminal" && strings.Contains(text, "<b>") {
			t.Errorf("%s takes markup from a record", name)
		}
	}
}

// TestFoldKeepsWords folds any text: no word is lost or cut, and only a single word is longer than the width.
func TestFoldKeepsWords(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`([a-zä±·0-9]{0,6} ){0,30}`).Draw(t, "text")
		width := rapid.IntRange(8, 60).Draw(t, "width")
		out := foldWords(text, width, 2)
		if strings.Join(strings.Fields(out), " ") != strings.Join(strings.Fields(text), " ") {
			t.Fatalf("%q became %q", text, out)
		}
		for line := range strings.SplitSeq(out, "\n") {
			if Width(line) > width && strings.Contains(line, " ") {
				t.Fatalf("%q is wider than %d", line, width)
			}
		}
	})
}

// TestJSONInLogs: a text that a build service would take for a command leaves valid JSON, by both encoders, after the gate too.
func TestJSONInLogs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.SampledFrom([]string{"##[group]", "x ##vso[task]", "::error::", "###[", "\u202e##[", "a", "\x00"}).Draw(t, "a") + rapid.String().Draw(t, "b")
		old, err := JSON(Object{{Name: "t", Value: text}})
		if err != nil {
			t.Fatal(err)
		}
		typed, err := Encode(struct {
			T string `json:"t"`
		}{text})
		if err != nil {
			t.Fatal(err)
		}
		for _, out := range []string{old, typed} {
			var back struct{ T string }
			if err := json.Unmarshal([]byte(Inert(Gate(out, false))), &back); err != nil || back.T != strings.ToValidUTF8(text, "\ufffd") {
				t.Fatalf("%q became %s: %v", text, out, err)
			}
		}
	})
}

// TestPalette measures the page's colours: text at least 4.5:1 and marks at least 3:1 on the grounds that they are used on (WCAG 2.2,
// 1.4.3 and 1.4.11), in light, dark and print.
func TestPalette(t *testing.T) {
	light, dark, printed := map[string]string{}, map[string]string{}, map[string]string{}
	for _, c := range palette {
		light["--"+c.name], dark["--"+c.name], printed["--"+c.name] = c.light, c.dark, c.print
	}
	for name, c := range map[string]map[string]string{"light": light, "dark": dark, "print": printed} {
		for _, ground := range []string{"--paper", "--panel"} {
			for colour, least := range map[string]float64{"--ink": 4.5, "--soft": 4.5, "--link": 4.5, "--over": 4.5, "--unsure": 4.5, "--mark": 3, "--edge": 3, "--s1": 3, "--s2": 3, "--s3": 3, "--s4": 3, "--s5": 3, "--s6": 3} {
				if got := contrast(t, c[colour], c[ground]); got < least {
					t.Errorf("%s: %s on %s is %.2f:1, less than %.1f", name, colour, ground, got, least)
				}
			}
		}
	}
}

// contrast is the ratio of the relative luminances of two colours (WCAG 2.2, definitions).
func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	luminance := func(hex string) float64 {
		hex = strings.TrimPrefix(hex, "#")
		if len(hex) == 3 {
			hex = string([]byte{hex[0], hex[0], hex[1], hex[1], hex[2], hex[2]})
		}
		sum := 0.0
		for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
			n, err := strconv.ParseUint(hex[2*i:2*i+2], 16, 8)
			if err != nil {
				t.Fatalf("%q: %v", hex, err)
			}
			c := float64(n) / 255
			if c <= 0.04045 {
				c /= 12.92
			} else {
				c = math.Pow((c+0.055)/1.055, 2.4)
			}
			sum += weight * c
		}
		return sum
	}
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}
