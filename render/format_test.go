package render

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"io"
	"math"
	"strings"
	"testing"
	"time"
)

// The dangerous first characters are those of the OWASP page "CSV Injection", with their full-width forms (U+FF0B, U+FF0D,
// U+FF1D, U+FF20). The bytes are RFC 4180, section 2.
func TestCSVFields(t *testing.T) {
	for in, want := range map[string]string{
		"12": `12`, "-12.50": `-12.50`, "+5": `+5`, "1e3": `1e3`, "": `""`, "ines": `"ines"`, `a"b`: `"a""b"`, "a,b": `"a,b"`, "a\nb": "\"a\r\nb\"", "<5": `"<5"`,
		"=1+1": `"'=1+1"`, "+cmd": `"'+cmd"`, "-cmd": `"'-cmd"`, "@sum": `"'@sum"`, "\t=1": "\"'\t=1\"", "\rx": "\"'\ufffdx\"", "＝1": `"'＝1"`, "＋1": `"'＋1"`, "－1": `"'－1"`, "＠a": `"'＠a"`, " =1": `"' =1"`,
		"-1-1": `"'-1-1"`, "007": `007`, "NaN": `"NaN"`, "7,5": `"7,5"`, "1e9999": `"1e9999"`, "\u200b=1": "\"'\ufffd=1\"",
	} {
		var b bytes.Buffer
		if err := CSV(&b, []string{"h"}, [][]string{{in}}); err != nil {
			t.Fatal(err)
		}
		if got := strings.TrimSuffix(strings.TrimPrefix(b.String(), "\"h\"\r\n"), "\r\n"); got != want {
			t.Errorf("field %q became %q, want %q", in, got, want)
		}
	}
	var b bytes.Buffer
	if err := CSV(&b, []string{"a", "b"}, [][]string{{"1", "2"}, {"3"}}); err == nil || b.Len() != 0 {
		t.Errorf("a short row: error %v, %d bytes written", err, b.Len())
	}
}

// unguarded is a field without the apostrophes that keep it from being run.
func unguarded(s string) string { return strings.ReplaceAll(s, "'", "") }

// encoding/csv is the independent reader.
func FuzzCSVReadsBack(f *testing.F) {
	for _, h := range hostile {
		f.Add(h, "x")
	}
	f.Fuzz(func(t *testing.T, a, c string) {
		var b bytes.Buffer
		if err := CSV(&b, []string{"one", "two"}, [][]string{{a, c}}); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(&b).ReadAll()
		if err != nil || len(rows) != 2 || unguarded(rows[1][0]) != unguarded(Clean(a)) || unguarded(rows[1][1]) != unguarded(Clean(c)) {
			t.Fatalf("%q and %q were read back as %q (%v)", a, c, rows, err)
		}
	})
}

// encoding/json is the independent reader; every string must come back as it was, invalid UTF-8 excepted.
func TestJSONLines(t *testing.T) {
	for _, h := range append(hostile, "😀 \"\\") {
		s, err := JSON(Object{{"s", h}, {"n", Number("7.40")}, {"list", []any{nil, true, 3, Object{}}}})
		if err != nil {
			t.Fatal(err)
		}
		var back struct {
			S string
			N json.Number
		}
		if err := json.Unmarshal([]byte(s), &back); err != nil || back.S != strings.ToValidUTF8(h, "\ufffd") && !strings.Contains(h, "\xff") || back.N != "7.40" {
			t.Errorf("%q: %s, %v", h, s, err)
		}
	}
	var b bytes.Buffer
	for _, bad := range []any{Number("007"), Number("+5"), Number("NaN"), Number("1."), 1.5, struct{}{}} {
		if err := JSONLines(&b, []Object{{{"fine", 1}}, {{"bad", bad}}}); err == nil || !strings.Contains(err.Error(), `line 2: member "bad"`) || b.Len() != 0 {
			t.Errorf("%v: error %v, %d bytes written", bad, err, b.Len())
		}
	}
}

// Schemes after the WHATWG URL Standard, section 4.4, and the ways around a filter that the OWASP filter evasion page lists.
func TestLinkTarget(t *testing.T) {
	for in, ok := range map[string]bool{
		"https://example.org/a?b=1&c=2": true, "http://example.org": true, "mailto:ines@example.org": true, "attachments/slip.jpg": true, "#part": true, "../lots/SU-2511.md": true, "/abs": true, "a?b:c": true, "": true,
		"javascript:alert(1)": false, "JavaScript:alert(1)": false, " javascript:alert(1)": false, "java\nscript:alert(1)": false, "java&#115;cript:alert(1)": false, "javascript&colon;alert(1)": false,
		"data:text/html,x": false, "file:///etc/passwd": false, "vbscript:x": false, "//evil.example": false, `/\evil.example`: false, `\\evil.example`: false, "ftp://x": false, "a\u202eb": false, "&Tab;x": false, "x-man-page:ls": false,
	} {
		if _, got := LinkTarget(in); got != ok {
			t.Errorf("LinkTarget(%q) ok = %v, want %v", in, got, ok)
		}
	}
}

func deepList(n int) string {
	var b strings.Builder
	for i := range n {
		b.WriteString(strings.Repeat("  ", i) + "- x\n")
	}
	return b.String()
}

