package water

import (
	"fmt"
	"regexp"
	"strings"
	"testing"
)

var pageHeadings = []string{"What it is", "Formula and units", "At the bench", "For the brewer", "Traps", "Sources"}

var (
	chemistryNumber = regexp.MustCompile(`\d\.\d|\d+ ?(%|mg|meq|mmol|mol|uS|degC|NTU|German|hours|days)`)
	reference       = regexp.MustCompile(`\[(\d+)\]`)
	sourceLine      = regexp.MustCompile(`^- \[(\d+)\] (.+)$`)
	year            = regexp.MustCompile(`\b(18|19|20)\d\d\b`)
	markdownRelic   = regexp.MustCompile(`(?i)todo|lorem|fixme`)
)

// Every analyte and derived value has a page with the needed headings, in which
// every number of chemistry points to a source line, and every source line has
// a year or says that there is none.
func TestEveryNameHasItsPage(t *testing.T) {
	for id := range NumNames {
		t.Run(id.String(), func(t *testing.T) {
			raw, err := pages.ReadFile("pages/" + id.String() + ".md")
			if err != nil {
				t.Fatal(err)
			}
			text := string(raw)
			if n := strings.Count(text, "\n"); n < 15 || n > 45 {
				t.Errorf("%d lines, want 15 to 45", n)
			}
			if markdownRelic.MatchString(text) || strings.ContainsAny(text, "\t\r") {
				t.Error("unfinished or untidy text")
			}
			at := 0
			for _, h := range pageHeadings {
				i := strings.Index(text, "\n## "+h+"\n")
				if i < at {
					t.Fatalf("heading %q is missing or out of order", h)
				}
				at = i
			}
			body, sources, _ := strings.Cut(text, "\n## Sources\n")
			checkSources(t, body, sources)
		})
	}
	entries, err := pages.ReadDir("pages")
	if err != nil || len(entries) != int(NumNames) {
		t.Errorf("%d pages for %d names, %v", len(entries), NumNames, err)
	}
}

func checkSources(t *testing.T, body, sources string) {
	t.Helper()
	known := map[string]bool{}
	for _, line := range strings.Split(strings.TrimSpace(sources), "\n") {
		m := sourceLine.FindStringSubmatch(line)
		if m == nil {
			t.Errorf("source line %q", line)
			continue
		}
		if known[m[1]] || m[1] != fmt.Sprint(len(known)+1) {
			t.Errorf("source [%s] is out of order", m[1])
		}
		known[m[1]] = true
		plain := m[2]
		if !year.MatchString(plain) && !strings.Contains(plain, "ommon practice, no source") && !strings.Contains(plain, "CFR") && !reference.MatchString(plain) && !strings.Contains(plain, "from memory") {
			t.Errorf("source [%s] has neither a year nor says that there is none: %s", m[1], plain)
		}
	}
	used := map[string]bool{}
	for _, block := range blocks(body) {
		cited := reference.FindAllStringSubmatch(block, -1)
		for _, m := range cited {
			if used[m[1]] = true; !known[m[1]] {
				t.Errorf("no source [%s]", m[1])
			}
		}
		if len(cited) == 0 && chemistryNumber.MatchString(block) && !strings.Contains(block, "definition") {
			t.Errorf("a number without a source: %s", block)
		}
	}
	for n := range known {
		if !used[n] && !strings.Contains(sources, " ["+n+"]") {
			t.Errorf("source [%s] is never used", n)
		}
	}
}

// blocks cuts a page into paragraphs and list items.
func blocks(body string) []string {
	var out []string
	for _, line := range strings.Split(body, "\n") {
		switch {
		case line == "" || strings.HasPrefix(line, "#"):
			out = append(out, "")
		case strings.HasPrefix(line, "- ") || len(out) == 0 || out[len(out)-1] == "":
			out = append(out, line)
		default:
			out[len(out)-1] += " " + line
		}
	}
	return out
}

func TestPageHasFacts(t *testing.T) {
	p := Page(Alkalinity)
	for _, want := range []string{"# Alkalinity", "## Facts", "1 dKH = 17.848 mg/L CaCO3", "1 meq/L = 50.043 mg/L CaCO3", "`mg/L{CaCO3}`", "as CaCO3", "no source"} {
		if !strings.Contains(p, want) {
			t.Errorf("%q is not on the page", want)
		}
	}
	if Page(NumNames) != "" {
		t.Error("a page of nothing")
	}
	for id := range NumNames {
		if p := Page(id); !strings.Contains(p, "`"+id.String()+"`") || strings.Contains(p, "NaN") || strings.Contains(p, "%!") {
			t.Errorf("page of %s: %s", id, p[strings.Index(p, "## Facts"):])
		}
	}
}
