package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/audit"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
	"wj/journal/history"
	"wj/journal/safefile"
	"wj/journal/writer"
	"wj/render"
)

type signCmd struct {
	ID       string   `arg:"" help:"The record to sign: a change, or any other."`
	Refuse   bool     `help:"Refuse it instead of accepting it."`
	Meaning  string   `placeholder:"TEXT" help:"What the signature stands for, such as \"reviewed calculation and limits\"."`
	Remarks  string   `short:"m" placeholder:"TEXT" help:"Remarks; - reads them from standard input."`
	With     []string `placeholder:"ID" help:"Cover this record too, such as the newest session in a renewal."`
	Signed   bool     `help:"Sign the commit with your key (git commit -S), whatever your git configuration says."`
	By       string   `placeholder:"ID" help:"Who signs; by default the person with your git address."`
	NoCommit bool     `help:"Write the file and leave the commit to me."`
	DryRun   bool     `short:"n" help:"Print the sign-off and write nothing."`
}

func (c *signCmd) Help() string {
	return "Writes a file of its own in signoffs/ with the SHA-256 of the record and of everything that it rests on, and commits it. The sign-off holds while none of them changes. " +
		"Who may sign is read from the base branch. Look first: wj review ID."
}

func (c *signCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	f, err := find(j, c.ID)
	if err != nil {
		return err
	}
	_, record, err := j.ReadRecord(f)
	if err != nil {
		return err
	}
	if record == nil {
		return withHint("wj lint "+f.ID, "%s has no front matter that can be read", f.Path)
	}
	if void := record.Base().Void; void != nil {
		return withHint("a void record needs no sign-off", "%s is void: %s", f.ID, void.Reason)
	}
	now := a.now().In(j.Settings.Zone)
	by := c.By
	if by == "" {
		if by, err = a.draft(j, root, journal.KindSignoff).Person(now); err != nil {
			return err
		}
	}
	w, err := a.witness(j, root, "")
	switch {
	case err == nil:
		defer w.h.Close()
	case errors.Is(err, history.ErrNoRepository), errors.Is(err, history.ErrUnsupported), errors.Is(err, history.ErrUnborn):
		a.say("who signs cannot be kept in history here: %s", reasonOf(err))
		w = &witness{}
	default:
		return err
	}
	if why := c.forbidden(j, w, record, by, now); why != "" {
		return withHint(c.others(j, w, record, by, now), "%s", why)
	}
	if err := c.impostor(w, root, by); err != nil {
		return err
	}
	covers, err := c.covers(j, w, record)
	if err != nil {
		return err
	}
	body := c.Remarks
	if body == "-" {
		src, err := io.ReadAll(io.LimitReader(a.stdin, frontmatter.MaxFile))
		if err != nil {
			return fmt.Errorf("read the remarks: %w", err)
		}
		body = string(src)
	}
	decision := "accepted"
	if c.Refuse {
		decision = "refused"
	}
	quote := frontmatter.Quote
	entries := []journal.Entry{{Key: "of", Value: quote(f.ID)}, {Key: "by", Value: quote(by)}, {Key: "on", Value: journal.FormatTime(now)}, {Key: "decision", Value: decision}}
	if c.Meaning != "" {
		entries = append(entries, journal.Entry{Key: "meaning", Value: quote(c.Meaning)})
	}
	entries = append(entries, journal.Entry{Key: "covers", Below: covers})
	src := journal.Compose(journal.KindSignoff, entries, body)
	stem := signoffStem(f.ID, by, now)
	path := journal.KindSignoff.Folder() + "/" + writer.Free(j, journal.KindSignoff, stem) + ".md"
	var d frontmatter.Document
	d.Parse(src)
	lines := strings.Split(string(src), "\n")
	for _, p := range journal.Check(&d, journal.KindSignoff, path, j) {
		if err := a.printTalk(a.talk.Finding(problemFinding(p, path, lines))); err != nil {
			return err
		}
		if !p.Warning {
			return withHint("mend the command and run it again", "nothing was written: the sign-off would be wrong")
		}
	}
	if c.DryRun {
		return a.print(render.Clean(string(src)))
	}
	if path, err = writeSignoff(root, path, stem, src); err != nil {
		return err
	}
	if err := a.print(a.relative(root, path) + "\n"); err != nil {
		return err
	}
	if !c.NoCommit {
		if err := c.commit(a, j, root, path, f.ID, by, decision); err != nil {
			return err
		}
	}
	a.saySigned(root, f)
	return nil
}

// forbidden says why the policy does not let this person sign.
func (c *signCmd) forbidden(j *journal.Journal, w *witness, record journal.Any, by string, now time.Time) string {
	base := j
	if w.base != nil {
		base = w.base
	}
	if why := evidence.MaySign(base, record, by, now); why != "" {
		return why
	}
	change, ok := record.(*journal.Change)
	if ok && w.h != nil && base.Settings.Policy.OtherThanAuthor {
		person, _ := base.People.Get(by)
		if o, known := w.origin(change.Path); known && !o.Cut && (o.Signer == by || o.Signer == "" && o.By(person)) {
			return fmt.Sprintf("%s made the change as it stands (commit %s), and policy asks for another person", by, o.Commit)
		}
	}
	return ""
}

// impostor refuses a sign-off that could never count: its commit would carry
// an address that is none of the person's, and the person has no key to prove
// it by.
func (c *signCmd) impostor(w *witness, root, by string) error {
	if c.NoCommit || c.DryRun || w.base == nil {
		return nil
	}
	person, ok := w.base.People.Get(by)
	name, email, known := history.Identity(root)
	if !ok || !known || len(person.Keys) > 0 || (evidence.Origin{Email: email}).By(person) {
		return nil
	}
	hint := fmt.Sprintf("%s signs with git set to an address that stands in %s: git config user.email", by, person.Path)
	if len(person.Email) == 0 {
		hint = fmt.Sprintf("wj amend %s email %s@brewery.example --reason …; then %s signs with git set to that address (git config user.email)", by, by, by)
	}
	return withHint(hint, "the commit would be by %s <%s>, which is no address of %s, and the sign-off would not count", name, email, by)
}

