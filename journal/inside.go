package journal

import (
	"path/filepath"
	"strings"
)

// Inside is a file's path from the journal's root, symbolic links
// resolved on both sides.
func Inside(root, name string) (rel string, inside bool, err error) {
	full, err := filepath.Abs(name)
	if err != nil {
		return "", false, err
	}
	for _, p := range []*string{&full, &root} {
		if resolved, err := filepath.EvalSymlinks(*p); err == nil {
			*p = resolved
		} else if folder, err := filepath.EvalSymlinks(filepath.Dir(*p)); err == nil {
			*p = filepath.Join(folder, filepath.Base(*p)) // a file that is not there yet
		}
	}
	rel, err = filepath.Rel(root, full)
	if err != nil || rel == ".." || strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
		return "", false, nil
	}
	return filepath.ToSlash(rel), true, nil
}
