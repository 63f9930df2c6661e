package evidence

import (
	"bytes"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/overlay"
)

// Payload collects the journal's files byte for byte: settings, records,
// signatures beside them, and the attachments that they name.
func Payload(j *journal.Journal, keep func(journal.File) bool) ([]BagFile, error) {
	content := map[string][]byte{}
	read := func(p string) error {
		if _, there := content[p]; there {
			return nil
		}
		src, err := fs.ReadFile(j.FS, p)
		if err != nil {
			return fmt.Errorf("read %s: %w", p, err)
		}
		content[p] = src
		return nil
	}
	if err := read(journal.SettingsFile); err != nil {
		return nil, err
	}
	for _, f := range j.Files {
		if !keep(f) {
			continue
		}
		if err := read(f.Path); err != nil {
			return nil, err
		}
		for _, name := range SignatureFiles(f.Path) {
			if src, err := readSmall(j.FS, name); err == nil {
				content[name] = src
			}
		}
		if !bytes.Contains(content[f.Path], []byte("attachments")) {
			continue
		}
		_, record := Read(f, content[f.Path])
		if record == nil {
			continue
		}
		for _, name := range slices.Sorted(maps.Keys(record.Base().Attachments)) {
			for _, p := range []string{path.Join(path.Dir(f.Path), name), path.Clean(name)} {
				if fs.ValidPath(p) && read(p) == nil {
					break
				}
			}
		}
	}
	out := make([]BagFile, 0, len(content))
	for _, p := range slices.Sorted(maps.Keys(content)) {
		out = append(out, BagFile{Name: p, Content: content[p]})
	}
	return out, nil
}

// Overlaid is a journal's files with those of a payload laid over them: what is
// judged is what is packed, whatever happens to the files meanwhile.
func Overlaid(j *journal.Journal, payload []BagFile) fs.FS {
	files := map[string][]byte{}
	for _, f := range payload {
		files[f.Name] = f.Content
	}
	return overlay.New(j.FS, files)
}

// OwnersIn are all who ever owned a site.
func OwnersIn(j *journal.Journal) []string {
	owners := map[string]bool{}
	for _, s := range j.Sites.List {
		owners[s.Owner] = true
		for _, o := range s.Owners {
			owners[o.Owner] = true
		}
	}
	return slices.Sorted(maps.Keys(owners))
}

// BagReadme says what in a bag is proven by what.
func BagReadme(payload []BagFile, history bool, owner string, signed bool) []byte {
	var b strings.Builder
	b.WriteString("What stock tools prove, without wj\n\n")
	b.WriteString("These files are what was packed:\n\n    sha256sum -c manifest-sha256.txt\n    sha256sum -c tagmanifest-sha256.txt\n\n")
	var signatures []string
	for _, f := range payload {
		if strings.HasSuffix(f.Name, ".md.sig") {
			signatures = append(signatures, f.Name)
		}
	}
	if len(signatures) > 0 {
		b.WriteString("A person signed a statement with a key of the list `signers`. PERSON is the name after by: in the statement:\n\n")
		for _, name := range signatures {
			fmt.Fprintf(&b, "    ssh-keygen -Y verify -f signers -I PERSON -n %s -s data/%s < data/%s\n", Namespace, name, strings.TrimSuffix(name, ".sig"))
		}
		b.WriteString("\nA statement covers files: compare its digests with sha256sum of those files.\nWhose keys these are, the list says; ask the people themselves.\n\n")
	} else {
		b.WriteString("No statement in it has an SSH signature: who signed is not verified.\n\n")
	}
	if history {
		b.WriteString("The history is in history.bundle:\n\n    git clone history.bundle journal\n\nWith wj, the whole is judged again, to the same answer:\n\n    wj -C data verify\n")
		return []byte(b.String())
	}
	b.WriteString("What depends on the word of whoever made this\n\n")
	b.WriteString("The history is not in it, so nobody can see here when something came, what was there before,\nwhat was deleted, and by whose rules it was judged. verification.txt and verification.json are\nthe maker's report on that.\n")
	if owner != "" {
		fmt.Fprintf(&b, "It is an extract: only the water of %s.\n", owner)
	}
	if signed {
		fmt.Fprintf(&b, "\nThe report is signed by its maker:\n\n    ssh-keygen -Y verify -f signers -I PERSON -n %s -s verification.json.sig < verification.json\n", Namespace)
	} else {
		b.WriteString("\nThe report is not signed.\n")
	}
	return []byte(b.String())
}
