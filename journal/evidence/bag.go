package evidence

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// BagFile is one file of a bag, by its path from the bag's folder.
type BagFile struct {
	Name    string
	Content []byte
}

// Info is one line of a bag's description: "Source-Organization", "…".
type Info struct{ Label, Value string }

// Bag puts files into a bag as RFC 8493 describes it: the payload below data/
// with a manifest that sha256sum -c checks in the bag's folder, and the tag
// files (what is given, the declaration, bag-info.txt) with a manifest of
// their own. The result is sorted by name and the same for the same input. The
// error names a file whose name is not safe to unpack anywhere.
func Bag(payload, tags []BagFile, info []Info) ([]BagFile, error) {
	var out []BagFile
	octets := 0
	for _, f := range payload {
		if err := safeName(f.Name); err != nil {
			return nil, err
		}
		octets += len(f.Content)
		out = append(out, BagFile{"data/" + f.Name, f.Content})
	}
	manifest := manifestOf(out)
	// RFC 8493, 2.1.1 and 2.2.2.
	tags = append(slices.Clone(tags),
		BagFile{"bagit.txt", []byte("BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")},
		BagFile{payloadManifest, manifest},
		BagFile{"bag-info.txt", bagInfo(append(slices.Clone(info), Info{"Payload-Oxum", fmt.Sprintf("%d.%d", octets, len(payload))}))})
	for _, f := range tags {
		if err := safeName(f.Name); err != nil {
			return nil, err
		}
	}
	out = append(out, tags...)
	out = append(out, BagFile{TagManifest, manifestOf(tags)})
	slices.SortFunc(out, func(a, b BagFile) int { return strings.Compare(a.Name, b.Name) })
	for i := 1; i < len(out); i++ {
		if strings.EqualFold(out[i].Name, out[i-1].Name) {
			return nil, fmt.Errorf("put %s into a bag: there are two files of that name", out[i].Name)
		}
	}
	return out, nil
}

// The manifests of a bag (RFC 8493, 2.1.3 and 2.2.1), and the signature of whoever
// made it under the second, which holds the digest of the first.
const (
	payloadManifest = "manifest-sha256.txt"
	TagManifest     = "tagmanifest-sha256.txt"
)

// Repacked finds what in an unpacked bag is not what its manifests list.
func Repacked(bag string) []Finding {
	fsys := os.DirFS(bag)
	listed := map[string]string{}
	for _, manifest := range []string{payloadManifest, TagManifest} {
		content, _ := fs.ReadFile(fsys, manifest) // where it is not there, nothing is listed
		for line := range strings.Lines(string(content)) {
			if digest, name, ok := strings.Cut(strings.TrimRight(line, "\r\n"), "  "); ok {
				listed[name] = strings.ToLower(digest)
			}
		}
	}
	var out []Finding
	add := func(name, text string) {
		out = append(out, Finding{Subject: name, Text: text + " (sha256sum -c)", Help: "ask for the bundle again", Cause: "not what was packed"})
	}
	for _, name := range slices.Sorted(maps.Keys(listed)) {
		sum := sha256.New()
		f, err := fsys.Open(name)
		if err == nil {
			_, err = io.Copy(sum, f)
			err = errors.Join(err, f.Close())
		}
		if err != nil || hex.EncodeToString(sum.Sum(nil)) != listed[name] {
			add(name, "it is not as it was packed")
		}
	}
	_ = fs.WalkDir(fsys, "data", func(name string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && listed[name] == "" {
			add(name, "it was not packed")
		}
		return nil
	})
	return out
}

// manifestOf lists files as sha256sum prints them, sorted by name.
func manifestOf(files []BagFile) []byte {
	lines := make([]string, len(files))
	for i, f := range files {
		sum := sha256.Sum256(f.Content)
		lines[i] = hex.EncodeToString(sum[:]) + "  " + f.Name + "\n"
	}
	slices.SortFunc(lines, func(a, b string) int { return strings.Compare(a[64:], b[64:]) })
	return []byte(strings.Join(lines, ""))
}

// bagInfo writes "Label: value" lines; a value stays on its line.
func bagInfo(info []Info) []byte {
	var b strings.Builder
	for _, i := range info {
		value := strings.Join(strings.Fields(strings.Map(func(r rune) rune {
			if unicode.IsControl(r) {
				return ' '
			}
			return r
		}, i.Value)), " ")
		if value != "" {
			b.WriteString(i.Label + ": " + value + "\n")
		}
	}
	return []byte(b.String())
}

// reservedNames cannot be files on Windows (Naming Files, Paths, and
// Namespaces, its documentation; from memory).
var reservedNames = []string{"con", "prn", "aux", "nul", "com1", "com2", "com3", "com4", "com5", "com6", "com7", "com8", "com9", "lpt1", "lpt2", "lpt3", "lpt4", "lpt5", "lpt6", "lpt7", "lpt8", "lpt9"}

// safeName refuses a path that could lead out of the folder where the bag is
// unpacked, on any system, or whose line in the manifest could be misread.
func safeName(name string) error {
	fail := func(why string) error { return fmt.Errorf("put %q into a bag: %s", name, why) }
	if !fs.ValidPath(name) || name == "." || !utf8.ValidString(name) {
		return fail("it is not a path below the journal")
	}
	if strings.ContainsAny(name, "\\:*?\"<>|%") || strings.ContainsFunc(name, func(r rune) bool {
		return unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || unicode.Is(unicode.Bidi_Control, r)
	}) {
		return fail("its name has characters that not every system can unpack")
	}
	for part := range strings.SplitSeq(name, "/") {
		stem, _, _ := strings.Cut(strings.ToLower(part), ".")
		if strings.HasSuffix(part, ".") || strings.HasSuffix(part, " ") || strings.EqualFold(part, ".git") || slices.Contains(reservedNames, stem) {
			return fail("not every system can unpack a file of this name")
		}
	}
	return nil
}

// Zip writes the files of a bag below one folder as a ZIP archive with one
// time for all, so that the same bag gives the same bytes.
func Zip(w io.Writer, folder string, files []BagFile, when time.Time) error {
	if err := safeName(folder); err != nil || strings.Contains(folder, "/") {
		return fmt.Errorf("write the archive: %q is no name for its folder", folder)
	}
	z := zip.NewWriter(w)
	for _, f := range files {
		header := &zip.FileHeader{Name: path.Join(folder, f.Name), Method: zip.Deflate, Modified: when.UTC().Truncate(2 * time.Second)}
		header.SetMode(0o644)
		entry, err := z.CreateHeader(header)
		if err == nil {
			_, err = io.Copy(entry, bytes.NewReader(f.Content))
		}
		if err != nil {
			return fmt.Errorf("write %s into the archive: %w", f.Name, err)
		}
	}
	if err := z.Close(); err != nil {
		return fmt.Errorf("end the archive: %w", err)
	}
	return nil
}
