package site

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path"
	"slices"
	"strings"
)

// Manifest is the file of a folder that says which of its files are pages: only those are replaced and removed.
const Manifest = ".wj-site.json"

// ErrForeign says that a folder holds something that is not to be replaced.
var ErrForeign = errors.New("nothing was written")

// manifest are the pages of a folder with the digests that they have, or have while they are being written.
type manifest struct {
	Of    string              `json:"of"`
	Files map[string][]string `json:"files"`
}

// Done is what a Write came to.
type Done struct {
	Written, Same, Removed int
	Kept                   []string // pages that are no longer made, and that somebody changed
}

// Check says whether Write would refuse a folder since it holds the pages of something else.
func Check(dir, of string) error {
	root, err := os.OpenRoot(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	defer root.Close()
	was, err := readManifest(root)
	if err == nil && was.Of != of && len(was.Files) > 0 {
		err = fmt.Errorf("%s holds the pages of %s, not of %s: %w", dir, was.Of, of, ErrForeign)
	}
	return err
}

// Write brings a folder to these files: what differs is written, what is no longer among them is removed. A file that Write
// did not put there, or that was changed since, is neither replaced nor removed; where one is in the way, or the folder is of
// something else, nothing is written (ErrForeign). of says what the pages show.
func Write(dir, of string, files map[string]string) (Done, error) {
	if err := errors.Join(Check(dir, of), os.MkdirAll(dir, 0o777)); err != nil {
		return Done{}, err
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return Done{}, err
	}
	defer root.Close()
	was, err := readManifest(root)
	if err != nil {
		return Done{}, err
	}
	var done Done
	var changed []string
	now := manifest{Of: of, Files: map[string][]string{}}
	for _, name := range slices.Sorted(maps.Keys(files)) {
		sum := digest([]byte(files[name]))
		there, err := digestOf(root, name)
		switch {
		case err != nil:
			return Done{}, fmt.Errorf("%s cannot be replaced (%w): %w", path.Join(dir, name), err, ErrForeign)
		case there == sum:
			done.Same++
		case there != "" && !slices.Contains(was.Files[name], there):
			return Done{}, fmt.Errorf("%s is not as these pages were written: %w", path.Join(dir, name), ErrForeign)
		default:
			changed = append(changed, name)
		}
		now.Files[name] = []string{sum}
	}
	var gone []string
	for _, name := range slices.Sorted(maps.Keys(was.Files)) {
		if _, stays := files[name]; stays || !slices.Contains([]string{".html", ".css"}, path.Ext(name)) {
			continue
		}
		switch there, err := digestOf(root, name); {
		case err == nil && there == "":
		case err == nil && slices.Contains(was.Files[name], there):
			gone = append(gone, name)
		default:
			done.Kept = append(done.Kept, name)
		}
	}
	if len(changed)+len(gone) == 0 && maps.EqualFunc(was.Files, now.Files, slices.Equal) {
		return done, nil
	}
	between := manifest{Of: of, Files: maps.Clone(now.Files)} // should this be interrupted, both are ours
	for name, sums := range was.Files {
		between.Files[name] = append(slices.Clone(between.Files[name]), sums...)
	}
	if err := writeManifest(root, between); err != nil {
		return Done{}, err
	}
	for _, name := range changed {
		if err := place(root, name, []byte(files[name])); err != nil {
			return done, fmt.Errorf("write %s: %w", path.Join(dir, name), err)
		}
		done.Written++
	}
	for _, name := range gone {
		if err := root.Remove(name); err != nil {
			return done, err
		}
		done.Removed++
		_ = root.Remove(path.Dir(name)) // where it was the last one
	}
	return done, writeManifest(root, now)
}

func digest(content []byte) string {
	sum := sha256.Sum256(content)
	return hex.EncodeToString(sum[:])
}

// digestOf is the digest of a file, "" where there is none. Anything but a file is an error.
func digestOf(root *os.Root, name string) (string, error) {
	info, err := root.Lstat(name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "", nil
	case err != nil:
		return "", err
	case !info.Mode().IsRegular():
		return "", errors.New("it is no plain file")
	}
	content, err := root.ReadFile(name)
	return digest(content), err
}

// place puts a file into its place whole, or not at all.
func place(root *os.Root, name string, content []byte) error {
	if folder := path.Dir(name); folder != "." {
		if err := root.MkdirAll(folder, 0o777); err != nil {
			return err
		}
	}
	temp := path.Join(path.Dir(name), ".wj-tmp-page")
	if err := root.WriteFile(temp, content, 0o666); err != nil {
		_ = root.Remove(temp)
		return err
	}
	return root.Rename(temp, name)
}

func readManifest(root *os.Root) (manifest, error) {
	m := manifest{Files: map[string][]string{}}
	text, err := root.ReadFile(Manifest)
	if errors.Is(err, fs.ErrNotExist) {
		return m, nil
	}
	if err == nil {
		err = json.Unmarshal(text, &m)
	}
	if err != nil {
		return m, fmt.Errorf("read %s: %w: %w", Manifest, err, ErrForeign)
	}
	return m, nil
}

func writeManifest(root *os.Root, m manifest) error {
	text, err := json.MarshalIndent(m, "", " ")
	if err != nil {
		return err
	}
	return place(root, Manifest, append(text, '\n'))
}

// Report is what a Write came to in a sentence: "212 pages: 3 written, 1 removed".
func (d Done) Report() string {
	text := fmt.Sprintf("%d pages", d.Written+d.Same)
	switch {
	case d.Written+d.Removed == 0:
		text += ", none changed"
	default:
		text += fmt.Sprintf(": %d written", d.Written)
		if d.Removed > 0 {
			text += fmt.Sprintf(", %d removed", d.Removed)
		}
	}
	if len(d.Kept) > 0 {
		text += "; no longer made, and left since somebody changed it: " + strings.Join(d.Kept, ", ")
	}
	return text
}
