package writer

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"strings"

	"wj/journal"
	"wj/journal/frontmatter"
)

// Attach copies a file into the journal, beside what is attached to the record already, and
// names it there with its digest. It gives the file to write before the record; nothing of that
// name is ever overwritten.
func (e *Edit) Attach(name string, content []byte) (File, error) {
	if len(content) == 0 {
		return File{}, fmt.Errorf("%s is empty", name)
	}
	if err := e.read(); err != nil {
		return File{}, err
	}
	sum := sha256.Sum256(content)
	digest := hex.EncodeToString(sum[:])
	folder, base := "attachments/"+e.File.ID, plainName(name)
	node, there := e.doc.Child(0, "attachments")
	taken := map[string]bool{}
	if there {
		for c := range e.doc.Children(node) {
			taken[e.doc.Key(c)] = true
			if strings.EqualFold(e.doc.Text(c), digest) {
				return File{}, fmt.Errorf("%s is attached to %s already, as %s", name, e.File.ID, e.doc.Key(c))
			}
		}
	}
	to := path.Join(folder, base)
	for n := 2; ; n++ {
		old, err := fs.ReadFile(e.Journal.FS, to)
		if !taken[to] && (errors.Is(err, fs.ErrNotExist) || err == nil && bytes.Equal(old, content)) {
			break
		}
		ext := path.Ext(base)
		to = path.Join(folder, fmt.Sprintf("%s-%d%s", strings.TrimSuffix(base, ext), n, ext))
	}
	var edit frontmatter.Edit
	var err error
	if there {
		edit, err = frontmatter.AppendKey(&e.doc, node, to, digest)
	} else {
		edit, err = frontmatter.AppendKey(&e.doc, 0, "attachments", "\n  "+frontmatter.Quote(to)+": "+digest)
	}
	if err != nil {
		return File{}, fmt.Errorf("edit %s: %w", e.File.Path, err)
	}
	e.fields = append(e.fields, []string{"attachments"})
	if err := e.make(edit); err != nil {
		return File{}, err
	}
	return File{Path: to, New: content}, e.untouched()
}

// SignedBy names a sign-off that covers the record as it is, which a change of the file would
// end; "" for none.
func (e *Edit) SignedBy() string {
	digest := journal.Digest(e.Source)
	for _, s := range e.Journal.Signoffs.List {
		if s.Void == nil && strings.EqualFold(s.Covers[e.File.Path], digest) {
			return s.ID
		}
	}
	return ""
}

// plainName is a file's name that every system can write: small letters, digits and hyphens,
// with its ending.
func plainName(name string) string {
	name = strings.ToLower(path.Base(strings.ReplaceAll(name, `\`, "/")))
	ext := path.Ext(name)
	plain := func(s string) string {
		s = strings.Map(func(r rune) rune {
			if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '_' {
				return r
			}
			return '-'
		}, s)
		for strings.Contains(s, "--") {
			s = strings.ReplaceAll(s, "--", "-")
		}
		return strings.Trim(s, "-")
	}
	stem, ending := plain(strings.TrimSuffix(name, ext)), plain(strings.TrimPrefix(ext, "."))
	switch stem {
	case "", "con", "prn", "aux", "nul", "com1", "com2", "com3", "com4", "lpt1", "lpt2", "lpt3": // names of devices on Windows
		stem = "file-" + stem
	}
	stem = strings.Trim(stem[:min(len(stem), 60)], "-")
	if ending == "" {
		return stem
	}
	return stem + "." + ending[:min(len(ending), 10)]
}
