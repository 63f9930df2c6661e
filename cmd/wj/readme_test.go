package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// The answers in the README are what the commands print in the demo, on the
// day that the tour is set on. Rewritten by -update. Commands that need an
// edit before them, or whose answer holds a new commit's name, are left out.
func TestReadmeAnswers(t *testing.T) {
	if _, err := exec.LookPath("git"); err != nil {
		t.Skip("no git program")
	}
	const readme = "../../README.md"
	src, err := os.ReadFile(readme)
	if err != nil {
		t.Fatal(err)
	}
	home := t.TempDir()
	env := map[string]string{"WJ_NOW": "2026-09-25T09:00+03:00", "COLUMNS": "80", "NO_COLOR": "1", "LC_ALL": "C.UTF-8", "HOME": home}
	demo := filepath.Join(home, "demo")
	wj := func(args ...string) string {
		var out bytes.Buffer
		run(args, strings.NewReader(""), &out, &out, func(name string) string { return env[name] })
		return out.String()
	}
	wj("demo", demo)
	asked := 0
	block := regexp.MustCompile("(?ms)^```\n(\\$ wj .*?)^```\n")
	call := regexp.MustCompile(`(?m)^\$ wj (.*)\n`)
	word := regexp.MustCompile(`"[^"]*"|'[^']*'|\S+`)
	now := block.ReplaceAllStringFunc(string(src), func(text string) string {
		var b strings.Builder
		b.WriteString("```\n")
		for _, m := range call.FindAllStringSubmatch(text, -1) {
			args := word.FindAllString(m[1], -1)
			for i := range args {
				args[i] = strings.Trim(args[i], `"'`)
			}
			if args[0] == "new" || args[0] == "lint" {
				return text
			}
			asked++
			b.WriteString(m[0] + wj(append([]string{"-C", demo}, args...)...))
		}
		return b.String() + "```\n"
	})
	if asked < 4 {
		t.Fatalf("the README asks %d questions; its form has changed", asked)
	}
	if now == string(src) {
		return
	}
	if *update {
		if err := os.WriteFile(readme, []byte(now), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	t.Error("README.md shows what the commands no longer print: go test ./cmd/wj -run ReadmeAnswers -update")
}
