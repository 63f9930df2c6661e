package main

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/render"
)

type logCmd struct {
	ID     string `arg:"" help:"A record's id, or a site: everything that was recorded there."`
	Format string `enum:"text,json" default:"text" help:"${enum}."`
	Limit  int    `short:"n" placeholder:"N" help:"At most N entries."`
	Record bool   `help:"Of a site only its own record, not what was recorded there."`
}

func (c *logCmd) Help() string {
	return "Names and times are what commits claim. A commit that is signed with a key from people/ says so; wj verify judges all of them."
}

func (c *logCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{})
	if err != nil {
		return err
	}
	h, err := a.openHistory(root)
	if err != nil {
		return err
	}
	defer h.Close()
	f, err := a.findEver(h, j, c.ID)
	if err != nil {
		return err
	}
	var entries []logEntry
	if f.Kind == journal.KindSite && !c.Record {
		if j, _, err = a.load(journal.Options{Sessions: true}); err != nil {
			return err
		}
		entries, err = a.siteLog(h, j, f, c.Limit)
	} else {
		entries, err = a.recordLog(h, j, root, f, c.Limit)
	}
	if err != nil {
		return err
	}
	if len(entries) == 0 {
		a.say("no commit has %s", f.Path)
		return errFindings
	}
	if c.Format == "json" {
		items := []any{}
		for _, e := range entries {
			items = append(items, e.json())
		}
		text, err := render.JSON(items)
		if err != nil {
			return err
		}
		return a.print(text + "\n")
	}
	var b strings.Builder
	for _, e := range entries {
		e.text(&b, a.out, f.Kind == journal.KindSite && !c.Record)
	}
	return a.out.Print(b.String())
}

// logEntry is one commit's word on one record.
type logEntry struct {
	path, what, commit, name, email, proof, subject, reason string
	when                                                    time.Time
	boundary                                                bool
	settings                                                []evidence.Setting
}

func (e logEntry) text(b *strings.Builder, out render.Output, withPath bool) {
	who := render.Line(e.name)
	if e.commit == "" {
		who = "you, not committed"
	}
	head := orElse(e.commit, strings.Repeat("-", 10)) + "  "
	if !e.when.IsZero() {
		head += e.when.Format("2006-01-02 15:04 -07:00") + "  "
	}
	fmt.Fprintf(b, "%s%s  %s%s\n", out.Paint(render.Bold, head), who, e.what, render.Line(e.proof))
	if withPath {
		fmt.Fprintf(b, "    %s\n", render.Line(e.path))
	}
	if e.subject != "" {
		fmt.Fprintf(b, "    %s\n", out.Paint(render.Dim, render.Line(e.subject)))
	}
	if e.boundary {
		b.WriteString("    older history is not in this copy: this commit or an older one wrote it\n")
	}
	for _, s := range e.settings {
		fmt.Fprintf(b, "    %s\n", render.Line(settingText(s)))
		if s.Amendment != nil {
			fmt.Fprintf(b, "        amended by %s on %s: %s\n", render.Line(s.Amendment.By), journal.FormatTime(s.Amendment.On), render.Line(orElse(s.Amendment.Reason, "no reason given")))
		}
		if s.Silent {
			fmt.Fprintf(b, "        %s\n", out.Paint(render.Warning, "! changed without an amendment in the file"))
		}
	}
}

// settingText writes a change of a field: "sulfate: 84 mg/L → 86 mg/L".
func settingText(s evidence.Setting) string {
	before, after := orElse(s.Before, "(absent)"), orElse(s.After, "(gone)")
	text := s.Path + ": " + before + " → " + after
	switch s.Sameness {
	case evidence.SameSpelled:
		text += " (only spelled differently)"
	case evidence.SameWater:
		text += " (the same water in another unit)"
	}
	return text
}

func (e logEntry) json() render.Object {
	changes := []any{}
	for _, s := range e.settings {
		changes = append(changes, settingJSON(s))
	}
	o := render.Object{{Name: "path", Value: e.path}, {Name: "what", Value: e.what}, {Name: "commit", Value: e.commit}, {Name: "author", Value: e.name}, {Name: "email", Value: e.email}}
	if !e.when.IsZero() {
		o = append(o, render.Member{Name: "when", Value: journal.FormatTime(e.when)})
	}
	return append(o, render.Member{Name: "signature", Value: strings.Trim(e.proof, " ,")}, render.Member{Name: "subject", Value: e.subject}, render.Member{Name: "reason", Value: e.reason},
		render.Member{Name: "boundary", Value: e.boundary}, render.Member{Name: "changes", Value: changes})
}

