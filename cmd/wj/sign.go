package main

import (
	"fmt"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/journal/source"
	"wj/journal/writer"
)

type signCmd struct {
	ID       string   `arg:"" optional:"" help:"The record to sign: a change, any other, or wj.yaml."`
	More     []string `arg:"" optional:"" name:"more" help:"More records, each signed by itself, such as the changes of mash and sparge."`
	Digest   []string `placeholder:"XXXX-XXXX-XXXX" help:"The digest that wj review printed: what you looked at; of several records one each, in their order. Without it you are asked."`
	Refuse   bool     `xor:"decision" help:"Refuse it instead of accepting it."`
	Propose  bool     `xor:"decision" help:"Sign it as its author, where the policy asks for proof."`
	Withdraw bool     `xor:"decision" help:"Take an own sign-off back; ID is the sign-off."`
	Meaning  string   `placeholder:"TEXT" help:"What the signature means, such as \"reviewed calculation and limits\"."`
	Remarks  string   `short:"m" placeholder:"TEXT" help:"Remarks; - reads them from standard input."`
	With     []string `placeholder:"ID" help:"Cover this record too, such as the newest session in a renewal."`
	Signed   bool     `help:"Sign with your key, also where the policy does not ask for it."`
	Key      string   `placeholder:"FILE" help:"Sign with this key instead of git's user.signingkey."`
	AddKey   bool     `help:"Add the public half of your key to your record in people/; others must sign that change where the policy asks for proof."`
	By       string   `placeholder:"ID" help:"Who signs; by default the person with your git address."`
	NoCommit bool     `help:"Write the file and do not commit."`
	DryRun   bool     `short:"n" help:"Print the sign-off and write nothing."`

	remark string // the decision of wj remark; "" where wj sign is meant
}

// signing is a sign-off on its way.
type signing struct {
	*signCmd
	a      *app
	j      *journal.Journal // as committed
	root   string
	w      *source.Provenance
	file   journal.File
	record journal.Any
	by     string
	now    time.Time
}

func (c *signCmd) Run(a *app) error {
	ids := append([]string{c.ID}, c.More...)
	if len(c.Digest) > 0 && len(c.Digest) != len(ids) {
		return withHint("wj review ID prints it; without --digest you are asked for each", "%d digests for %d records", len(c.Digest), len(ids))
	}
	for i, id := range ids {
		one := *c
		if one.ID = id; len(c.Digest) > 0 {
			one.Digest = c.Digest[i : i+1]
		}
		if err := one.one(a); err != nil {
			return err
		}
	}
	return nil
}

// one signs one record.
func (c *signCmd) one(a *app) error {
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	s := &signing{signCmd: c, a: a, j: j, root: root, by: c.By, now: a.Now().In(j.Settings.Zone)}
	if s.by == "" {
		if s.by, err = a.draft(j, root, journal.KindSignoff).Person(s.now); err != nil {
			return err
		}
	}
	if c.AddKey {
		return s.addKey()
	}
	if s.w, err = a.ProvenanceIfAny(j, root); err != nil {
		return err
	}
	defer s.w.Close()
	if s.w.Unreadable != "" {
		return withHint("nothing was written", "what is signed must be in history, and the repository cannot be read: %s", s.w.Unreadable)
	}
	if err := s.find(); err != nil {
		return err
	}
	if err := s.allowed(); err != nil {
		return err
	}
	statement, err := s.statement()
	if err != nil {
		return err
	}
	if err := s.confirm(statement); err != nil {
		return err
	}
	return s.write(statement)
}

// find gets the record, from the commit that is checked out.
func (s *signing) find() error {
	if s.ID == "" {
		return withHint("wj sign ID; wj ls changes lists changes", "which record?")
	}
	if s.ID == journal.SettingsFile {
		s.file = journal.File{Kind: journal.KindSettings, ID: journal.SettingsFile, Path: journal.SettingsFile}
		return nil
	}
	f, err := find(s.j, s.ID)
	if err != nil {
		return err
	}
	s.file = f
	if _, s.record, err = s.j.ReadRecord(f); err != nil {
		return err
	}
	if s.record == nil {
		return withHint("wj lint "+f.ID, "%s has no front matter that can be read", f.Path)
	}
	if void := s.record.Base().Void; void != nil && !s.Withdraw && f.Kind == journal.KindChange {
		return withHint("a void change needs no sign-off", "%s is void: %s", f.ID, void.Reason)
	}
	return nil
}

// rules are whose people and policy count.
func (s *signing) rules() *journal.Journal {
	if s.w.Base != nil {
		return s.w.Base
	}
	return s.j
}

// allowed refuses what could never count.
func (s *signing) allowed() error {
	base := s.rules()
	why, hint := "", ""
	switch {
	case s.Withdraw:
		if of, ok := s.record.(*journal.Signoff); !ok || of.By != s.by {
			why, hint = fmt.Sprintf("%s is no sign-off of %s; a sign-off is withdrawn by its signer alone", s.file.ID, s.by), "void nothing of another person: refuse the record instead (wj sign ID --refuse)"
		}
	case s.Propose:
		if change, ok := s.record.(*journal.Change); ok && change.Author != s.by {
			why, hint = fmt.Sprintf("%s is not the author of %s", s.by, s.file.ID), change.Author+" proposes it"
		}
	case s.remark == journal.DecidedRemarked:
		why, hint = evidence.MayRemark(base, s.by, s.now), "who remarks must be in people/"
	default:
		why = evidence.MaySign(base, s.j, s.record, s.by, s.now)
		if change, ok := s.record.(*journal.Change); ok && why == "" && base.Settings.Policy.OtherThanAuthor {
			person, _ := base.People.Get(s.by)
			for _, o := range s.a.Facts(s.j, s.w).Makers(s.j, change.Path) {
				if o.By(person) {
					why = fmt.Sprintf("%s made the change in its present form (commit %s), and policy asks for another person", s.by, o.Commit)
				}
			}
		}
		hint = s.others()
	}
	if why != "" {
		return withHint(hint, "%s", why)
	}
	return s.impostor()
}

