package journal

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// Outside refuses a file or a folder that a command is to write its answer to where that is
// a file of a journal (its settings, what it hides from Git or keeps, or anything in a folder of records),
// its own folder or one of records, or lies in a folder of Git: an answer never overwrites a record. Links on the
// way are followed before that is judged.
func Outside(name string) error {
	full, err := filepath.Abs(name)
	if err != nil {
		return fmt.Errorf("write %s: %w", name, err)
	}
	for there, missing := full, ""; ; there, missing = filepath.Dir(there), filepath.Join(filepath.Base(there), missing) {
		if target, err := filepath.EvalSymlinks(there); err == nil {
			full = filepath.Join(target, missing)
			break
		}
		if there == filepath.Dir(there) {
			break
		}
	}
	for part := range strings.SplitSeq(filepath.ToSlash(full), "/") {
		if strings.EqualFold(part, ".git") {
			return fmt.Errorf("write %s: it lies in a folder of Git", name)
		}
	}
	root, err := FindRoot(full)
	if err != nil {
		return nil
	}
	if resolved, err := filepath.EvalSymlinks(root); err == nil {
		root = resolved
	}
	inside, err := filepath.Rel(root, full)
	if err != nil {
		return nil
	}
	inside = filepath.ToSlash(inside)
	folder, _, _ := strings.Cut(inside, "/")
	kind, known := KindNamed(strings.ToLower(folder))
	switch {
	case strings.EqualFold(inside, SettingsFile), strings.HasPrefix(inside, "."):
	case known && kind.Folder() == strings.ToLower(folder):
	default:
		return nil
	}
	if info, err := os.Lstat(full); err == nil && info.IsDir() {
		return fmt.Errorf("write %s: it is a folder of the journal", name)
	} else if err == nil || strings.HasSuffix(inside, ".md") || strings.HasSuffix(inside, ".yaml") {
		return fmt.Errorf("write %s: it is a file of the journal", name)
	}
	return nil
}
