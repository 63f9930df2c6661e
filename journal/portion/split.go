package portion

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
	"wj/journal/history"
	"wj/journal/start"
)

// nobody stands for the people whose records do not go along.
const nobodyName, nobodyAddress = "somebody else", "somebody-else@journal.invalid"

// Made says what became of a history that was written anew.
type Made struct {
	Portion *Portion
	Commits int
	Records int
	Signed  int      // sign-offs that the signer's own signature proves, as before
	Claims  []string // sign-offs that a signature of their commit proved: here the name is a claim
	Ended   []string // sign-offs that were in force and no longer are, each with the reason
	Waiting []string // files that decide and have no effect until others sign them
}

// committed reads the journal as the last commit has it.
func committed(h *history.History) (history.Revision, *journal.Journal, error) {
	head, err := h.Head()
	if err != nil {
		return head, nil, err
	}
	files, err := h.FS(head.Hash)
	if err != nil {
		return head, nil, err
	}
	j, err := journal.Load(files, journal.Options{Sessions: true})
	return head, j, err
}

// Split writes an owner's portion of the committed journal into a new repository in
// dir, which must not exist or be empty: with the commits that made it, their authors
// and dates. What a commit said is kept where it speaks of nothing else. The settings
// get a journal id of their own and name where they come from. by, of the
// journal's people, does it.
func Split(ctx context.Context, h *history.History, owner, dir, by string, now time.Time) (*Made, error) {
	head, j, err := committed(h)
	if err != nil {
		return nil, err
	}
	p, err := New(j, owner, by)
	if err != nil {
		return nil, err
	}
	if err := p.handedOver(ctx, j, h); err != nil {
		return nil, err
	}
	before, _, err := standings(ctx, j, h, now)
	if err != nil {
		return nil, err
	}
	receipt, err := evidence.NewReceipt(h, head.Hash, j)
	if err != nil {
		return nil, err
	}
	undo, err := history.MakeEmpty(ctx, dir)
	if err != nil {
		return nil, err
	}
	made := &Made{Portion: p}
	if err = p.write(ctx, h, head.Hash, j, dir, by, now, receipt, made); err == nil {
		err = made.compare(ctx, dir, before, now)
	}
	if err != nil {
		undo()
		return nil, err
	}
	return made, nil
}

func (p *Portion) write(ctx context.Context, h *history.History, head history.Hash, j *journal.Journal, dir, by string, now time.Time, receipt evidence.Receipt, made *Made) error {
	people := map[string]string{} // names by address
	for _, x := range j.People.List {
		if p.Keeps(journal.File{Kind: x.Kind, ID: x.ID, Path: x.Path}) {
			for _, e := range x.Email {
				people[strings.ToLower(e)] = x.Name
			}
		}
	}
	commits := map[history.Hash]bool{}
	names, err := h.Rewrite(ctx, head, dir, "refs/heads/main", history.Rewriting{
		Path:    func(path string) (string, bool) { return path, p.Path(path) },
		Content: p.Reduce,
		Commit: func(r history.Revision, changed []string, others bool) (author, committer history.Person, message string) {
			message = r.Message
			if others || p.Strangers.In(message) != "" || r.Signed && message == "" {
				message = "Change " + told(changed)
			}
			return p.known(people, r.Author), p.known(people, r.Committer), message
		},
		Extra: map[string][]byte{".gitattributes": start.Attributes()},
	})
	if err != nil {
		return err
	}
	for _, name := range names {
		commits[name] = true
	}
	made.Commits = len(commits)
	if err := history.CheckOut(ctx, dir); err != nil {
		return err
	}
	settings, err := os.ReadFile(filepath.Join(dir, journal.SettingsFile))
	if err != nil {
		return fmt.Errorf("read the settings that go along: %w", err)
	}
	if settings, err = p.origin(settings, by, now, receipt); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, journal.SettingsFile), settings, 0o666); err != nil {
		return fmt.Errorf("write the settings: %w", err)
	}
	_, err = history.Commit(ctx, dir, []string{journal.SettingsFile}, "Name where this journal comes from", nil)
	return err
}

// handedOver finds what the record of each site said when another owner got it.
func (p *Portion) handedOver(ctx context.Context, j *journal.Journal, h *history.History) error {
	for _, site := range j.Sites.List {
		if !site.OwnedBy(p.Owner.ID) || site.Owner == p.Owner.ID {
			continue
		}
		f := journal.File{Kind: journal.KindSite, ID: site.ID, Path: site.Path}
		versions, _, err := evidence.Versions(ctx, h, j, f)
		if err != nil {
			return err
		}
		for _, v := range versions { // the newest first
			_, record := evidence.Read(f, v.Content)
			was, ok := record.(*journal.Site)
			if !ok || was.Owner == p.Owner.ID {
				break
			}
			p.since[site.ID] = v.Content
		}
	}
	return nil
}

