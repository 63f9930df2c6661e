package main

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// The answers and pictures in the README and the guides are what the commands
// give in the demo, on the day that the tour is set on. Rewritten by -update.
// Commands that need an edit before them, or whose answer holds a new commit's
// name, are left out.
func TestReadmeAnswers(t *testing.T) {
	if _, err := exec.LookPath("git"); err != nil {
		t.Skip("no git program")
	}
	here, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	home := t.TempDir()
	for name, value := range map[string]string{
		"HOME": home, "XDG_CONFIG_HOME": home, "GIT_CONFIG_NOSYSTEM": "1", "GIT_AUTHOR_NAME": "Ines Kaldre", "GIT_AUTHOR_EMAIL": "ines@quillmarsh.example", "GIT_AUTHOR_DATE": "2026-09-25T09:00:00+03:00",
		"GIT_COMMITTER_NAME": "Ines Kaldre", "GIT_COMMITTER_EMAIL": "ines@quillmarsh.example", "GIT_COMMITTER_DATE": "2026-09-25T09:00:00+03:00",
	} {
		t.Setenv(name, value)
	}
	env := map[string]string{"WJ_NOW": "2026-09-25T09:00+03:00", "COLUMNS": "80", "NO_COLOR": "1", "LC_ALL": "C.UTF-8", "HOME": home}
	demo := filepath.Join(home, "demo")
	wj := func(args ...string) string {
		var out bytes.Buffer
		run(args, strings.NewReader(""), &out, &out, func(name string) string { return env[name] })
		return out.String()
	}
	wj("demo", demo)
	current := func(name, now string) {
		name = filepath.Join(here, name)
		if src, err := os.ReadFile(name); *update {
			if err := errors.Join(os.MkdirAll(filepath.Dir(name), 0o755), os.WriteFile(name, []byte(now), 0o644)); err != nil {
				t.Fatal(err)
			}
		} else if err != nil || now != string(src) {
			t.Errorf("%s shows what the commands no longer print: go test ./cmd/wj -run ReadmeAnswers -update", name)
		}
	}
	for picture, command := range map[string]string{"sulfate": "chart sulfate --site north-well --format svg", "ions": "chart --ions 2026-06-09-north-well --format svg", "map": "map --owner quillmarsh --as svg"} {
		current("../../docs/pictures/"+picture+".svg", wj(append([]string{"-C", demo}, strings.Fields(command)...)...))
	}
	asked := 0
	block := regexp.MustCompile("(?ms)^```\n(\\$ wj .*?)^```\n")
	call := regexp.MustCompile(`(?m)^\$ wj (.*)\n`)
	word := regexp.MustCompile(`"[^"]*"|'[^']*'|\S+`)
	pages, err := filepath.Glob("../../docs/*.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, page := range append(pages, "../../README.md") {
		src, err := os.ReadFile(page)
		if err != nil {
			t.Fatal(err)
		}
		current(page, block.ReplaceAllStringFunc(string(src), func(text string) string {
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
		}))
	}
	holdScreens(t, here, demo, func(columns int) func(string) string {
		env["COLUMNS"] = strconv.Itoa(columns)
		return func(name string) string { return env[name] }
	}, current)
	if asked < 8 {
		t.Fatalf("the README and the guides ask %d questions; their form has changed", asked)
	}
}
