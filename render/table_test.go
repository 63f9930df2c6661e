package render

import (
	"flag"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/extension"
	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares with a file that a person has looked at.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name+".golden")
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if string(want) != got {
		t.Errorf("%s differs; got:\n%s", path, got)
	}
}

func sampleTable() Table {
	return Table{
		Columns: []Column{{Head: "session"}, {Head: "pH", Right: true}, {Head: "alkalinity", Unit: "mg/L CaCO3", Right: true}, {Head: "calcium_hardness", Unit: "mg/L CaCO3", Right: true}, {Head: "sulfate", Unit: "mg/L", Right: true}, {Head: "note", Wrap: true}},
		Rows: [][]Cell{
			{{Text: "2024-01-15-town-main"}, {Text: "7.6"}, {Text: "54"}, {Text: "53"}, {Text: "22.5 ± 5.2"}, {Text: "winter water, first bottle discarded"}},
			{{Text: "2026-06-09-north-well"}, {Text: "7.25"}, {Text: "246"}, {Text: "418"}, {Text: "306 ± 34", State: Over}, {Text: "氯化物 chloride ✅ e\u0301"}},
			{{Text: "2026-06-09-ro-permeate"}, {Text: "6.1", State: Doubtful}, {Text: "<10"}, {Text: "-"}, {Text: "<2", State: Under}},
		},
		Notes: []string{"an invented table"},
	}
}

const sampleNote = "# Second strip & first\n\nSecond sulfate strip after the *first* ran past the **range**; sample cut 1:1 with distilled water, AT&T &copy; `a \\_ &amp;`, see [the slip](attachments/slip.jpg), [bad](javascript:alert(1)) and <https://example.org/?a=1&b=2>. ![photo](p.jpg)\n\n1. one thing that is rather long and so has to be folded at a narrow terminal\n2. two\n   - nested thing that is rather long and so has to be folded as well, I should think\n   - [x] done\n   - [ ] to do\n\n> a quote with <b>raw html</b> <!-- and a comment --> that goes on for a while\n>\n> | a | b |\n> |---|--:|\n> | 1 | 22 |\n\n```yaml\nreadings: {pH: 7.2}   # C:\\_x & y &amp; z\n\n\n\tafter two empty lines\n```\n\n| test | value | unit |\n|------|------:|------|\n| alkalinity *x* | 7.4 | dKH |\n| 氯化物 \\| [q](http://example.org) | 212.25 | `mg/L` |\n\n---\n\n~~gone~~ 氯化物氯化物氯化物氯化物氯化物氯化物氯化物氯化物氯化物氯化物氯化物氯化物氯化物氯化物氯化物 end\n"

func chartText(o Output, c Chart) string { return o.Drawing(c.Drawing(o.Width-8, 12), 12) }

func chartSVG(c Chart) string { return DrawingSVG(c.Drawing(88, 18)) }

func sampleChart() Chart {
	day := func(y, m, d int) time.Time { return time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC) }
	return Chart{
		Title: "north-well sulfate", Unit: "mg/L",
		Series: []Series{{"north-well", []Point{{At: day(2023, 10, 9), Value: 236, Low: 220, High: 252}, {At: day(2024, 10, 9), Value: 258}, {At: day(2025, 8, 19), Value: 228, State: Doubtful}, {At: day(2025, 10, 14), Value: 285}, {At: day(2026, 9, 1), Value: 318, State: Over}}}, {"ro-permeate", []Point{{At: day(2024, 2, 1), Value: 2, Bound: -1}, {At: day(2025, 2, 1), Value: 31}, {At: day(2026, 8, 1), Value: 300, Bound: 1}}}},
		Limits: []LimitLine{{"site limit", 300}, {"dose limit", 5000}},
	}
}

func TestGoldens(t *testing.T) {
	finding := Finding{Path: "sessions/2026/2026-03-04-north-well.md", Line: 12, Column: 14, Severity: "error", Rule: "reading/unit", Message: "chloride has no unit", Excerpt: Excerpt{Line: "  chloride:  {value: 21, lot: CL-2511, 氯化物, a long comment that runs on and on and on and on and on}", Width: 8}, Related: []Related{{"lots/CL-2511.md", 3, 1, "the lot"}}, Help: "write the unit that the meter showed, for example 21 mg/L; nothing is guessed"}
	for _, width := range []int{40, 80, 200} {
		for _, colour := range []bool{false, true} {
			o := Output{Width: width, Colour: colour, Person: true}
			note, err := o.Markdown(sampleNote)
			if err != nil {
				t.Fatal(err)
			}
			name := strconv.Itoa(width)
			if colour {
				name += "-colour"
			}
			out := o.Table(sampleTable()) + "\n" + note + "\n" + o.Finding(finding) + "\n" + chartText(o, sampleChart())
			golden(t, name, strings.ReplaceAll(out, "\x1b", "␛"))
			for line := range strings.SplitSeq(out, "\n") {
				if n := Width(plain(glyphs(line))); n > width && !strings.HasPrefix(plain(glyphs(line)), "sessions/") {
					t.Errorf("width %d: a line takes %d columns: %q", width, n, line)
				}
				if strings.HasSuffix(line, " ") {
					t.Errorf("width %d: blanks at the end of %q", width, line)
				}
			}
			if colour && stripped(out) != stripped(o.Table(sampleTable())+"\n"+note+"\n"+o.Finding(finding)+"\n"+chartText(o, sampleChart())) {
				t.Error("output changes from run to run")
			}
		}
	}
	golden(t, "table.md", MarkdownTable(sampleTable()))
	golden(t, "note.html", HTML(sampleNote))
	golden(t, "chart.svg", chartSVG(sampleChart()))
}

