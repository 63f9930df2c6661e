package query

import (
	"regexp"
	"slices"
	"strings"
	"testing"
)

// The page of the language tells of every word, and each piece of code on it
// that is an expression is one.
func TestLanguagePage(t *testing.T) {
	page := Language()
	for _, word := range Words() {
		if !strings.Contains(page, "`"+word+"`") && !strings.Contains(page, "`"+word+"(") {
			t.Errorf("%q is not on the page", word)
		}
	}
	_, functionsOn, _ := strings.Cut(page, "## Functions")
	functionsOn, groups, _ := strings.Cut(functionsOn, "## What is not there")
	code := regexp.MustCompile("`([^`]+)`")
	checked := 0
	for _, m := range code.FindAllStringSubmatch(functionsOn, -1) {
		if strings.HasPrefix(m[1], "<") || strings.HasPrefix(m[1], ">") {
			continue // a reading
		}
		checked++
		if _, _, err := compileOperand(m[1]); err != nil {
			t.Errorf("%s: %v", m[1], err)
		}
	}
	if checked < len(functions)-1 { // as stands beside the units
		t.Errorf("%d pieces of code for %d functions", checked, len(functions))
	}
	for _, kind := range reductionKinds {
		if !strings.Contains(groups, "`"+kind) {
			t.Errorf("%q is not among the groups", kind)
		}
	}
	for _, m := range regexp.MustCompile(`wj query '([^']+)'`).FindAllStringSubmatch(page, -1) {
		if _, err := Compile(m[1]); err != nil {
			t.Errorf("%s: %v", m[1], err)
		}
	}
}

func TestSplitList(t *testing.T) {
	for text, want := range map[string][]string{
		"": nil, "id": {"id"}, "id, site": {"id", "site"}, "quantile(nitrate, 0.95),count": {"quantile(nitrate, 0.95)", "count"},
		`as("mg/L N", nitrate),id`: {`as("mg/L N", nitrate)`, "id"}, `text("a,b)"),id`: {`text("a,b)")`, "id"}, `text("a\",b"),c`: {`text("a\",b")`, "c"},
		"a,": {"a", ""}, ",": {"", ""}, ")a,b": {")a", "b"}, `"a,b`: {`"a,b`}, `"a\`: {`"a\`},
	} {
		if got := SplitList(text); !slices.Equal(got, want) {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}