func TestMarkdownLimits(t *testing.T) {
	o := Output{Width: 80}
	for name, src := range map[string]string{
		"quotes": strings.Repeat(">", 5000) + " x", "lists": strings.Repeat("- ", 5000) + "x", "ordered": strings.Repeat("1. ", 5000) + "x", "indented": deepList(300), "rules": strings.Repeat("-", 500) + " x", "emphasis": strings.Repeat("*a ", 5000), "nested emphasis": strings.Repeat("**", 2000) + "x" + strings.Repeat("**", 2000),
		"brackets": strings.Repeat("[", 20000), "large": strings.Repeat("word ", 250000), "links": strings.Repeat("[a](", 60000), "few links, long tail": strings.Repeat("[a](", maxLinks) + strings.Repeat("x", 240000), "images": strings.Repeat("![", 3000) + strings.Repeat("](a)", 3000),
	} {
		out, err := o.Markdown(src)
		if err != nil || out == "" {
			t.Errorf("%s: %q, %v", name, out, err)
		}
		HTML(src)
	}
}

func TestDetect(t *testing.T) {
	for _, c := range []struct {
		env    map[string]string
		colour string
		want   bool
		width  int
		ascii  bool
	}{
		{nil, "auto", false, 80, false},
		{nil, "always", true, 80, false},
		{map[string]string{"NO_COLOR": "1"}, "always", true, 80, false}, // a flag outranks the variable (no-color.org)
		{map[string]string{"COLUMNS": "20", "TERM": "dumb"}, "never", false, 40, true},
		{map[string]string{"COLUMNS": "900", "LANG": "en_GB.UTF-8"}, "", false, 200, false},
		{map[string]string{"COLUMNS": "many", "LC_ALL": "C", "LANG": "en_GB.UTF-8"}, "auto", false, 80, true},
	} {
		o := Detect(io.Discard, func(k string) string { return c.env[k] }, c.colour)
		if o.Colour != c.want || o.Width != c.width || o.ASCII != c.ascii || o.Person {
			t.Errorf("%v %q: %+v", c.env, c.colour, o)
		}
	}
}

// The caret must stand under the character, measured on the drawn lines themselves.
func TestExcerptCaret(t *testing.T) {
	for _, c := range []struct {
		line   string
		column int
	}{{"pH: 7,42", 5}, {"\tpH: 7", 6}, {"氯化物: 7", 6}, {"e\u0301: 7", 5}, {strings.Repeat("x", 300) + "7" + strings.Repeat("y", 300), 301}, {strings.Repeat("氯", 90) + "7" + strings.Repeat("氯", 90), 91}, {strings.Repeat("x", 80) + "7", 81}, {"1234567", 7}} {
		for _, width := range []int{40, 80, 200} {
			out := Output{Width: width}.Excerpt("", 12, c.column, c.line+"\r\n", 1)
			lines := strings.Split(out, "\n")
			caret := strings.Index(lines[1], "^")
			before := strings.Index(lines[0], "7")
			if caret < 0 || before < 0 || Width(lines[1][:caret]) != Width(lines[0][:before]) {
				t.Errorf("width %d, column %d:\n%s", width, c.column, out)
			}
			if Width(lines[0]) > width {
				t.Errorf("width %d: the line takes %d columns", width, Width(lines[0]))
			}
		}
	}
}

func TestPrintDefusesBuildCommands(t *testing.T) {
	var b bytes.Buffer
	if err := (Output{W: &b}).Print("fine\n  ::error::x\n##[group]y\na::b\n"); err != nil || b.String() != "fine\n|   ::error::x\n| ##[group]y\na::b\n" {
		t.Errorf("%q, %v", b.String(), err)
	}
	if got := (Output{}).Finding(Finding{Path: "::error::x", Severity: "error", Message: "m"}); !strings.HasPrefix(got, "./::") {
		t.Errorf("%q", got)
	}
	if got := GitHubAnnotation(Finding{Path: "a:b,c%", Line: 3, Severity: "warning", Rule: "r/x", Message: "one\n::error::two", Help: "100 %"}); got != "::warning file=a%3Ab%2Cc%25,line=3,title=r/x::one%0A::error::two%0Ahelp: 100 %25\n" {
		t.Errorf("%q", got)
	}
}

// SVG must be well-formed XML (encoding/xml reads it), and a chart must survive values that are none.
func TestChartsSurvive(t *testing.T) {
	at := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	values := [][]float64{nil, {1}, {0, 0}, {math.NaN()}, {math.Inf(1), 3}, {1e300, 2}, {-5, -5.0000001}, {1e-12, 2e-12}, {0.02, 0.11}}
	for _, vs := range values {
		for _, h := range []string{"sulfate", hostile[0], "<&>\"'"} {
			var points []Point
			for i, v := range vs {
				points = append(points, Point{At: at.AddDate(0, 0, 40*i*i*i), Value: v})
			}
			c := Chart{Title: h, Series: []Series{{h, points}, {"second", points}}, Limits: []LimitLine{{h, 5}, {"nan", math.NaN()}}}
			for _, width := range []int{40, 200} {
				for line := range strings.SplitSeq(chartText(Output{Width: width}, c), "\n") {
					if Width(line) > width {
						t.Errorf("%v: %d columns at width %d: %q", vs, Width(line), width, line)
					}
				}
			}
			svg := chartSVG(c)
			decoder := xml.NewDecoder(strings.NewReader(svg))
			for {
				if _, err := decoder.Token(); err == io.EOF {
					break
				} else if err != nil {
					t.Fatalf("%v: %v\n%s", vs, err, svg)
				}
			}
			if strings.Contains(svg, "NaN\"") || strings.Contains(svg, "Inf\"") || svg != chartSVG(c) {
				t.Errorf("%v: %s", vs, svg)
			}
		}
	}
}