func stripped(s string) string {
	var lines []string
	for line := range strings.SplitSeq(s, "\n") {
		lines = append(lines, plain(glyphs(line)))
	}
	return strings.Join(lines, "\n")
}

// No number may be cut, at whatever width and with whatever neighbours.
func TestNumbersStayWhole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		columns, rows := rapid.IntRange(1, 9).Draw(t, "columns"), rapid.IntRange(1, 4).Draw(t, "rows")
		var table Table
		for range columns {
			table.Columns = append(table.Columns, Column{Head: rapid.StringMatching(`[a-z]{1,9}(_[a-z]{1,9}){0,2}`).Draw(t, "head"), Unit: "mg/L CaCO3", Right: rapid.Bool().Draw(t, "right"), Wrap: rapid.Bool().Draw(t, "wrap")})
		}
		var numbers []string
		for range rows {
			var row []Cell
			for range columns {
				text := rapid.StringMatching(`-?[0-9]{1,12}(\.[0-9]{1,4})?( ± [0-9]{1,3})?`).Draw(t, "number")
				numbers = append(numbers, text)
				row = append(row, Cell{Text: text, State: State(rapid.IntRange(0, 3).Draw(t, "state"))})
			}
			table.Rows = append(table.Rows, row)
		}
		width := rapid.IntRange(40, 200).Draw(t, "width")
		out := Output{Width: width}.Table(table)
		for _, n := range numbers {
			for _, part := range strings.Split(n, " ± ") {
				if !strings.Contains(out, part) {
					t.Fatalf("%s is missing at width %d:\n%s", part, width, out)
				}
			}
		}
		for line := range strings.SplitSeq(out, "\n") {
			if Width(line) > width {
				t.Fatalf("%d columns at width %d: %q", Width(line), width, line)
			}
		}
	})
}

func TestDecimalPointsAlign(t *testing.T) {
	out := Output{Width: 80}.Table(Table{Columns: []Column{{Head: "v", Right: true}}, Rows: [][]Cell{{{Text: "7.42"}}, {{Text: "118.5"}}, {{Text: "<5.125"}}}})
	at := map[int]bool{}
	for line := range strings.SplitSeq(out, "\n") {
		if i := strings.IndexByte(line, '.'); i >= 0 {
			at[i] = true
		}
	}
	if len(at) != 1 {
		t.Errorf("points stand in columns %v:\n%s", at, out)
	}
}

// The widths are those of Unicode Standard Annex 11 (W and F two columns, combining marks none).
func TestWidth(t *testing.T) {
	for s, want := range map[string]int{"abc": 3, "氯化物": 6, "ｱ": 1, "Ａ": 2, "e\u0301": 1, "✅": 2, "µ°±": 3, "": 0, "각": 2} {
		if got := Width(s); got != want {
			t.Errorf("Width(%q) = %d, want %d", s, got, want)
		}
	}
}

func TestWrapLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringOfN(rapid.RuneFrom([]rune("ab 7.氯é✅-\n")), 0, 120, -1).Draw(t, "text")
		width := rapid.IntRange(8, 40).Draw(t, "width")
		out := Wrap(s, width)
		squeeze := strings.NewReplacer(" ", "", "\n", "")
		if squeeze.Replace(out) != squeeze.Replace(s) {
			t.Fatalf("%q became %q", s, out)
		}
		for line := range strings.SplitSeq(out, "\n") {
			if Width(line) > width {
				t.Fatalf("%q is wider than %d", line, width)
			}
		}
	})
}

// A GitHub-flavoured parser (goldmark) must see one table with as many cells as we wrote, whatever they hold.
func TestMarkdownTableIsOneTable(t *testing.T) {
	parser := goldmark.New(goldmark.WithExtensions(extension.GFM))
	for _, h := range append(hostile, "a|b", "a\\|b", "`a|b`", "\\", "*x*", "_y_", "# h", "| |", "calcium_hardness") {
		var b strings.Builder
		md := MarkdownTable(Table{Columns: []Column{{Head: h}, {Head: "n", Right: true}}, Rows: [][]Cell{{{Text: h}, {Text: "<5", State: Over}}}})
		if err := parser.Convert([]byte(md), &b); err != nil {
			t.Fatal(err)
		}
		out := b.String()
		if strings.Count(out, "<table>") != 1 || strings.Count(out, "<td") != 2 || strings.Count(out, "<th") != 3 || strings.Contains(out, "<em>") || strings.Contains(out, "<code>") {
			t.Errorf("%q:\n%s\n%s", h, md, out)
		}
	}
}
