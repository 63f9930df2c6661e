package main

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
	"wj/journal/history"
	"wj/journal/judge"
	"wj/journal/writer"
	"wj/render"
)

// sign makes the signature beside the statement: where the policy asks for it,
// where it was asked for, or where the key that git uses is in the person's
// record.
func (s *signing) sign(src []byte) (signature []byte, ext string, err error) {
	base := s.rules()
	must := s.Signed || s.Key != "" || base.Settings.Policy.Proof
	signer, err := evidence.FindSigner(s.a.Context, s.root, s.Key)
	if err != nil {
		if !must && (errors.Is(err, evidence.ErrNoKey) || errors.Is(err, history.ErrUntrusted) || errors.Is(err, history.ErrNoGit)) {
			return nil, "", nil
		}
		return nil, "", withHint("git config user.signingkey ~/.ssh/id_ed25519.pub; or --key FILE", "%w", err)
	}
	public, keyErr := signer.PublicKey(s.a.Context)
	listed := keyErr == nil && evidence.Lists(base, s.by, public)
	switch {
	case !listed && !must:
		return nil, "", nil
	case !listed && s.rules().Settings.Policy.Proof:
		return nil, "", withHint("wj sign --add-key adds it; others sign that change (wj sign "+s.by+")", "your key is not in the record of %s on the branch that judges, and the sign-off would not count", s.by)
	case !listed:
		s.a.say("your key is not in people/%s.md yet: wj sign --add-key adds it", s.by)
	}
	signature, err = signer.Sign(s.a.Context, src)
	return signature, signer.Ext(), err
}

// addKey adds the public half of the user's key to the person's record.
func (s *signing) addKey() error {
	signer, err := evidence.FindSigner(s.a.Context, s.root, s.Key)
	if err != nil {
		return withHint("git config gpg.format ssh && git config user.signingkey ~/.ssh/id_ed25519.pub; or --key FILE.pub", "%w", err)
	}
	public, err := signer.PublicKey(s.a.Context)
	if err != nil {
		return err
	}
	if evidence.Lists(s.j, s.by, public) {
		s.a.say("the key is in the record of %s already", s.by)
		return nil
	}
	person, ok := s.j.People.Get(s.by)
	if !ok {
		return withHint("wj new person "+s.by+" name=…", "there is no person %q", s.by)
	}
	source, err := journal.Dir(s.root).ReadIfThere(person.Path)
	if err != nil {
		return err
	}
	var d frontmatter.Document
	d.Parse(source)
	entry := fmt.Sprintf("{key: %s, since: %s}", frontmatter.Quote(public), journal.FormatDate(s.now))
	edit, err := frontmatter.AppendKey(&d, 0, "keys", "\n  - "+entry)
	if node, there := d.Child(0, "keys"); there {
		edit, err = frontmatter.AppendItem(&d, node, entry)
	}
	if err != nil {
		return err
	}
	result, err := frontmatter.Apply(source, []frontmatter.Edit{edit})
	if err != nil {
		return err
	}
	s.a.say("a change of a key is a guard change: where the policy asks for proof it counts once others signed it (wj sign %s)", s.by)
	_, err = s.a.write(s.j, s.root, writer.Record{Files: []writer.File{{Path: person.Path, Old: source, New: result}}, Kept: s.NoCommit, Subject: "Add a signing key of " + s.by}, s.DryRun)
	return err
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

// saySigned says what the record's sign-offs are worth now.
func (a *app) saySigned(root string, f journal.File) {
	j, err := journal.Load(journal.Dir(root), journal.Options{Sessions: true})
	if err != nil {
		return
	}
	w := a.ProvenanceOrNone(j, root)
	defer w.Close()
	judgement := judge.NewChanges(j, a.Facts(j, w))
	verdicts := judgement.Signoffs(f.ID)
	if n := len(verdicts); n > 0 {
		last := verdicts[n-1]
		if last.Standing != evidence.InForce {
			a.say("but it is %s: %s", last.Standing, strings.Join(last.Why, "; "))
		} else {
			a.say("%s", last.Describe())
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

// voidsNothing refuses to declare a sign-off void that counts, or may count: it
// stands until its signer withdraws it. One that never counted may be marked.
func (a *app) voidsNothing(j *journal.Journal, root string, f journal.File, by string) error {
	s, ok := j.Signoffs.Get(f.ID)
	if !ok || f.Kind != journal.KindSignoff {
		return nil
	}
	w := a.ProvenanceOrNone(j, root)
	defer w.Close()
	if evidence.Judge(j, s, a.Facts(j, w)).Standing == evidence.NotAllowed {
		return nil
	}
	if s.By == by {
		return withHint("wj sign "+f.ID+" --withdraw", "a sign-off is not edited: it is withdrawn by a further one")
	}
	return withHint("ask "+s.By+"; or refuse the record yourself: wj sign "+s.Of+" --refuse", "a sign-off is withdrawn by its signer alone")
}

// readLine reads a short line and nothing after it: what follows is for the next
// question.
func readLine(r io.Reader) (string, error) {
	var line []byte
	for one := make([]byte, 1); len(line) < 256; {
		n, err := r.Read(one)
		switch {
		case n == 1 && one[0] == '\n', errors.Is(err, io.EOF):
			return string(line), nil
		case err != nil:
			return "", err
		case n == 1:
			line = append(line, one[0])
		}
	}
	return string(line), nil
}

// confirm asks for the digest that the reviewer saw. A refusal needs none.
func (s *signing) confirm(statement *evidence.Statement) error {
	if s.Refuse || s.Withdraw || s.DryRun || s.remark != "" {
		return nil
	}
	typed := strings.Join(s.Digest, "")
	if typed == "" && s.Remarks != "-" {
		fmt.Fprintf(s.a.stderr, "digest that wj review %s printed: ", render.Line(s.file.ID))
		line, err := readLine(s.a.stdin)
		if err != nil {
			return fmt.Errorf("read the digest: %w", err)
		}
		typed = strings.TrimSpace(line)
		fmt.Fprintln(s.a.stderr)
	}
	switch {
	case typed == "":
		return withHint("wj review "+s.file.ID+" prints it; then wj sign "+s.file.ID+" --digest …", "what you looked at must be named by its digest")
	case !evidence.SameShort(typed, statement.Short()):
		return withHint("look again: wj review "+s.file.ID, "the digest %.20q is not that of what would be signed: it changed since, or it was typed wrong", typed)
	}
	return nil
}