// known is who a commit names, where that person's record goes along.
func (p *Portion) known(people map[string]string, who history.Person) history.Person {
	name, ok := people[strings.ToLower(who.Email)]
	switch {
	case !ok:
		who.Name, who.Email = nobodyName, nobodyAddress
	case p.Strangers.In(who.Name) != "":
		who.Name = name
	}
	return who
}

// told names files in the message of a commit: those of records by their ids.
func told(paths []string) string {
	var names []string
	for _, p := range paths {
		if f, ok := journal.FileOf(p); ok {
			names = append(names, f.ID)
		} else if p == journal.SettingsFile {
			names = append(names, p)
		}
	}
	slices.Sort(names)
	switch names = slices.Compact(names); {
	case len(names) == 0:
		return journal.Count(len(paths), "file")
	case len(names) > 3:
		return journal.Count(len(names), "record") + "\n\n" + strings.Join(names, "\n")
	}
	return strings.Join(names, ", ")
}

// origin gives the settings an id of their own and says where the journal comes from.
func (p *Portion) origin(settings []byte, by string, now time.Time, receipt evidence.Receipt) ([]byte, error) {
	quote := frontmatter.Quote
	value := "{commit: " + receipt.Commit + ", journal: " + receipt.Journal + ", files: " + strconv.Itoa(receipt.Files) + ", by: " + quote(by) + ", on: " + journal.FormatTime(now)
	if receipt.Anchor != "" {
		value += ", anchor: " + quote(receipt.String())
	}
	for _, set := range []struct{ key, value string }{{"journal", quote(p.journal)}, {"origin", value + "}"}} {
		var d frontmatter.Document
		d.ParseYAML(settings)
		if !d.OK() {
			return nil, fmt.Errorf("read %s: it cannot be read", journal.SettingsFile)
		}
		if n, ok := d.Child(0, set.key); ok {
			edit, err := frontmatter.RemoveNode(&d, n)
			if err != nil {
				return nil, err
			}
			if settings, err = frontmatter.Apply(settings, []frontmatter.Edit{edit}); err != nil {
				return nil, err
			}
			d.ParseYAML(settings)
		}
		edit, err := frontmatter.AppendKey(&d, 0, set.key, set.value)
		if err != nil {
			return nil, err
		}
		if settings, err = frontmatter.Apply(settings, []frontmatter.Edit{edit}); err != nil {
			return nil, err
		}
	}
	return settings, nil
}

// standings judges every sign-off of a journal.
func standings(ctx context.Context, j *journal.Journal, h *history.History, now time.Time) (map[string]evidence.Verdict, evidence.Facts, error) {
	line, err := evidence.Open(ctx, h, evidence.Options{Now: now}, j.Settings.Zone, false)
	facts := evidence.Facts{Now: now, Line: line}
	if err != nil {
		return nil, facts, err
	}
	out := map[string]evidence.Verdict{}
	for _, s := range j.Signoffs.List {
		out[s.ID] = evidence.Judge(j, s, facts)
	}
	return out, facts, nil
}

// waiting are the files that decide and that others have not signed.
func waiting(j *journal.Journal, facts evidence.Facts) ([]string, error) {
	list, err := facts.UnsignedGuards(j, func(*journal.Journal, string) bool { return false })
	var out []string
	for _, m := range list {
		out = append(out, m.Path)
	}
	return out, err
}

// compare says what the new history proves of the sign-offs that went along.
func (m *Made) compare(ctx context.Context, dir string, before map[string]evidence.Verdict, now time.Time) error {
	h, err := history.Open(dir)
	if err != nil {
		return err
	}
	defer h.Close()
	var fsys fs.FS = journal.Dir(dir)
	j, err := journal.Load(fsys, journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	m.Records = len(j.Files)
	after, facts, err := standings(ctx, j, h, now)
	if err != nil {
		return err
	}
	if m.Waiting, err = waiting(j, facts); err != nil {
		return err
	}
	for _, s := range j.Signoffs.List {
		was, is := before[s.ID], after[s.ID]
		switch {
		case was.Standing == evidence.InForce && is.Standing != evidence.InForce:
			why := is.Standing.String()
			if len(is.Why) > 0 {
				why += ": " + is.Why[0]
			}
			m.Ended = append(m.Ended, s.ID+" is "+why)
		case was.Proof == evidence.ByCommit && is.Proof == evidence.Claim:
			m.Claims = append(m.Claims, s.ID)
		case is.Proof == evidence.BySignature:
			m.Signed++
		}
	}
	return nil
}