// impostor refuses a claim whose commit would carry an address that is none of
// the person's.
func (s *signing) impostor() error {
	if s.NoCommit || s.DryRun || s.w.Base == nil || s.Signed || s.Key != "" || s.rules().Settings.Policy.Proof {
		return nil
	}
	person, ok := s.w.Base.People.Get(s.by)
	name, email, known := history.Identity(s.root)
	if !ok || !known || len(person.Keys) > 0 || (evidence.Origin{Email: email}).By(person) {
		return nil
	}
	hint := fmt.Sprintf("%s signs with git set to an address that is in %s: git config user.email", s.by, person.Path)
	if len(person.Email) == 0 {
		hint = fmt.Sprintf("wj amend %s email %s@brewery.example --reason …; then %s signs with git set to that address (git config user.email)", s.by, s.by, s.by)
	}
	return withHint(hint, "the commit would be by %s <%s>, which is no address of %s, and the sign-off would not count", name, email, s.by)
}

func (s *signing) others() string {
	var others []string
	for _, id := range evidence.Reviewers(s.rules(), s.j, s.record, s.now) {
		if id != s.by {
			others = append(others, id)
		}
	}
	if len(others) == 0 {
		return "nobody may sign it now; roles are in people/, the policy in wj.yaml (policy: changes: …)"
	}
	return "ask " + strings.Join(others, " or ")
}

// statement composes what is signed, from the bytes of the commit that is
// checked out: what is digested is what is committed.
func (s *signing) statement() (*evidence.Statement, error) {
	j := s.j
	if s.w.History != nil {
		fsys, err := s.w.History.FS(s.w.Line.Head().Hash)
		if err != nil {
			return nil, err
		}
		j = s.j.On(fsys)
	}
	var with []string
	for _, id := range s.With {
		f, err := find(s.j, id)
		if err != nil {
			return nil, err
		}
		with = append(with, f.Path)
	}
	statement, err := evidence.Prepare(j, s.file, s.record, with)
	if err != nil {
		for _, c := range s.w.Working {
			if c.Path == s.file.Path {
				return nil, withHint("git add "+c.Path+" && git commit", "%s is not committed in its present form; what is signed must be in history", c.Path)
			}
		}
		return nil, withHint("wj lint "+s.file.ID, "%w", err)
	}
	paths := []string{}
	for _, c := range statement.Covers {
		paths = append(paths, c.Path)
	}
	if statement.Settings != "" {
		paths = append(paths, journal.SettingsFile)
	}
	for _, p := range paths {
		if s.w.Dirty[p] {
			return nil, withHint("git add "+p+" && git commit", "%s is not committed in its present form; what is signed must be in history", p)
		}
	}
	if s.w.Line != nil {
		statement.Seen = s.w.Line.Head().Hash.String()
	}
	statement.By, statement.On, statement.Meaning = s.by, s.now, s.Meaning
	statement.Decision = map[bool]string{true: journal.DecidedRefused, false: journal.DecidedAccepted}[s.Refuse]
	if s.Propose {
		statement.Decision = journal.DecidedProposed
	}
	if s.Withdraw {
		statement.Decision = journal.DecidedWithdrawn
	} else if s.remark != "" {
		statement.Decision = s.remark
	}
	statement.Remarks, err = s.a.text(s.Remarks)
	return statement, err
}

// write signs, writes and commits the statement.
func (s *signing) write(statement *evidence.Statement) error {
	src := statement.Bytes()
	stem := signoffStem(strings.TrimSuffix(s.file.ID, ".yaml"), s.by, s.now)
	files := []writer.File{{Path: journal.KindSignoff.Folder() + "/" + writer.Free(s.j, journal.KindSignoff, stem) + ".md", New: src, Stem: stem}}
	if !s.DryRun {
		signature, ext, err := s.sign(src)
		if err != nil {
			return err
		}
		if signature != nil {
			files = append(files, writer.File{Path: files[0].Path + ext, New: signature, Beside: ext})
		}
	}
	verb := map[string]string{journal.DecidedAccepted: "Sign", journal.DecidedRefused: "Refuse", journal.DecidedProposed: "Propose", journal.DecidedWithdrawn: "Withdraw", journal.DecidedRequested: "Ask for changes in", journal.DecidedRemarked: "Remark on"}[statement.Decision]
	record := writer.Record{Files: files, Kept: s.NoCommit, Subject: fmt.Sprintf("%s %s as %s", verb, s.file.ID, s.by),
		Trailers: []history.Trailer{{Key: "Signs", Value: s.file.ID}, {Key: "Decision", Value: statement.Decision}, {Key: "Meaning", Value: s.Meaning}}}
	out, err := s.a.put(s.j, s.root, record, s.DryRun)
	if err != nil || s.DryRun {
		return err
	}
	if err := s.a.print(s.a.relative(s.root, out.Paths[0]) + "\n"); err != nil {
		return err
	}
	s.a.saidCommit(s.root, out)
	s.a.saySigned(s.root, s.file)
	return nil
}
