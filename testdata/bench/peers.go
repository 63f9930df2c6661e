package main

import (
	_ "embed"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"strings"
)

// General tools that answer "sulfate over 300" without knowing what a session is. They must be told how a value and its
// dilution are written, and would take mmol/L for mg/L. Each is called as somebody who knows it well would: a process a
// core, many files a process where the tool can.

// script reads front matter with PyYAML, its fast loader where that is installed, on every core.
//
//go:embed frontmatter.py
var script string

const (
	// The yq in Go (github.com/mikefarah/yq) reads front matter of the first file of a call alone. The notes of further files
	// must be YAML too; those of the generator happen to be, Markdown with a colon or a bracket is not.
	inGo = `select(((.readings.sulfate.value // "0") | sub(" .*", "") | to_number) * (.readings.sulfate.dilution // 1) > 300) | filename`
	// The yq over jq (github.com/kislyuk/yq) knows no front matter: notes are a further document and must be YAML.
	overJQ = `select(type == "object") | select(((.readings.sulfate.value // "0") | split(" ")[0] | tonumber) * (.readings.sulfate.dilution // 1) > 300) | .site`
)

// peers are the general tools that are installed; of the others it says so.
func (b bench) peers(sessions string) []command {
	if len(b.yq) == 0 {
		return nil
	}
	var out []command
	over := func(name string, files int, args ...string) {
		words := fmt.Sprintf(`find "$0" -name '*.md' -print0 | xargs -0 -P %d -n %d "$@"`, runtime.NumCPU(), files)
		out = append(out, command{name: name, args: append([]string{"sh", "-c", words, sessions}, args...), once: true, seed: true})
	}
	for _, program := range b.yq {
		version, ok := installed(program)
		switch {
		case !ok:
			fmt.Fprintf(os.Stderr, "bench: %s is not installed, and is left out\n", program)
		case strings.Contains(version, "mikefarah"):
			over("yq (Go) --front-matter=extract, a call a file", 1, program, "--front-matter=extract", inGo)
			over("yq (Go), 500 files a call, notes read as YAML", 500, program, "-N", "select(documentIndex == 0) | "+inGo)
		default:
			over("yq (over jq), 500 files a call, notes read as YAML", 500, program, "-r", overJQ)
		}
	}
	if err := exec.Command("python3", "-c", "import yaml").Run(); err != nil {
		fmt.Fprintln(os.Stderr, "bench: python3 with PyYAML is not installed, and is left out")
		return out
	}
	return append(out, command{name: "python3 with PyYAML, a process a core", args: []string{"python3", "-c", script, sessions, "300"}, once: true, seed: true})
}
