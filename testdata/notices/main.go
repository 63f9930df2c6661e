// Command notices writes THIRD_PARTY.md: the modules that are linked into wj, with their versions and licences.
//
//	go run ./testdata/notices > THIRD_PARTY.md
//
// With -check it compares the file with the modules instead, and fails where they differ.
package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
)

func main() {
	check := flag.Bool("check", false, "compare THIRD_PARTY.md with the modules")
	flag.Parse()
	page, err := notices()
	if err == nil && *check {
		var old []byte
		if old, err = os.ReadFile("THIRD_PARTY.md"); err == nil && string(old) != page {
			err = errors.New("THIRD_PARTY.md is out of date: go run ./testdata/notices > THIRD_PARTY.md")
		}
	} else if err == nil {
		fmt.Print(page)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "notices:", err)
		os.Exit(1)
	}
}

// notices is the page: modules by name, then each licence text once.
func notices() (string, error) {
	dirs := map[string]string{} // module with its version → folder
	for _, system := range []string{"linux", "darwin", "windows"} {
		list := exec.Command("go", "list", "-deps", "-json=Module", "./cmd/wj")
		list.Env = append(os.Environ(), "GOOS="+system, "GOARCH=amd64", "CGO_ENABLED=0")
		list.Stderr = os.Stderr
		out, err := list.Output()
		if err != nil {
			return "", fmt.Errorf("list the modules: %w", err)
		}
		d := json.NewDecoder(bytes.NewReader(out))
		for {
			var p struct {
				Module *struct {
					Path, Version, Dir string
					Main               bool
					Replace            *struct{ Version string }
				}
			}
			if err := d.Decode(&p); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				return "", err
			}
			if m := p.Module; m != nil && !m.Main && (m.Replace == nil || m.Replace.Version != "") { // what a folder of ours stands in for is not third-party
				dirs[m.Path+" "+m.Version] = m.Dir
			}
		}
	}
	var page, texts strings.Builder
	page.WriteString("# Third-party notices\n\nMade by `go run ./testdata/notices`. wj is linked with these modules and with the Go standard library.\n\n| module | version | licence |\n| --- | --- | --- |\n")
	number := map[string]int{}
	for _, name := range slices.Sorted(maps.Keys(dirs)) {
		module, version, _ := strings.Cut(name, " ")
		found, err := licences(dirs[name])
		if err != nil {
			return "", fmt.Errorf("%s: %w", module, err)
		}
		var cited []string
		for _, text := range found {
			if number[text] == 0 {
				number[text] = len(number) + 1
				fmt.Fprintf(&texts, "## Licence %d\n\n```text\n%s\n```\n\n", number[text], strings.ReplaceAll(text, "```", "'''"))
			}
			cited = append(cited, fmt.Sprintf("[%d](#licence-%d)", number[text], number[text]))
		}
		fmt.Fprintf(&page, "| %s | %s | %s |\n", module, version, strings.Join(cited, ", "))
	}
	return page.String() + "\n" + strings.TrimSpace(texts.String()) + "\n", nil
}

// licences are the texts of the licence and notice files at the top of a module.
func licences(dir string) ([]string, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, e := range entries {
		name := strings.ToUpper(e.Name())
		if e.IsDir() || !strings.HasPrefix(name, "LICEN") && !strings.HasPrefix(name, "COPYING") && !strings.HasPrefix(name, "NOTICE") || strings.HasSuffix(name, ".GO") {
			continue
		}
		text, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			return nil, err
		}
		lines := strings.Split(strings.ReplaceAll(string(text), "\r\n", "\n"), "\n")
		for i := range lines {
			lines[i] = strings.TrimRight(lines[i], " \t\f")
		}
		out = append(out, strings.TrimSpace(strings.Join(lines, "\n")))
	}
	if len(out) == 0 {
		return nil, errors.New("it has no licence file")
	}
	return out, nil
}
