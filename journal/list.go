package journal

import (
	"errors"
	"fmt"
	"io/fs"
	"path"
	"runtime"
	"slices"
	"sort"
	"strings"
	"sync"
	"sync/atomic"
)

// folder is a folder to list, and what is in it.
type folder struct {
	kind     Kind
	path     string
	depth    int
	files    []File
	below    []string
	problems []Problem
	err      error
}

// maxFolderDepth bounds the folders below a kind.
const maxFolderDepth = 12

// list finds the record files of every kind, level by level, the folders of a
// level on every core.
func (j *Journal) list(check bool) error {
	var level, all []*folder
	for _, k := range Kinds() {
		level = append(level, &folder{kind: k, path: k.Folder()})
	}
	for len(level) > 0 {
		j.listLevel(level)
		all = append(all, level...)
		var next []*folder
		for _, f := range level {
			if f.err != nil && !(f.depth == 0 && errors.Is(f.err, fs.ErrNotExist)) {
				return fmt.Errorf("list %s: %w", f.path, f.err)
			}
			for _, below := range f.below {
				next = append(next, &folder{kind: f.kind, path: below, depth: f.depth + 1})
			}
		}
		level = next
	}
	slices.SortFunc(all, func(a, b *folder) int { return strings.Compare(a.path, b.path) })
	n := 0
	for _, f := range all {
		n += len(f.files)
	}
	j.Files = make([]File, 0, n)
	for _, f := range all {
		j.Files = append(j.Files, f.files...)
		if check {
			j.Problems = append(j.Problems, f.problems...)
		}
	}
	byPath := func(a, b File) int { return strings.Compare(a.Path, b.Path) }
	if !slices.IsSortedFunc(j.Files, byPath) { // a record beside a folder
		slices.SortFunc(j.Files, byPath)
	}
	if check {
		j.Problems = append(j.Problems, j.SameNames()...)
	}
	return nil
}

// listLevel lists folders on every core.
func (j *Journal) listLevel(level []*folder) {
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(level)) {
		wait.Go(func() {
			for i := int(next.Add(1)) - 1; i < len(level); i = int(next.Add(1)) - 1 {
				level[i].list(j.FS)
			}
		})
	}
	wait.Wait()
}

// list reads one folder.
func (f *folder) list(fsys fs.FS) {
	if f.depth > maxFolderDepth {
		f.note("format/id", f.path, "folders are nested too deep", "keep records within a few folders")
		return
	}
	entries, err := fs.ReadDir(fsys, f.path)
	if err != nil {
		f.err = err
		return
	}
	f.files = make([]File, 0, len(entries))
	for _, e := range entries {
		name := e.Name()
		switch {
		case strings.HasPrefix(name, "."):
			continue
		case e.IsDir():
			f.below = append(f.below, f.path+"/"+name)
			continue
		case !strings.HasSuffix(name, ".md") || strings.EqualFold(name, "README.md"):
			continue
		}
		p := f.path + "/" + name
		if !e.Type().IsRegular() {
			f.note(RuleValue, p, "is not a regular file and is not read", "put the record itself here, not a link")
			continue
		}
		id := p[len(f.path)+1 : len(p)-len(".md")]
		if !ValidID(id, f.kind) {
			f.note(RuleID, p, fmt.Sprintf("%q cannot be a record id", id), "rename the file: lower-case letters, digits and hyphens"+upperHint(f.kind))
		}
		f.files = append(f.files, File{f.kind, id, p})
	}
}

func (f *folder) note(rule, path, message, help string) {
	f.problems = append(f.problems, Problem{Rule: rule, Path: path, Line: 1, Column: 1, Message: message, Help: help})
}

// SameNames reports records of one kind whose ids are the same, or would be on a
// file system that takes capitals for small letters, and folders and settings
// that would be taken there for the journal's.
func (j *Journal) SameNames() []Problem {
	var problems []Problem
	note := func(p, message, help string) {
		problems = append(problems, Problem{Rule: RuleID, Path: p, Line: 1, Column: 1, Message: message, Help: help})
	}
	const capitals = "differs from %s in capitals alone, which some file systems do not distinguish"
	entries, err := fs.ReadDir(j.FS, ".")
	for _, e := range entries {
		name := e.Name()
		k, ok := KindNamed(strings.ToLower(name))
		switch {
		case err != nil, name == strings.ToLower(name):
		case name != SettingsFile && strings.EqualFold(name, SettingsFile):
			note(name, fmt.Sprintf(capitals, SettingsFile), "rename it")
		case ok && k.Folder() == strings.ToLower(name) && e.IsDir():
			note(name, fmt.Sprintf(capitals, k.Folder()), "rename the folder")
		}
	}
	var seen map[string]string
	for i, f := range j.Files {
		if i == 0 || f.Kind != j.Files[i-1].Kind {
			if seen = nil; j.ascend(i) {
				continue
			}
			seen = map[string]string{}
		} else if seen == nil {
			continue
		}
		key := strings.ToLower(f.ID)
		other, taken := seen[key]
		if !taken {
			seen[key] = f.Path
			continue
		}
		message := "has the same id as " + other
		if strings.TrimSuffix(path.Base(other), ".md") != f.ID {
			message = fmt.Sprintf(capitals, other)
		}
		note(f.Path, message, "rename one of the two")
	}
	return problems
}

// ascend reports whether each id of a kind, whose files begin at one, comes after the one
// before, capitals or not: then no two are the same, as where folders go by date.
func (j *Journal) ascend(first int) bool {
	before := ""
	for _, f := range j.Files[first:] {
		if f.Kind != j.Files[first].Kind {
			break
		}
		key := strings.ToLower(f.ID)
		if key <= before {
			return false
		}
		before = key
	}
	return true
}

// idIndex finds records by id. That of a kind is made when first asked for, and shared by
// copies of a Journal.
type idIndex struct {
	once  [numKinds]sync.Once
	paths [numKinds]map[string]string // id → path
}

func (j *Journal) idsOf(k Kind) map[string]string {
	if j.index == nil { // not a journal that was loaded
		return nil
	}
	j.index.once[k].Do(func() {
		ids := map[string]string{}
		if k == KindSession {
			ids = make(map[string]string, len(j.Files))
		}
		for _, f := range j.Files {
			if f.Kind == k {
				ids[f.ID] = f.Path
			}
		}
		j.index.paths[k] = ids
	})
	return j.index.paths[k]
}

func upperHint(k Kind) string {
	if k == KindLot {
		return " (capitals are allowed for lots)"
	}
	return ""
}

// Exists reports whether there is a record of the kind with the id.
func (j *Journal) Exists(k Kind, id string) bool {
	_, ok := j.idsOf(k)[id]
	return ok
}

// IDs lists the ids of a kind, sorted.
func (j *Journal) IDs(k Kind) []string {
	ids := make([]string, 0, len(j.idsOf(k)))
	for id := range j.idsOf(k) {
		ids = append(ids, id)
	}
	sort.Strings(ids)
	return ids
}

// Find finds the files whose record has the id, of any kind.
func (j *Journal) Find(id string) []File {
	var out []File
	for _, k := range Kinds() {
		if p, ok := j.idsOf(k)[id]; ok {
			out = append(out, File{k, id, p})
		}
	}
	return out
}
