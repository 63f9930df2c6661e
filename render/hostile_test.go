package render

import (
	"bytes"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"
)

// hostile holds what terminals act on: ECMA-48 controls in their 7- and 8-bit forms, the operating system commands 8
// (links) and 52 (clipboard) of xterm's "Control Sequences", entities that decode to them (HTML Living Standard, 13.2.5),
// and the bidi controls of Unicode Standard Annex 9.
var hostile = []string{
	"\x1b[31mred", "\x1b[2J", "\x1b[8mhidden", "\x1b[5mblink", "\x1b[41mback", "\x1b]0;title\x07", "\x1b]8;;http://e.example\x1b\\link\x1b]8;;\x1b\\",
	"\x1b]52;c;aGk=\x07", "\u009b31mred", "\u009d52;c;aGk=\u009c", "\x9b31m", "bell\x07", "over\rwritten", "back\b\b\bspace", "del\x7f", "nul\x00",
	"&#27;[31mred", "&#x1b;]52;c;aGk=&#7;", "~~&**#27;**[31mFAKE~~", "&**#27;**[31m", "`&#27;[31m`", "**&#27;[31m**", "# &#27;[31m", "> &#27;[31m",
	"```\n&#27;[31m \x1b[31m\n```", "[a&#27;[31m](http://e.example/&#27;[31m)", "![&#27;[31m](&#27;)", "<b>&#27;[31m</b>", "<!-- &#27;[31m -->",
	"| &#27;[31m | \x1b[31m |\n|---|---|\n| &#27;]52;c;a&#7; | x |", "- [x] &#27;[31m", "<http://e.example/&#27;[31m>", "> | &#27;[31m |\n> |---|\n> | &#x9b; |",
	"a\u202egnp.exe", "a\u2066b\u2069", "zero\u200bwidth\u200d\ufeff", "soft\u00adhyphen", "sep\u2028line\u2029", "fill\u3164er", "tag\U000e0041",
	"&#x202e;abc", "&#8203;", "&zwj;&rlm;&Tab;&NewLine;", "\xff\xfe\xc0\xaf", "\ue026#27;[31m", "\ue05c\ue00a", "[x](javascript:alert(1))", "[x](java&#115;cript:alert(1))",
	"::error::x", "<script>alert(1)</script>", "<svg onload=alert(1)>", "]]>", "\" onmouseover=\"x", "=cmd|' /C calc'!A0",
}

// forbidden names the first character of a text that must not be there. Tabs are allowed where a format asks for them.
func forbidden(s string, colour bool) string {
	if !utf8.ValidString(s) {
		return "invalid UTF-8"
	}
	for len(s) > 0 {
		if colour && strings.HasPrefix(s, "\x1b[") {
			end := strings.IndexByte(s, 'm')
			if end < 0 || strings.Trim(s[2:end], "0123456789;") != "" {
				return "an escape that is no colour"
			}
			for part := range strings.SplitSeq(s[2:end], ";") {
				if part == "5" || part == "6" || part == "7" || part == "8" || len(part) == 2 && part[0] == '4' || len(part) == 3 {
					return "the colour sequence " + s[2:end]
				}
			}
			s = s[end+1:]
			continue
		}
		r, n := utf8.DecodeRuneInString(s)
		s = s[n:]
		if r != '\n' && (unicode.IsControl(r) || unicode.In(r, unicode.Cf, unicode.Bidi_Control, unicode.Co, unicode.Zl, unicode.Zp)) {
			return "U+" + strings.ToUpper(string("0123456789abcdef"[r>>12&15])+string("0123456789abcdef"[r>>8&15])+string("0123456789abcdef"[r>>4&15])+string("0123456789abcdef"[r&15]))
		}
	}
	return ""
}

