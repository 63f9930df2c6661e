// Package workspace names the journals that are asked together: each stays a
// journal of its own, judged by its own rules.
//
//	# wj-workspace.yaml
//	journals:
//	  tarrow-lane: clients/tarrow-lane
//	  mill-lane: ../mill-lane
//
//	members, err := workspace.Read("wj-workspace.yaml")
//	for _, m := range members {
//		fmt.Println(m.Name, m.Dir) // tarrow-lane /home/ines/clients/tarrow-lane
//	}
package workspace

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"wj/journal"
	"wj/journal/frontmatter"
)

// File is the name of a workspace file.
const File = "wj-workspace.yaml"

// Member is one journal of several: the name that answers give it, and its folder.
type Member struct{ Name, Dir string }

// Find is the workspace file of a folder: at it or above it, and nearer than any
// journal. A journal inside a workspace is asked by itself.
func Find(dir string) (file string, ok bool) {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return "", false
	}
	for at := abs; ; at = filepath.Dir(at) {
		for _, name := range []string{journal.SettingsFile, File} {
			if info, err := os.Lstat(filepath.Join(at, name)); err == nil && info.Mode().IsRegular() {
				return filepath.Join(at, name), name == File
			}
		}
		if at == filepath.Dir(at) {
			return "", false
		}
	}
}

// Read reads a workspace file: journals by name, each with its folder, relative
// to that of the file. The error says the line.
func Read(file string) ([]Member, error) {
	src, err := journal.Dir(filepath.Dir(file)).ReadIfThere(filepath.Base(file))
	if err == nil && src == nil {
		err = fs.ErrNotExist
	}
	if err != nil {
		return nil, fmt.Errorf("read the workspace: %w", err)
	}
	var d frontmatter.Document
	d.ParseYAML(src)
	fail := func(at int, format string, args ...any) error {
		line, column := d.Position(at)
		return journal.Hint("journals: {NAME: FOLDER, …}", "%s:%d:%d: %s", file, line, column, fmt.Sprintf(format, args...))
	}
	if d.Failed() {
		for _, p := range d.Problems {
			if !p.Warning {
				return nil, fail(p.Start, "%s", p.Message)
			}
		}
	}
	list := int32(-1)
	if d.OK() {
		for n := range d.Children(0) {
			if d.Key(n) != "journals" {
				return nil, fail(int(d.Nodes[n].KeyStart), "%q is no key of a workspace", d.Key(n))
			}
			list = n
		}
	}
	if list < 0 || d.Nodes[list].Kind != frontmatter.Mapping {
		return nil, fail(0, "it names no journals")
	}
	var out []Member
	for n := range d.Children(list) {
		name, dir := d.Key(n), d.Text(n)
		if d.Nodes[n].Kind != frontmatter.Scalar || dir == "" {
			return nil, fail(int(d.Nodes[n].Start), "%s names no folder", name)
		}
		if strings.TrimSpace(name) == "" {
			return nil, fail(int(d.Nodes[n].Start), "a journal has no name")
		}
		if !filepath.IsAbs(dir) {
			dir = filepath.Join(filepath.Dir(file), filepath.FromSlash(dir))
		}
		out = append(out, Member{name, dir})
	}
	if len(out) == 0 {
		return nil, fail(0, "it names no journals")
	}
	return out, nil
}

// Of are the journals of folders that were named, each by its folder's name; by
// more of the path where two are called alike. A folder with a workspace stands
// for its journals.
func Of(dirs []string) ([]Member, error) {
	var out []Member
	for _, dir := range dirs {
		file := dir
		ok := filepath.Base(dir) == File
		if !ok {
			file, ok = Find(dir)
		}
		if ok {
			more, err := Read(file)
			if err != nil {
				return nil, err
			}
			out = append(out, more...)
			continue
		}
		root, err := journal.FindRoot(dir)
		if errors.Is(err, journal.ErrNoJournal) {
			root, err = filepath.Abs(dir) // the command says what is wrong with it; a bare repository has no file
		}
		if err != nil {
			return nil, err
		}
		out = append(out, Member{filepath.Base(root), dir})
	}
	return distinct(out)
}

// distinct lengthens the names of journals that are called alike, and takes each
// folder once.
func distinct(list []Member) ([]Member, error) {
	var out []Member
	at := map[string]int{} // folders
	for _, m := range list {
		full, err := filepath.Abs(m.Dir)
		if err != nil {
			return nil, fmt.Errorf("find the journals: %w", err)
		}
		if resolved, err := filepath.EvalSymlinks(full); err == nil {
			full = resolved
		}
		if _, twice := at[full]; twice {
			continue
		}
		at[full] = len(out)
		out = append(out, m)
	}
	for parts := 2; parts < 9; parts++ {
		count := map[string]int{}
		for _, m := range out {
			count[m.Name]++
		}
		for full, i := range at {
			if count[out[i].Name] > 1 {
				p := strings.Split(filepath.ToSlash(full), "/")
				out[i].Name = strings.Join(p[max(0, len(p)-parts):], "/")
			}
		}
	}
	return out, nil
}