func settingJSON(s evidence.Setting) render.Object {
	o := render.Object{{Name: "field", Value: s.Path}, {Name: "before", Value: textOrNil(s.Before)}, {Name: "after", Value: textOrNil(s.After)}, {Name: "same_water", Value: s.Sameness < evidence.Different}}
	if m := s.Amendment; m != nil {
		o = append(o, render.Member{Name: "amendment", Value: render.Object{{Name: "by", Value: m.By}, {Name: "on", Value: journal.FormatTime(m.On)}, {Name: "was", Value: m.Was}, {Name: "reason", Value: m.Reason}}})
	}
	return append(o, render.Member{Name: "unamended", Value: s.Silent})
}

func textOrNil(s string) any {
	if s == "" {
		return nil
	}
	return s
}

// recordLog is the log of one record, the newest first, with what is not yet
// committed on top.
func (a *app) recordLog(h *history.History, j *journal.Journal, root string, f journal.File, limit int) ([]logEntry, error) {
	versions, err := a.versions(h, root, f)
	if err != nil {
		return nil, err
	}
	settings := evidence.History(f.Kind, versions)
	ring := keyring(j)
	var entries []logEntry
	for n, v := range versions {
		e := logEntry{path: v.Path, commit: v.Commit, name: v.Name, email: v.Email, when: v.When, subject: v.Subject, reason: v.Reason, boundary: v.Boundary, what: whatHappened(v)}
		if v.Commit != "" {
			e.proof = a.proof(h, ring, v.Commit)
		}
		for _, s := range settings {
			if s.Version == n && !s.First {
				e.settings = append(e.settings, s)
			}
		}
		if e.what == "changed" && amendedHere(e.settings) {
			e.what = "amended"
		}
		entries = append(entries, e)
	}
	var fromFile []evidence.Setting
	for _, s := range settings {
		if s.Version < 0 {
			fromFile = append(fromFile, s)
		}
	}
	if len(fromFile) > 0 {
		entries = append(entries, logEntry{path: f.Path, what: "amended, as the file tells it; no commit shows it", commit: "(the file) ", name: "", settings: fromFile})
	}
	if limit > 0 && len(entries) > limit {
		entries = entries[:limit]
	}
	return entries, nil
}

func amendedHere(settings []evidence.Setting) bool {
	for _, s := range settings {
		if s.Amendment != nil {
			return true
		}
	}
	return false
}

func whatHappened(v evidence.Version) string {
	before := false
	for _, b := range v.Before {
		before = before || b != nil
	}
	switch {
	case v.Content == nil:
		return "deleted"
	case !before && v.Boundary:
		return "was there"
	case !before:
		return "recorded"
	case v.From != "" && v.From != v.Path:
		return "moved from " + v.From
	}
	return "changed"
}

// siteLog is what was recorded at a site: its own record, its sessions and
// events, each with the commits that touched it.
func (a *app) siteLog(h *history.History, j *journal.Journal, site journal.File, limit int) ([]logEntry, error) {
	at := map[string]bool{site.Path: true}
	for _, s := range j.Sessions.List {
		at[s.Path] = s.Site == site.ID
	}
	for _, e := range j.Events.List {
		for _, id := range e.Sites {
			at[e.Path] = at[e.Path] || id == site.ID
		}
	}
	head, err := h.Head()
	if err != nil {
		return nil, err
	}
	var entries []logEntry
	walked, err := h.Walk(a.ctx, head.Hash, history.WalkOptions{}, func(step history.Step) error {
		for _, c := range step.Changes {
			here, known := at[c.Path]
			if !known {
				here = a.wasAt(h, c, site.ID)
				at[c.Path] = here
			}
			if !here {
				continue
			}
			what := map[history.ChangeKind]string{history.Added: "recorded", history.Modified: "changed", history.Deleted: "deleted", history.Renamed: "moved"}[c.Kind]
			entries = append(entries, logEntry{path: c.Path, what: what, commit: step.Hash.Short(), name: step.Author.Name, email: step.Author.Email,
				when: step.Author.When, subject: step.Subject(), reason: trailer(step.Revision, "Reason")})
			if limit > 0 && len(entries) == limit {
				return errEnough
			}
		}
		return nil
	})
	if err != nil && !errors.Is(err, errEnough) {
		return nil, err
	}
	a.sayWalked(walked)
	return entries, nil
}

// errEnough ends a walk that has found what it looked for.
var errEnough = errors.New("enough")

// wasAt reports whether a session that is no longer there, or lay elsewhere,
// was of a site.
func (a *app) wasAt(h *history.History, c history.Change, site string) bool {
	f, ok := journal.FileOf(c.Path)
	if !ok || f.Kind != journal.KindSession {
		return false
	}
	blob := c.After
	if blob.IsZero() {
		blob = c.Before
	}
	src, err := h.Blob(blob)
	if err != nil {
		return false
	}
	_, record := evidence.Read(f, src)
	s, ok := record.(*journal.Session)
	return ok && s.Site == site
}