func TestEverySinkIsClean(t *testing.T) {
	at := time.Date(2026, 3, 4, 0, 0, 0, 0, time.UTC)
	for _, h := range hostile {
		table := Table{Columns: []Column{{Head: h, Unit: h}, {Head: "b", Right: true, Wrap: true}}, Rows: [][]Cell{{{Text: h, State: Over}, {Text: h, State: Doubtful}, {Text: h}}}, Notes: []string{h}}
		chart := Chart{Title: h, Subtitle: h, Unit: h, Series: []Series{{h, []Point{{At: at, Value: 1, State: Over}, {At: at.AddDate(0, 1, 0), Value: 2}}}}, Limits: []LimitLine{{h, 1.5}}, Notes: []string{h}}
		finding := Finding{Path: h, Line: 1, Column: 3, Severity: h, Rule: h, Message: h, Excerpt: Excerpt{h, 2, 3}, Related: []Related{{h, 1, 1, h}}, Help: h}
		for _, colour := range []bool{false, true} {
			for _, width := range []int{40, 80, 200} {
				var printed bytes.Buffer
				o := Output{W: &printed, Width: width, Colour: colour, Person: true}
				markdown, err := o.Markdown(h)
				if err != nil {
					t.Fatal(err)
				}
				if err := o.Print(h); err != nil {
					t.Fatal(err)
				}
				for name, got := range map[string]string{
					"Markdown": markdown, "Table": o.Table(table), "Chart": chartText(o, chart), "Finding": o.Finding(finding),
					"Excerpt": o.Excerpt(h, 1, 2, h, 3), "Print": printed.String(), "Gate": Gate(h, colour),
				} {
					if bad := forbidden(got, colour); bad != "" {
						t.Errorf("%s(%q), colour %v, width %d, lets %s through: %q", name, h, colour, width, bad, got)
					}
				}
				if colour && strings.Contains(markdown, "31m") && strings.Contains(markdown, "\x1b[31m") {
					t.Errorf("Markdown(%q) holds a colour from the source: %q", h, markdown)
				}
			}
		}
		var csv, lines bytes.Buffer
		if err := CSV(&csv, []string{h}, [][]string{{h}}); err != nil {
			t.Fatal(err)
		}
		if err := JSONLines(&lines, []Object{{{h, h}}}); err != nil {
			t.Fatal(err)
		}
		target, _ := LinkTarget(h)
		for name, got := range map[string]string{
			"Clean": strings.ReplaceAll(Clean(h), "\t", ""), "Line": Line(h), "Wrap": Wrap(h, 20), "CSV": strings.ReplaceAll(csv.String(), "\r\n", "\n"), "JSONLines": lines.String(),
			"HTML": strings.ReplaceAll(HTML(h), "\t", ""), "SVG": chartSVG(chart), "MarkdownTable": MarkdownTable(table), "GitHubAnnotation": GitHubAnnotation(finding), "LinkTarget": target,
		} {
			if bad := forbidden(got, false); bad != "" {
				t.Errorf("%s(%q) lets %s through: %q", name, h, bad, got)
			}
		}
		for _, markup := range []string{"<script", "<svg onload", "href=\"javascript", "<b>"} {
			if strings.Contains(strings.ToLower(HTML(h)), markup) || strings.Contains(chartSVG(chart), markup) {
				t.Errorf("%q reaches HTML or SVG as markup: %s", h, HTML(h))
			}
		}
	}
}

func TestCleanKeepsWhatIsHonest(t *testing.T) {
	for _, s := range []string{"plain", "tab\tand\nline", "µS/cm ≤ 7,5 °dH ± 4", "氯化物 chloride ✅", "e\u0301 combining", "שלום", "⚠\ufe0f"} {
		if got := Clean(s); got != s {
			t.Errorf("Clean(%q) = %q", s, got)
		}
	}
	for in, want := range map[string]string{"a\r\nb": "a\nb", "a\rb": "a\ufffdb", "\xff\xfe": "\ufffd\ufffd", "\u202e": "\ufffd"} {
		if got := Clean(in); got != want {
			t.Errorf("Clean(%q) = %q, want %q", in, got, want)
		}
	}
	if got := Line("a\n\tb\n"); got != "a⏎ b" {
		t.Errorf("Line = %q", got)
	}
}

func FuzzGate(f *testing.F) {
	for _, h := range hostile {
		f.Add(h)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if len(s) > 4096 {
			return
		}
		for _, o := range []Output{{Width: 60}, {Width: 60, Colour: true}, {Width: 40, Colour: true}} {
			out, err := o.Markdown(s)
			if err != nil {
				t.Fatal(err)
			}
			for _, got := range []string{out, Gate(s, o.Colour), Gate(out, o.Colour), o.Excerpt("", 1, 5, s, 3), Wrap(s, 20)} {
				if bad := forbidden(got, o.Colour); bad != "" {
					t.Fatalf("colour %v lets %s through: %q", o.Colour, bad, got)
				}
			}
			if twice := Gate(Gate(s, o.Colour), o.Colour); twice != Gate(s, o.Colour) {
				t.Fatalf("the gate changes its own output: %q", twice)
			}
		}
		if bad := forbidden(strings.ReplaceAll(HTML(s), "\t", ""), false); bad != "" {
			t.Fatalf("HTML lets %s through", bad)
		}
	})
}
