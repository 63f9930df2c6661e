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

// BagReadme says what in a bag is proven by what, for somebody without wj. maker
// is who signs it, with signer; nil where nobody does.
func BagReadme(payload []BagFile, found *Report, history bool, owner, maker string, signer *Signer) []byte {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("What stock tools prove, without wj\n")
	line("These files are what was packed:\n\n    sha256sum -c manifest-sha256.txt\n    sha256sum -c tagmanifest-sha256.txt\n")
	switch {
	case signer != nil && signer.Ext() == ".sig":
		line("%s packed them, all of them, with the report, and nothing was left out or put in since:\n", maker)
		line("    ssh-keygen -Y verify -f signers -I %s -n %s -s %s.sig < %s\n", maker, Namespace, TagManifest, TagManifest)
	case signer != nil:
		line("%s packed them, all of them, with the report, and nothing was left out or put in since:\n\n    gpg --verify %s.asc %s\n", maker, TagManifest, TagManifest)
	case owner != "":
		line("Nobody signed that: who packed them, and whether somebody packed them anew, is not shown.\n")
	}
	given := map[string]Judged{}
	for _, s := range found.Signoffs {
		given[s.Signoff.Path] = s
	}
	signed := map[string]bool{}
	for _, f := range payload {
		signed[f.Name] = true
	}
	n := 0
	for _, f := range payload {
		s, ok := given[f.Name]
		if !ok || !signed[f.Name+".sig"] {
			continue
		}
		if n++; n == 1 {
			line("People signed these statements with a key of the list signers; each line prints the good signature, and\nof the files that are here and that the statement covers, whether they are as they were signed:\n")
		}
		line("%s, %s of %s:\n", s.Signoff.By, s.Signoff.Decision, s.Signoff.Of)
		line("    ssh-keygen -Y verify -f signers -I %s -n %s -s data/%s.sig < data/%s", s.Signoff.By, Namespace, f.Name, f.Name)
		line("    (cd data && sed -n 's/^  \\(.*\\.[a-z]*\\): *\\([0-9a-f]\\{64\\}\\)$/\\2  \\1/p' %s | sha256sum -c --ignore-missing)\n", f.Name)
	}
	if n == 0 {
		line("No statement in it has an SSH signature: who signed is not verified.\n")
	} else {
		line("Whose keys these are, the list says: ask the people themselves for theirs, by another way than this bundle.\n")
	}
	if history {
		line("The history is in history.bundle:\n\n    git clone history.bundle journal\n\nWith wj, the whole is judged again, to the same answer:\n\n    wj -C data verify")
		return []byte(b.String())
	}
	line("What depends on the word of whoever made this\n")
	line("The history is not in it, so nobody can see here when something came, what was there before,\nwhat was deleted, and by whose rules it was judged. verification.txt and verification.json are\nthe maker's report on that.")
	if owner != "" {
		line("It is an extract: only the water of %s.", owner)
	}
	line("\nSign-offs in it by that report; what is missing here was taken out since:\n")
	for _, s := range found.Signoffs {
		line("    %s: %s by %s, %s", s.Signoff.Path, s.Signoff.Decision, s.Signoff.By, s.Standing)
	}
	if len(found.Signoffs) == 0 {
		line("    none")
	}
	if signer == nil {
		line("\nThe report is not signed.")
	}
	return []byte(b.String())
}