func trailer(r history.Revision, key string) string {
	for _, t := range r.Trailers() {
		if strings.EqualFold(t.Key, key) {
			return t.Value
		}
	}
	return ""
}

// openHistory opens the repository of the journal; its absence is said with
// the next step.
func (a *app) openHistory(root string) (*history.History, error) {
	h, err := history.Open(root)
	if errors.Is(err, history.ErrNoRepository) {
		return nil, withHint("git init && git add . && git commit -m \"Start the water journal\"", "there is no history: the journal is in no Git repository")
	}
	return h, err
}

// untrustedFlag is --untrusted of every command.
type untrustedFlag bool

// AfterApply lets no program be started from now on.
func (f untrustedFlag) AfterApply() error {
	if f {
		history.TrustNothing()
	}
	return nil
}

// findEver finds a record by id or path, also one that is gone from the files
// and that history still has.
func (a *app) findEver(h *history.History, j *journal.Journal, id string) (journal.File, error) {
	f, err := find(j, id)
	if err == nil && (f.ID == strings.TrimSuffix(id, ".md") || f.Path == strings.TrimPrefix(id, "./")) {
		return f, nil // a part of an id stands behind a record of that id that is gone
	}
	head, headErr := h.Head()
	if headErr != nil {
		return f, err
	}
	_, walkErr := h.Walk(a.ctx, head.Hash, history.WalkOptions{}, func(step history.Step) error {
		for _, c := range step.Changes {
			if g, ok := journal.FileOf(c.Path); ok && c.Kind == history.Deleted && (g.ID == strings.TrimSuffix(id, ".md") || g.Path == id) {
				f = g
				return errEnough
			}
		}
		return nil
	})
	if errors.Is(walkErr, errEnough) {
		return f, nil
	}
	return f, err
}

// versions reads every version of a record, the newest first; what is not yet
// committed comes as a version without a commit.
func (a *app) versions(h *history.History, root string, f journal.File) ([]evidence.Version, error) {
	var out []evidence.Version
	head, err := h.Head()
	if err != nil && !errors.Is(err, history.ErrUnborn) {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(a.ctx, time.Minute)
	defer cancel()
	if err == nil {
		log, walked, err := h.FileLog(ctx, head.Hash, f.Path)
		if err != nil {
			return nil, err
		}
		a.sayWalked(walked)
		for _, v := range log {
			version := evidence.Version{Commit: v.Hash.Short(), Name: v.Author.Name, Email: v.Author.Email, When: v.Author.When, Subject: v.Subject(),
				Reason: trailer(v.Revision, "Reason"), Boundary: v.Boundary, Path: v.Path, From: v.From}
			read := func(blob history.Hash) ([]byte, error) {
				if blob.IsZero() {
					return nil, nil
				}
				return h.Blob(blob)
			}
			if version.Content, err = read(v.Blob); err != nil {
				return nil, err
			}
			for _, blob := range v.Before {
				before, err := read(blob)
				if err != nil {
					return nil, err
				}
				version.Before = append(version.Before, before)
			}
			out = append(out, version)
		}
	}
	working, err := readWorking(root, f.Path)
	if err != nil {
		return nil, err
	}
	var last []byte
	if len(out) > 0 {
		last = out[0].Content
	}
	if working != nil && (last == nil || journal.Digest(working) != journal.Digest(last)) {
		out = append([]evidence.Version{{Content: working, Before: [][]byte{last}, Path: f.Path}}, out...)
	}
	return out, nil
}

func (a *app) sayWalked(w history.Walked) {
	if w.Stopped != "" {
		a.say("%s", w.Stopped)
	}
	if w.Shallow {
		a.say("this copy is shallow: older history is not in it (git fetch --unshallow)")
	}
}

// keyring is the keys of people/ that hold now.
func keyring(j *journal.Journal) *history.Keyring { return evidence.Keyring(j) }

// proof says after a name what its commit's signature proves: nothing for an
// unsigned one.
func (a *app) proof(h *history.History, ring *history.Keyring, commit string) string {
	r, err := h.Resolve(commit, nil)
	if err != nil || !r.Signed {
		return ""
	}
	v, err := h.Verify(r.Hash, ring, time.Time{})
	switch {
	case err != nil:
		return ", signature: " + err.Error()
	case v.Kind == history.Good:
		return ", signed by " + v.Principal
	}
	return ", signature: " + v.Kind.String()
}
