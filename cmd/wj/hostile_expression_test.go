package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestExpressionBombs holds every expression that is built to cost time or memory to an answer within 100 ms; a loaded machine
// and the race detector are given a second and four tries, and what took longer than 100 ms is said.
func TestExpressionBombs(t *testing.T) {
	dir := t.TempDir()
	for name, content := range map[string]string{
		"wj.yaml":                           "format: 1\nname: Quillmarsh Brewery\ntimezone: Europe/Vilnius\n",
		"sessions/2026/2026-03-04-north.md": "---\nsite: north\nsampled: 2026-03-04T08:15+02:00\nby: ines\nreadings:\n  sulfate: 40 mg/L\n---\n",
	} {
		full := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(full), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(full, []byte(content), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	many := strings.Repeat
	for name, source := range map[string]string{
		"a million brackets":   many("(", 1_000_000) + "1" + many(")", 1_000_000),
		"two thousand":         many("(", 2000) + "sulfate > 1" + many(")", 2000),
		"a million negations":  many("!", 1_000_000) + "true",
		"negations":            many("!", 4000) + "true",
		"words":                many("not ", 1000) + "true",
		"minus signs":          "0 " + many("- -", 1000) + "1 > 0",
		"lists":                many("[", 2000) + many("]", 2000),
		"maps":                 many(`{"a":`, 700) + "1" + many("}", 700),
		"ternaries":            many("true?", 500) + "true" + many(":true", 500),
		"nested loops":         "any(1..100000, all(1..100000, # > 0))",
		"a range":              "len(1..10000000) > 0",
		"sums":                 "sum(map(1..1000000, #)) > 0",
		"a repeat":             `repeat("a", 1000000000) == "a"`,
		"the environment":      "$env",
		"the clock":            "now() > 1",
		"statements":           "1; true",
		"an assignment":        "let x = 1; x > 0",
		"a long pattern":       `site matches "` + many("(a|b)*", 600) + `"`,
		"a pattern that grows": `site matches "((a{100}){100}){100}"`,
		"backtracking":         `site matches "(a+)+$"`,
		"a chain":              many("sulfate > 1 && ", 250) + "true",
		"powers":               "sulfate > " + many("9 ** ", 700) + "9",
		"members":              "sulfate" + many(".a", 1500) + " > 0",
		"optional members":     "sulfate" + many("?.a", 1000) + " > 0",
		"pipes":                "sulfate " + many("| len() ", 400) + " > 0",
		"a long text":          `site == "` + many(`\u0000`, 600) + `"`,
		"not text":             "site == \"\xff\xfe\"",
		"a NUL":                "sulfate \x00 > 1",
		"a comment":            "sulfate > 1 /* " + many("*", 3000),
	} {
		for _, args := range [][]string{{"query", source}, {"export", source, "--all-owners"}, {"query", "sulfate > 0", "--by", source}, {"query", "sulfate > 0", "--columns", source}, {"query", "sulfate > 0", "--show", source, "--by", "site"}} {
			var out, errs bytes.Buffer
			status := run(append([]string{"-C", dir}, args...), strings.NewReader(""), &out, &errs, os.Getenv)
			if strings.Contains(errs.String(), "fault in wj itself") {
				t.Errorf("%s in %s: %s", name, args[0], errs.String())
			}
			if bad := unclean(errs.String(), ""); bad != "" || errs.Len() > 4096 {
				t.Errorf("%s in %s: the message has %d bytes; %s", name, args[0], errs.Len(), bad)
			}
			if harmless := name == "backtracking" || name == "a long text" || name == "not text"; status != statusFailed && !harmless && args[0] == "query" && len(args) == 2 {
				t.Errorf("%s: status %d, expected a refusal", name, status)
			}
		}
	}
}
