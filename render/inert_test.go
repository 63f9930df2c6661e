package render

import (
	"encoding/json"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"
)

// Workflow commands as the documentation of GitHub Actions and Azure Pipelines writes them; a runner trims blanks before "::".
func TestInert(t *testing.T) {
	for in, want := range map[string]string{
		"::error::x":               `\::error::x`,
		"a\n  ::set-output name=x": "a\n  \\::set-output name=x",
		"a\n\t::x":                 "a\n\t\\::x",
		"std::vector a::b":         "std::vector a::b",
		"##[group]x":               `#\#[group]x`,
		"a ##vso[task.x]y":         `a #\#vso[task.x]y`,
		"## A head\n### B":         "## A head\n### B",
		"\n\n::":                   "\n\n\\::",
	} {
		if got := Inert(in); got != want {
			t.Errorf("Inert(%q) = %q, want %q", in, got, want)
		}
	}
}

func TestPassage(t *testing.T) {
	for in, want := range map[string]string{
		"a <b>x</b>":                        "a &lt;b>x&lt;/b>",
		`a \<script>`:                       `a \&lt;script>`,
		`a \\<script>`:                      `a \\&lt;script>`,
		"<!-- x --><?x?><![CDATA[":          "&lt;!-- x -->&lt;?x?>&lt;![CDATA[",
		"<svg/onload=x>":                    "&lt;svg/onload=x>",
		"<script\nsrc=x>":                   "&lt;script\nsrc=x>",
		"<https://e.example> <a@b.example>": "<https://e.example> <a@b.example>",
		"5 < 7, <5 mg/L":                    "5 < 7, <5 mg/L",
		"x\x1b[31m\n::error::":              "x\ufffd[31m\n\\::error::",
	} {
		if got := Passage(in); got != want {
			t.Errorf("Passage(%q) = %q, want %q", in, got, want)
		}
	}
}

// FuzzPassage holds that no tag that a browser would read (HTML Living Standard, 13.2.5.6) and no command is left.
func FuzzPassage(f *testing.F) {
	for _, h := range hostile {
		f.Add(h)
	}
	tag := regexp.MustCompile(`<[A-Za-z!?/][^:@]*(?:>|$)`)
	f.Fuzz(func(t *testing.T, s string) {
		got := Passage(s)
		for line := range strings.Lines(got) {
			if strings.HasPrefix(strings.TrimLeft(line, " \t"), "::") {
				t.Fatalf("%q begins with a command", line)
			}
		}
		if m := tag.FindString(got); m != "" {
			t.Fatalf("%q holds %q", got, m)
		}
	})
}

// JSON that holds a workflow command stays JSON with the same text, and Inert finds nothing to change in it.
func TestJSONIsInert(t *testing.T) {
	for _, text := range append([]string{"##[group]x", "###[a", "a ##vso[task.x]y", "\\##[x", "::error::", "\n::error::x", "#[", "##"}, hostile...) {
		ours, err := JSON(Object{{"text", text}})
		if err != nil {
			t.Fatal(err)
		}
		theirs, err := json.Marshal(map[string]string{"text": text})
		if err != nil {
			t.Fatal(err)
		}
		for _, src := range []string{ours, EscapeJSON(string(theirs))} {
			var back struct{ Text string }
			if err := json.Unmarshal([]byte(src), &back); err != nil || utf8.ValidString(text) && back.Text != text {
				t.Errorf("%q became %s: %q, %v", text, src, back.Text, err)
			}
			if got := Inert(src); got != src {
				t.Errorf("Inert changes %s to %s", src, got)
			}
		}
	}
}
