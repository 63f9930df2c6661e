package render

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"io"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"
)

// elements and attributes are what CommonMark and GitHub's extensions make; no
// script runs from any of them.
var (
	elements   = strings.Fields("p h1 h2 h3 h4 h5 h6 ul ol li blockquote pre code em strong del a img br hr table thead tbody tr th td input")
	attributes = strings.Fields("href title rel src alt start class style align checked disabled type")
)

// FuzzHTML reads what HTML wrote with Go's XML decoder in its HTML mode: no
// element, attribute, scheme or style is there but those that Markdown makes.
func FuzzHTML(f *testing.F) {
	for _, h := range hostile {
		f.Add(h)
	}
	for _, s := range []string{"[a](http://x.example \"t\")", "![a](b.png)\n![a](//e.example/b.png)", "<http://e.example/\"onload=x>", "[x]: javascript:a\n[x]\n", "| a | b |\n|:-|-:|\n| <i> | `|` |\n", "- [x] ~~a~~\n1. b\n\n       code\n",
		"```x\" onload=\"y\n<\n```", "[a](\\\\e.example)", "[a](&#47;/e.example)", "[a](/\t/e.example)", "www.e.example/\"><b>", "[a](mailto:x@e.example?subject=\"><b>)", "[a](a\\:b:c)", "# a {onload=x}"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if len(s) > 4096 {
			return
		}
		out := HTML(s)
		d := xml.NewDecoder(strings.NewReader("<div>" + out + "</div>"))
		d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
		for first := true; ; first = false {
			token, err := d.Token()
			if err == io.EOF {
				return
			}
			if err != nil {
				t.Fatalf("%q gives %q: %v", s, out, err)
			}
			switch token := token.(type) {
			case xml.StartElement:
				if first {
					continue
				}
				if !slices.Contains(elements, token.Name.Local) {
					t.Fatalf("%q gives the element %s: %q", s, token.Name.Local, out)
				}
				for _, a := range token.Attr {
					if !slices.Contains(attributes, a.Name.Local) || a.Name.Local == "style" && !strings.HasPrefix(a.Value, "text-align:") {
						t.Fatalf("%q gives the attribute %s=%q: %q", s, a.Name.Local, a.Value, out)
					}
					if a.Name.Local == "href" || a.Name.Local == "src" {
						checkTarget(t, s, a.Value, a.Name.Local == "src")
					}
				}
			case xml.EndElement, xml.CharData:
			default:
				t.Fatalf("%q gives %T: %q", s, token, out)
			}
		}
	})
}

// checkTarget reads a target as browsers do: tabs and line ends are dropped, a
// backslash counts as a slash (WHATWG URL Standard, section 4.4).
func checkTarget(t *testing.T, s, target string, image bool) {
	t.Helper()
	seen := strings.NewReplacer("\t", "", "\r", "", "\n", "", `\`, "/").Replace(strings.TrimLeft(target, " "))
	if strings.HasPrefix(seen, "//") {
		t.Fatalf("%q leads to another host: %q", s, target)
	}
	scheme, _, ok := strings.Cut(seen, ":")
	if ok && !strings.ContainsAny(scheme, "/?#") && (image || !slices.Contains([]string{"http", "https", "mailto"}, strings.ToLower(scheme))) {
		t.Fatalf("%q leads to %q", s, target)
	}
	if u, err := url.Parse(target); err == nil && image && u.Host != "" {
		t.Fatalf("%q loads an image from %s", s, u.Host)
	}
}

// FuzzDrawn holds what is written for other programs against their readers:
// SVG is XML without scripts, JSON gives back every string, and a table has no
// line wider than it was given where its cells may fold.
func FuzzDrawn(f *testing.F) {
	for _, h := range hostile {
		f.Add(h, 1.5, 40)
	}
	f.Add("氯化物 e\u0301 ⚠\ufe0f", -1e300, 20)
	at := time.Date(2026, 3, 4, 0, 0, 0, 0, time.UTC)
	f.Fuzz(func(t *testing.T, s string, v float64, width int) {
		if len(s) > 2048 {
			return
		}
		chart := Chart{Title: s, Subtitle: s, Unit: s, Series: []Series{{s, []Point{{At: at, Value: v, State: Over}, {At: at.AddDate(0, 1, 0), Value: 2}}}}, Limits: []LimitLine{{s, 1.5}}, Notes: []string{s}}
		picture := chartSVG(chart)
		d := xml.NewDecoder(strings.NewReader(picture))
		for {
			token, err := d.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatalf("%q is drawn as %s: %v", s, picture, err)
			}
			if e, ok := token.(xml.StartElement); ok && (e.Name.Local == "script" || slices.ContainsFunc(e.Attr, func(a xml.Attr) bool { return strings.HasPrefix(strings.ToLower(a.Name.Local), "on") })) {
				t.Fatalf("%q is drawn as %s", s, picture)
			}
		}
		var lines bytes.Buffer
		if err := JSONLines(&lines, []Object{{{s, []any{s, Object{{"n", 1}}}}}}); err != nil {
			t.Fatal(err)
		}
		var back map[string][]any
		if err := json.Unmarshal(lines.Bytes(), &back); err != nil || bytes.Count(lines.Bytes(), []byte("\n")) != 1 {
			t.Fatalf("%q: %s, %v", s, lines.Bytes(), err)
		}
		if list := back[s]; utf8.ValidString(s) && (len(list) != 2 || list[0] != s) {
			t.Fatalf("%q came back as %v", s, back)
		}
		o := Output{Width: 40 + width&63}
		table := Table{Columns: []Column{{Head: "n", Right: true}, {Head: "text", Wrap: true}}, Rows: [][]Cell{{{Text: "1", State: Over}, {Text: s}}}}
		for _, got := range []string{o.Table(table), chartText(o, chart), o.Finding(Finding{Path: "a.md", Line: 1, Column: 3, Severity: "error", Rule: "a/b", Message: s, Excerpt: Excerpt{s, 2, 3}})} {
			if bad := forbidden(got, false); bad != "" {
				t.Fatalf("%q lets %s through: %q", s, bad, got)
			}
		}
		for line := range strings.Lines(o.Table(table)) {
			if n := Width(strings.TrimRight(line, "\n")); n > o.Width {
				t.Fatalf("a line of %d in a table of %d: %q", n, o.Width, line)
			}
		}
	})
}
