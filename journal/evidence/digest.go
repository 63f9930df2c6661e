package evidence

import (
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/frontmatter"
)

// The parts of the settings that a sign-off names by digest: who decides, and
// what the computation of a dose reads.
var (
	policySections  = []string{"policy"}
	computeSections = []string{"limits", "jurisdictions", "restricted", "scale", "lint"}
)

// PolicyDigest is the SHA-256 of the journal's policy: its values as sorted
// lines "policy.changes.reviewers: 1". Spelling and order in the file change
// nothing.
func PolicyDigest(fsys fs.FS) string { return leafDigest(fsys, policySections, nil) }

// SettingsDigest is the SHA-256 of what the computation of a dose reads in
// wj.yaml: limits, jurisdictions, restricted substances, the steps of the
// scale, and the thresholds of the rules for doses.
func SettingsDigest(fsys fs.FS) string {
	return leafDigest(fsys, computeSections, func(name string) bool {
		return !strings.HasPrefix(name, "lint\x00") || strings.HasPrefix(name, "lint\x00dose/")
	})
}

func leafDigest(fsys fs.FS, sections []string, keep func(string) bool) string {
	leaves := Leaves(fsys, journal.SettingsFile, sections)
	var b strings.Builder
	for _, name := range slices.Sorted(maps.Keys(leaves)) {
		if keep == nil || keep(name) {
			fmt.Fprintf(&b, "%s: %s\n", strings.ReplaceAll(name, "\x00", "."), leaves[name])
		}
	}
	return journal.Digest([]byte(b.String()))
}

// Leaves are the values below some keys of a file by the keys that lead to
// them, parted by NUL. A list of plain values is one value. A file that cannot
// be read has none.
func Leaves(fsys fs.FS, path string, keys []string) map[string]string {
	src, err := fs.ReadFile(fsys, path)
	if err != nil || len(src) > frontmatter.MaxFile {
		return map[string]string{}
	}
	return leavesOf(src, path, keys)
}

func leavesOf(src []byte, path string, keys []string) map[string]string {
	out := map[string]string{}
	var d frontmatter.Document
	if path == journal.SettingsFile {
		d.ParseYAML(src)
	} else {
		d.Parse(src)
	}
	var walk func(node int32, at string)
	walk = func(node int32, at string) {
		n := d.Nodes[node]
		if n.Kind == frontmatter.Sequence && n.First != 0 && d.Nodes[n.First].Kind == frontmatter.Scalar {
			var items []string
			for c := range d.Children(node) {
				items = append(items, d.Text(c))
			}
			out[at] = "[" + strings.Join(items, ", ") + "]"
			return
		}
		if n.Kind == frontmatter.Scalar || n.First == 0 {
			out[at] = d.Text(node)
			return
		}
		i := 0
		seen := repeats{}
		for c := range d.Children(node) {
			step := seen.key(d.Key(c))
			if n.Kind == frontmatter.Sequence {
				step = fmt.Sprint(i)
				i++
			}
			walk(c, at+"\x00"+step)
		}
	}
	if !d.OK() {
		return out
	}
	seen := repeats{}
	for c := range d.Children(0) {
		if key := d.Key(c); slices.Contains(keys, key) {
			walk(c, seen.key(key))
		}
	}
	return out
}

// repeats names a key that stands twice in one mapping another each time, so that
// none hides behind the other: which of the two a program reads differs.
type repeats map[string]int

func (r repeats) key(key string) string {
	r[key]++
	if n := r[key]; n > 1 {
		return fmt.Sprintf("%s\x00(%d)", key, n)
	}
	return key
}
