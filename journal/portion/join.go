package portion

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
	"wj/journal/history"
)

// JoinMade says what was brought in.
type JoinMade struct {
	Made
	Brought  int      // records
	Commit   string   // the merge
	Same     []string // people who are in both journals, by their ids here
	Roles    []string // people whose roles ended with their journal
	Waits    bool     // others must sign wj.yaml before what was approved there counts here
	Settings []string // parts of the other journal's settings that say something else, or more
}

var prefixForm = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[a-z][a-z0-9]*(-[a-z0-9]+)*$`) })

// Join brings the committed journal of another folder into the one at root, which j is:
// every record under a prefix, with the history that made it, as the second parent of
// one merge. Statements keep what was signed, see [journal.Joined.Original]. Roles end
// with their journal: who may sign here, the people here decide.
func Join(ctx context.Context, root string, h *history.History, j *journal.Journal, from, prefix, by string, now time.Time) (*JoinMade, error) {
	in := journal.Joined{Prefix: prefix, By: by}
	if !prefixForm().MatchString(prefix) {
		return nil, journal.Hint("lower-case letters, digits and hyphens, such as mill", "%q cannot stand before ids", prefix)
	}
	otherRoot, err := journal.FindRoot(from)
	if err != nil {
		return nil, err
	}
	if _, inside, err := journal.Inside(root, otherRoot); err != nil || inside {
		return nil, errors.Join(err, fmt.Errorf("join %s: it is this journal, or lies in it", from))
	}
	if dirty, err := h.Dirty(nil); err != nil || len(dirty) > 0 {
		return nil, errors.Join(err, journal.Hint("git add -A && git commit", "join %s: %s here not committed", from, journal.Count(len(dirty), "file")))
	}
	other, err := history.Open(otherRoot)
	if err != nil {
		return nil, err
	}
	defer other.Close()
	head, oj, err := committed(other)
	if err != nil {
		return nil, err
	}
	if err := free(in, j, oj); err != nil {
		return nil, err
	}
	before, _, err := standings(ctx, oj, other, now)
	if err != nil {
		return nil, err
	}
	made := &JoinMade{Brought: len(oj.Files), Settings: differences(j, oj)}
	beside, err := evidence.Payload(oj, func(journal.File) bool { return true })
	if err != nil {
		return nil, err
	}
	names, err := other.Rewrite(ctx, head.Hash, root, history.JoinRef, bringing(in, oj, beside, h.Place().Prefix))
	if err != nil {
		return nil, err
	}
	made.Commits = len(distinct(names))
	tip := names[head.Hash]
	write := map[string][]byte{} // by path in the journal
	for _, f := range beside {
		if f.Name == journal.SettingsFile {
			continue
		}
		to, content := brought(in, oj, f.Name, f.Content)
		if there, err := fs.ReadFile(j.FS, to); err == nil && string(there) != string(content) {
			return nil, fmt.Errorf("join %s: %s is here already, and is another file", from, to)
		}
		write[to] = content
	}
	edits := made.ended(j, oj, in, write, now)
	if len(edits) > 0 {
		if tip, err = history.CommitTo(ctx, root, history.JoinRef, "End the roles of "+cmpName(oj)+", which is joined", h.Place().Prefix, edits); err != nil {
			return nil, err
		}
	}
	in.Commit = tip.String()
	settings, err := entered(in, j, now)
	if err != nil {
		return nil, err
	}
	write[journal.SettingsFile] = settings
	if made.Commit, err = history.MergeAside(ctx, root, tip, write, "Join "+cmpName(oj)+" as "+prefix+"\n\n"+journal.Count(len(oj.Files), "record")+" from "+journal.Count(made.Commits, "commit")+"."); err != nil {
		return nil, err
	}
	return made, made.judge(ctx, root, in, before, now)
}

func distinct(names map[history.Hash]history.Hash) map[history.Hash]bool {
	out := map[history.Hash]bool{}
	for _, n := range names {
		out[n] = true
	}
	return out
}

func cmpName(j *journal.Journal) string {
	if j.Settings.Name != "" {
		return j.Settings.Name
	}
	return "another journal"
}

// free makes sure that no id is taken, and that taking the prefix away gives each id
// back.
func free(in journal.Joined, j, oj *journal.Journal) error {
	for _, f := range j.Files {
		if in.Has(f.ID) {
			return journal.Hint("choose another prefix", "the prefix %s is taken here: %s", in.Prefix, f.Path)
		}
	}
	for _, f := range oj.Files {
		if in.Has(f.ID) {
			return journal.Hint("choose another prefix", "%s there has the prefix %s already", f.Path, in.Prefix)
		}
		if id := in.ID(f.ID); !journal.ValidID(id, f.Kind) {
			return journal.Hint("choose a shorter prefix", "%s cannot be a %s's id", id, f.Kind)
		}
	}
	return nil
}

// bringing writes the commits of the other journal with the names that they have here.
func bringing(in journal.Joined, oj *journal.Journal, beside []evidence.BagFile, folder string) history.Rewriting {
	known := map[string]bool{}
	for _, f := range beside {
		known[f.Name] = true
	}
	return history.Rewriting{
		Path: func(p string) (string, bool) {
			to, ok := p, known[p]
			if isRecord(p) {
				to, ok = in.Path(p), true
			}
			return path.Join(folder, to), ok
		},
		Content: func(p string, content []byte) ([]byte, bool) { _, out := brought(in, oj, p, content); return out, true },
		Commit: func(r history.Revision, _ []string, _ bool) (author, committer history.Person, message string) {
			return r.Author, r.Committer, r.Message
		},
	}
}

// isRecord reports whether a file is a record or the signature beside one.
func isRecord(p string) bool {
	_, ok := journal.FileOf(strings.TrimSuffix(strings.TrimSuffix(p, ".sig"), ".asc"))
	return ok
}

// brought is a file of the other journal with its name and content here.
func brought(in journal.Joined, oj *journal.Journal, p string, content []byte) (to string, out []byte) {
	if !isRecord(p) {
		return p, content
	}
	if f, ok := journal.FileOf(p); ok {
		content = in.Bring(f.Kind, content, func(id string) bool { return oj.Exists(journal.KindTarget, id) })
	}
	return in.Path(p), content
}

// ended gives roles a last day, takes addresses and keys from who is in this journal
// too, and self from the owner that kept the other one. It changes what is written, and
// gives what differs from the other journal's last commit.
func (m *JoinMade) ended(j, oj *journal.Journal, in journal.Joined, write map[string][]byte, now time.Time) map[string][]byte {
	here := map[string]string{}
	for _, p := range j.People.List {
		for _, e := range p.Email {
			here[strings.ToLower(e)] = p.ID
		}
	}
	edits := map[string][]byte{}
	edit := func(name string, f func(d *frontmatter.Document) (frontmatter.Edit, bool)) {
		for {
			var d frontmatter.Document
			d.Parse(write[name])
			e, more := f(&d)
			if !more {
				return
			}
			out, err := frontmatter.Apply(write[name], []frontmatter.Edit{e})
			if err != nil {
				return
			}
			write[name], edits[name] = out, out
		}
	}
	without := func(keys ...string) func(d *frontmatter.Document) (frontmatter.Edit, bool) {
		return func(d *frontmatter.Document) (frontmatter.Edit, bool) {
			for _, key := range keys {
				if n, ok := d.FindPath(key); ok {
					e, err := frontmatter.RemoveNode(d, n)
					return e, err == nil
				}
			}
			return frontmatter.Edit{}, false
		}
	}
	yesterday := journal.FormatDate(now.AddDate(0, 0, -1))
	for _, p := range oj.People.List {
		name := in.Path(p.Path)
		edit(name, func(d *frontmatter.Document) (frontmatter.Edit, bool) {
			roles, _ := d.FindPath("roles")
			for n := range d.Children(roles) {
				if _, ends := d.Child(n, "until"); roles != 0 && !ends {
					e, err := frontmatter.AppendKey(d, n, "until", yesterday)
					return e, err == nil
				}
			}
			return frontmatter.Edit{}, false
		})
		if len(p.Roles) > 0 {
			m.Roles = append(m.Roles, in.ID(p.ID))
		}
		if i := slices.IndexFunc(p.Email, func(e string) bool { return here[strings.ToLower(e)] != "" }); i >= 0 {
			edit(name, without("email", "keys"))
			m.Same = append(m.Same, here[strings.ToLower(p.Email[i])])
		}
	}
	for _, o := range oj.Owners.List {
		if o.Self {
			edit(in.Path(o.Path), without("self"))
		}
	}
	return edits
}

// entered are the settings with the journal that is joined.
func entered(in journal.Joined, j *journal.Journal, now time.Time) ([]byte, error) {
	settings, err := fs.ReadFile(j.FS, journal.SettingsFile)
	if err != nil {
		return nil, fmt.Errorf("read the settings: %w", err)
	}
	var d frontmatter.Document
	d.ParseYAML(settings)
	one := "{prefix: " + in.Prefix + ", commit: " + in.Commit + ", by: " + frontmatter.Quote(in.By) + ", on: " + journal.FormatTime(now) + "}"
	var edit frontmatter.Edit
	if n, ok := d.FindPath("joined"); ok {
		edit, err = frontmatter.AppendItem(&d, n, one)
	} else {
		edit, err = frontmatter.AppendKey(&d, 0, "joined", "\n  - "+one)
	}
	if err != nil {
		return nil, err
	}
	return frontmatter.Apply(settings, []frontmatter.Edit{edit})
}

// differences names the parts of the other journal's settings that say something else
// than here, or something that nobody says here.
func differences(j, oj *journal.Journal) []string {
	var out []string
	for _, key := range evidence.GuardSettings {
		if key == "name" || key == "format" || key == "joined" {
			continue
		}
		here, there := evidence.Leaves(j.FS, journal.SettingsFile, []string{key}), evidence.Leaves(oj.FS, journal.SettingsFile, []string{key})
		for k, v := range there {
			if here[k] != v {
				out = append(out, key)
				break
			}
		}
	}
	return out
}

// judge says what became of the sign-offs that were brought in.
func (m *JoinMade) judge(ctx context.Context, root string, in journal.Joined, before map[string]evidence.Verdict, now time.Time) error {
	renamed := map[string]evidence.Verdict{}
	for id, v := range before {
		renamed[in.ID(id)] = v
	}
	if err := m.compare(ctx, filepath.Clean(root), renamed, now); err != nil {
		return err
	}
	h, err := history.Open(root)
	if err != nil {
		return err
	}
	defer h.Close()
	line, err := evidence.Open(ctx, h, evidence.Options{}, time.UTC, false)
	if err != nil {
		return err
	}
	m.Waits = !slices.ContainsFunc(line.Rules().Journal.Settings.Joined, func(j journal.Joined) bool { return j.Prefix == in.Prefix })
	return nil
}
