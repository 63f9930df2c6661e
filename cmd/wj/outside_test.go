package main

import (
	"bytes"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
)

// TestAnswersOverwriteNoRecord asks every command that writes its answer to a
// file or a folder to write it over a record, the settings or something of Git,
// by name and through a link. Each refuses, and nothing changes. A new flag that
// takes a FILE or a DIR must be listed here as one that is read, or pass.
//
// It does not run beside the scripts: a run in this process ends what another one has open.
func TestAnswersOverwriteNoRecord(t *testing.T) {
	read := []string{"dir", "map", "key", "stdin-path"}
	words := map[string]string{ // what a command needs to get as far as writing
		"bundle --out":     "",
		"chart --output":   "sulfate --site well --format svg",
		"due --output":     "--ical --all-owners",
		"explain --site":   "",
		"export --output":  "--all-owners",
		"import --output":  "--guess table.csv",
		"lint --baseline":  "--write-baseline",
		"mail --output":    "2026-06-01-bore --to tove@tarrow-lane.example",
		"man --out":        "",
		"map --output":     "--as geojson --all-owners",
		"page --output":    "bench --site well --tests pH --by ines",
		"sheet --output":   "2026-06-02-bitter --volume 1000L",
		"site --output":    "",
		"summary --output": "--owner tarrow-lane --format html",
	}
	dir := filepath.Join(t.TempDir(), "j")
	if err := os.CopyFS(dir, os.DirFS("../../testdata/small-brewery")); err != nil {
		t.Fatal(err)
	}
	table := filepath.Join(t.TempDir(), "table.csv")
	settings, err := os.ReadFile(filepath.Join(dir, "wj.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		table: "site,date,pH\nwell,2026-06-01,7.4\n", filepath.Join(dir, "wj.yaml"): strings.Replace(string(settings), "reviewers: 1", "reviewers: 0", 1),
		filepath.Join(dir, ".git/config"): "[core]\n", filepath.Join(dir, "sessions/wj.1"): "kept\n", filepath.Join(dir, "sessions/kept.zip"): "kept\n", filepath.Join(dir, "sessions/index.html"): "kept\n",
	} {
		if err := os.MkdirAll(filepath.Dir(name), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	link := filepath.Join(t.TempDir(), "link")
	if err := os.Symlink(dir, link); err != nil {
		t.Skip(err)
	}
	state := func() map[string]string {
		all := map[string]string{}
		if err := filepath.WalkDir(dir, func(name string, e fs.DirEntry, err error) error {
			if err != nil || e.IsDir() {
				all[name] = "folder"
				return err
			}
			content, err := os.ReadFile(name)
			all[name] = string(content)
			return err
		}); err != nil {
			t.Fatal(err)
		}
		return all
	}
	before := state()
	refuses := func(command, flag string, folder bool) {
		more, known := words[command+" --"+flag]
		if !known {
			t.Errorf("wj %s --%s: takes a file; say here whether it is read, or what it needs to write", command, flag)
			return
		}
		delete(words, command+" --"+flag)
		places := []string{"sessions/2026-06-01-well.md", "wj.yaml", ".git/config", ".git/new", ".git/new/deeper"}
		if folder {
			places = []string{".git/new/deeper", "sessions", "."}
		} else if command == "bundle" {
			places = []string{"sessions/kept.zip", ".git/new.zip"}
		}
		for _, place := range places {
			for _, root := range []string{dir, link} {
				to := filepath.Join(root, place)
				args := []string{"-C", dir, command}
				for _, w := range strings.Fields(more) {
					args = append(args, strings.Replace(w, "table.csv", table, 1))
				}
				if args = append(args, "--"+flag, to); command == "bundle" {
					args = append(args[:len(args)-2], to)
				}
				var out, talk bytes.Buffer
				status := run(args, strings.NewReader(""), &out, &talk, func(name string) string {
					return map[string]string{"WJ_NOW": "2026-06-03T09:00+03:00", "WJ_BY": "ines"}[name]
				})
				said := talk.String()
				if ok := strings.Contains(said, "of the journal") || strings.Contains(said, "it lies in a folder of Git") || strings.Contains(said, "holds files already"); status != statusFailed || !ok {
					t.Errorf("wj %s: status %d, %s", strings.Join(args, " "), status, said)
				}
			}
		}
		if after := state(); !maps.Equal(before, after) {
			t.Errorf("wj %s changed the journal", command)
			before = after
		}
	}
	var cl commandLine
	parser, err := kong.New(&cl, kong.Vars{"version": ""}, kong.ExplicitGroups(commandGroups))
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range parser.Model.Children {
		for _, f := range n.Flags {
			if p := f.PlaceHolder; (p == "FILE" || p == "DIR" || f.Short == 'o') && !slices.Contains(read, f.Name) {
				refuses(n.Name, f.Name, p == "DIR")
			}
		}
	}
	refuses("bundle", "out", false)
	for _, as := range []string{"parquet", "datapackage"} {
		words["export --output"] = "--all-owners --as " + as
		refuses("export", "output", true)
	}
	for left := range words {
		t.Errorf("wj %s is no more", left)
	}
}
