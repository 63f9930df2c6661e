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

// TestSeriesColourBlind asks whether the lines of a chart can be distinguished by who lacks one sort of cone: each colour as it is seen
// then (G. M. Machado, M. M. Oliveira and L. A. F. Fernandes, A Physiologically-based Model for Simulation of Color Vision
// Deficiency, IEEE TVCG 15 (2009) 1291, doi:10.1109/TVCG.2009.113, matrices for severity 1, on linear light), and the distance
// of each two of them in CIELAB (CIE 15:2004, ΔE*ab, D65). 2.3 is the smallest difference that is seen beside each other (Mahy,
// Van Eycken and Oosterlinck, Color Research & Application 19 (1994) 105); lines lie apart from their names, hence four times that.
func TestSeriesColourBlind(t *testing.T) {
	const least = 4 * 2.3
	sight := map[string][9]float64{
		"full":   {1, 0, 0, 0, 1, 0, 0, 0, 1},
		"protan": {0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998},
		"deutan": {0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.011820, 0.042940, 0.968881},
		"tritan": {1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602, 0.004733, 0.691367, 0.303900},
	}
	lab := func(hex string, m [9]float64) [3]float64 {
		c := linear(t, hex)
		var seen, f [3]float64
		for i := range seen {
			seen[i] = min(1, max(0, m[3*i]*c[0]+m[3*i+1]*c[1]+m[3*i+2]*c[2]))
		}
		// sRGB to XYZ over its white (IEC 61966-2-1).
		for i, row := range [3][4]float64{{0.4124, 0.3576, 0.1805, 0.9505}, {0.2126, 0.7152, 0.0722, 1}, {0.0193, 0.1192, 0.9505, 1.0890}} {
			x := (row[0]*seen[0] + row[1]*seen[1] + row[2]*seen[2]) / row[3]
			if f[i] = math.Cbrt(x); x <= 216.0/24389 {
				f[i] = (24389.0/27*x + 16) / 116
			}
		}
		return [3]float64{116*f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])}
	}
	for name, m := range sight {
		for i, a := range palette {
			for _, b := range palette[i+1:] {
				if !strings.HasPrefix(a.name, "s") || len(a.name) != 2 || !strings.HasPrefix(b.name, "s") || len(b.name) != 2 {
					continue
				}
				for on, two := range map[string][2]string{"light": {a.light, b.light}, "dark": {a.dark, b.dark}, "print": {a.print, b.print}} {
					x, y := lab(two[0], m), lab(two[1], m)
					if got := math.Hypot(math.Hypot(x[0]-y[0], x[1]-y[1]), x[2]-y[2]); got < least {
						t.Errorf("%s, %s sight: %s and %s differ by %.1f, less than %.1f", on, name, a.name, b.name, got, least)
					}
				}
			}
		}
	}
}

// linear is a colour of a screen as linear light: red, green, blue from 0 to 1 (IEC 61966-2-1).
func linear(t *testing.T, hex string) (out [3]float64) {
	t.Helper()
	hex = strings.TrimPrefix(hex, "#")
	if len(hex) == 3 {
		hex = string([]byte{hex[0], hex[0], hex[1], hex[1], hex[2], hex[2]})
	}
	for i := range out {
		n, err := strconv.ParseUint(hex[2*i:2*i+2], 16, 8)
		if err != nil {
			t.Fatalf("%q: %v", hex, err)
		}
		if out[i] = float64(n) / 255; out[i] <= 0.04045 {
			out[i] /= 12.92
		} else {
			out[i] = math.Pow((out[i]+0.055)/1.055, 2.4)
		}
	}
	return out
}

// contrast is the ratio of the relative luminances of two colours (WCAG 2.2, definitions).
func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	luminance := func(hex string) float64 {
		c := linear(t, hex)
		return 0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2]
	}
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}