func (c *signCmd) others(j *journal.Journal, w *witness, record journal.Any, by string, now time.Time) string {
	base := j
	if w.base != nil {
		base = w.base
	}
	var others []string
	for _, id := range evidence.Reviewers(base, record, now) {
		if id != by {
			others = append(others, id)
		}
	}
	if len(others) == 0 {
		return "nobody may sign it now; roles are in people/, the policy in wj.yaml (policy: changes: …)"
	}
	return "ask " + strings.Join(others, " or ")
}

// covers are the digests of the record and of what it rests on. A sign-off of
// something that is not committed could never be checked by others.
func (c *signCmd) covers(j *journal.Journal, w *witness, record journal.Any) ([]journal.Entry, error) {
	needed, err := evidence.Covers(j, record)
	if err != nil {
		return nil, withHint("wj lint "+record.Base().ID, "%w", err)
	}
	paths := map[string]bool{}
	var order []string
	add := func(p string) {
		if !paths[p] {
			paths[p] = true
			order = append(order, p)
		}
	}
	for _, n := range needed {
		add(n.Path)
	}
	for _, id := range c.With {
		f, err := find(j, id)
		if err != nil {
			return nil, err
		}
		add(f.Path)
	}
	var out []journal.Entry
	for _, p := range order {
		if w.dirty[p] {
			return nil, withHint("git add "+p+" && git commit", "%s is not committed as it stands; what is signed must be in history", p)
		}
		digest, err := journal.DigestFile(j.FS, p)
		if err != nil {
			return nil, err
		}
		out = append(out, journal.Entry{Key: p, Value: digest})
	}
	return out, nil
}

// signoffStem is DATE-WHAT-PERSON: the day of signing, the record without its
// own date, and who signs.
func signoffStem(of, by string, now time.Time) string {
	what := strings.ToLower(of)
	if len(what) > 11 && what[10] == '-' {
		if _, err := journal.ParseDate(what[:10]); err == nil {
			what = what[11:]
		}
	}
	return journal.FormatDate(now) + "-" + what + "-" + by
}

// writeSignoff writes the sign-off; where another writer took its name in the
// meantime it takes the next free number. It gives the path that it has.
func writeSignoff(root, path, stem string, src []byte) (string, error) {
	for n := 2; ; n++ {
		err := safefile.Write(filepath.Join(root, filepath.FromSlash(path)), nil, src)
		if err == nil {
			return path, nil
		}
		if !errors.Is(err, safefile.ErrExists) || n > 9999 {
			return path, fmt.Errorf("write %s: %w", path, err)
		}
		path = fmt.Sprintf("%s/%s-%d.md", journal.KindSignoff.Folder(), stem, n)
	}
}

func (c *signCmd) commit(a *app, j *journal.Journal, root, path, of, by, decision string) error {
	if c.Signed {
		defer setGit("commit.gpgSign", "true")()
	}
	trailers := []history.Trailer{{Key: "Signs", Value: of}, {Key: "Decision", Value: decision}}
	if c.Meaning != "" {
		trailers = append(trailers, history.Trailer{Key: "Meaning", Value: c.Meaning})
	}
	verb := "Sign"
	if c.Refuse {
		verb = "Refuse"
	}
	return a.commit(root, []string{path}, fmt.Sprintf("%s %s as %s", verb, of, by), trailers...)
}

// setGit gives the user's git one more setting by its environment
// (git-config(1), GIT_CONFIG_COUNT), and returns what takes it back.
func setGit(key, value string) (restore func()) {
	old, had := os.LookupEnv("GIT_CONFIG_COUNT")
	n, _ := strconv.Atoi(old)
	suffix := strconv.Itoa(n)
	_ = os.Setenv("GIT_CONFIG_KEY_"+suffix, key)
	_ = os.Setenv("GIT_CONFIG_VALUE_"+suffix, value)
	_ = os.Setenv("GIT_CONFIG_COUNT", strconv.Itoa(n+1))
	return func() {
		if had {
			_ = os.Setenv("GIT_CONFIG_COUNT", old)
		} else {
			_ = os.Unsetenv("GIT_CONFIG_COUNT")
		}
	}
}

// saySigned says what the record's sign-offs are worth now.
func (a *app) saySigned(root string, f journal.File) {
	j, err := journal.Load(journal.Dir(root), journal.Options{Sessions: true})
	if err != nil {
		return
	}
	w, err := a.witness(j, root, "")
	if err != nil {
		w = &witness{}
	} else {
		defer w.h.Close()
	}
	judgement := audit.NewJudgement(j, a.facts(j, w))
	verdicts := judgement.Signoffs(f.ID)
	if len(verdicts) > 0 {
		last := verdicts[len(verdicts)-1]
		if last.Standing != evidence.InForce {
			a.say("but it is %s: %s", last.Standing, strings.Join(last.Why, "; "))
			if last.Standing == evidence.ClaimOnly && !strings.Contains(strings.Join(last.Why, " "), "not committed") {
				a.say("to prove it: git commit --amend -S --no-edit, or next time wj sign --signed")
			}
		}
	}
	if c, ok := j.Changes.Get(f.ID); ok {
		r := judgement.Change(c)
		a.say("the change is %s: %s", r.State, strings.Join(r.Why, "; "))
		for _, n := range r.Notes {
			a.say("%s", n)
		}
	}
}
