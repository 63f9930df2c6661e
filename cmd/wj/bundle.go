package main

import (
	"bytes"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/audit"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/journal/safefile"
	"wj/render"
)

type bundleCmd struct {
	Out   string `arg:"" help:"The archive to write, such as audit-2026.zip; it must not exist."`
	At    string `placeholder:"REV" help:"The journal as of this revision or date, instead of the files as they are now."`
	Base  string `placeholder:"REV" help:"Where people, keys and policy are read for the verification; see wj verify."`
	Owner string `placeholder:"ID" help:"Only the records of this owner's sites and what they rest on."`
}

func (c *bundleCmd) Help() string {
	return "A bag (RFC 8493) for an auditor: the records and their attachments in data/, a manifest that sha256sum -c checks after unpacking, and the verification report. " +
		"Two runs over the same journal on the same day give the same bytes. Without --owner the archive holds the water of every owner in the journal; with it, records that also rest on somebody else's water are left out."
}

func (c *bundleCmd) Run(a *app) error {
	if !strings.HasSuffix(strings.ToLower(c.Out), ".zip") {
		return withHint("wj bundle "+c.Out+".zip", "the archive's name must end in .zip")
	}
	j, root, err := a.loadAt(c.At, journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	keep := func(journal.File) bool { return true }
	if c.Owner != "" {
		if keep, err = ownerExtract(j, c.Owner); err != nil {
			return err
		}
	}
	payload, err := payloadOf(j, keep)
	if err != nil {
		return err
	}
	files := []evidence.BagFile{}
	info := []evidence.Info{{Label: "Source-Organization", Value: j.Settings.Name}, {Label: "Bagging-Date", Value: journal.FormatDate(a.now().In(j.Settings.Zone))},
		{Label: "Bag-Software-Agent", Value: version()}, {Label: "External-Description", Value: fmt.Sprintf("Water journal: %s", count(countKept(j, keep), "record"))}}
	if c.Owner != "" {
		info = append(info, evidence.Info{Label: "External-Identifier", Value: "extract: the water of " + c.Owner})
	}
	when := journal.Day(a.now())
	if h, err := history.Open(root); err == nil {
		r, err := h.Resolve(orElse(c.At, "HEAD"), j.Settings.Zone)
		if err == nil {
			when = r.Committer.When
			state := r.Hash.String()
			if dirty, err := history.Dirty(root, nil); err == nil && len(dirty) > 0 && c.At == "" {
				state += fmt.Sprintf(" and %s not committed", count(len(dirty), "file"))
			}
			info = append(info, evidence.Info{Label: "Internal-Sender-Identifier", Value: "commit " + state})
		}
		h.Close()
	}
	wrong := 0
	if c.At == "" {
		report, err := a.verify(j, root, c.Base)
		if err != nil {
			return err
		}
		if c.Owner != "" {
			report.only(c.Owner, keep)
		}
		text, err := render.JSON(report.json())
		if err != nil {
			return err
		}
		wrong = report.wrong()
		plain := render.Output{Width: 100}
		files = append(files, evidence.BagFile{Name: "verification.txt", Content: []byte(render.Clean(report.text(plain, true)))}, evidence.BagFile{Name: "verification.json", Content: []byte(text + "\n")})
	} else {
		a.say("of an older state nothing is verified; check it out, or verify the present one")
	}
	bag, err := evidence.Bag(payload, files, info)
	if err != nil {
		return err
	}
	folder := slug(strings.TrimSuffix(filepath.Base(c.Out), filepath.Ext(c.Out)))
	var archive bytes.Buffer
	if err := evidence.Zip(&archive, folder, bag, when); err != nil {
		return err
	}
	if err := safefile.Write(c.Out, nil, archive.Bytes()); err != nil {
		return withHint("choose another name", "%w", err)
	}
	if err := a.print(filepath.ToSlash(c.Out) + "\n"); err != nil {
		return err
	}
	a.say("%s, %d bytes; to check it: unzip %s && cd %s && sha256sum -c manifest-sha256.txt", count(len(payload), "file"), archive.Len(), path.Base(filepath.ToSlash(c.Out)), folder)
	if c.Owner != "" {
		a.sayStrangers(j, c.Owner, payload)
	} else if owners := ownersOf(j); len(owners) > 1 {
		a.say("it holds the water of %s", strings.Join(owners, ", "))
	}
	if wrong > 0 {
		a.say("the verification report in it tells of %s: wj verify", count(wrong, "thing that is wrong"))
	}
	return nil
}

// payloadOf collects the journal's files byte for byte: settings, records and
// the attachments that they name.
func payloadOf(j *journal.Journal, keep func(journal.File) bool) ([]evidence.BagFile, error) {
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
		if !bytes.Contains(content[f.Path], []byte("attachments")) {
			continue
		}
		_, record := audit.Read(f, content[f.Path])
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
	out := make([]evidence.BagFile, 0, len(content))
	for _, p := range slices.Sorted(maps.Keys(content)) {
		out = append(out, evidence.BagFile{Name: p, Content: content[p]})
	}
	return out, nil
}

func ownersOf(j *journal.Journal) []string {
	owners := map[string]bool{}
	for _, s := range j.Sites.List {
		owners[s.Owner] = true
	}
	return slices.Sorted(maps.Keys(owners))
}
