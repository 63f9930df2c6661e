package evidence

import (
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/history"
)

// proof asks what shows who signed.
func (v *judging) proof() {
	s, line := v.Signoff, v.facts.Line
	if line == nil && v.facts.Unreadable != "" {
		v.worse(CannotTell, "the repository cannot be read: %s", v.facts.Unreadable)
		return
	}
	person, ok := v.rules.Journal.People.Get(s.By)
	if !ok {
		return
	}
	found, file := v.signature()
	switch {
	case file == "":
	case found.Kind == history.Good && found.Principal == s.By:
		v.signed(person, file, found.Fingerprint)
	case found.Kind == history.Good:
		v.worse(NotAllowed, "it says %s, but %s was made with a key of %s", s.By, file, found.Principal)
	case found.Kind == history.Bad, found.Kind == history.Malformed, found.Kind == history.WrongNamespace, found.Kind == history.Revoked:
		v.worse(NotAllowed, "%s does not hold: %s%s", file, found.Kind, inParentheses(found.Detail))
	default:
		v.worse(ClaimOnly, "%s proves nothing: %s%s", file, found.Kind, inParentheses(found.Detail))
	}
	v.committed(person)
	if v.Proof == Claim && v.Policy.Proof && v.Signoff.Decision != journal.DecidedWithdrawn {
		v.worse(ClaimOnly, "policy asks for the signer's own signature, and there is none that counts")
	}
}

// signed takes a good signature for what the listing of its key is worth. Where
// the policy asks for no proof, anybody who may commit can list a key.
func (v *judging) signed(person *journal.Person, file, fingerprint string) {
	found, ok := listing{}, false
	if line := v.facts.Line; line != nil && v.act.files != nil && !v.Policy.Proof {
		found, ok = line.listed(v.act, person)
	}
	switch {
	case !ok, found.founding, found.signed:
	case found.own:
		v.note("the key was listed by commit %s of %s, which nobody else signed", found.by.Commit, found.by.Name)
	default:
		v.note("its signature proves nothing: the key was listed for %s by commit %s of %s, which nobody else signed (wj sign %s)", person.ID, found.by.Commit, found.by.Name, person.ID)
		return
	}
	v.Proof, v.Claim, v.Signed, v.Key = BySignature, false, file, fingerprint
	switch line := v.facts.Line; {
	case line == nil:
		v.Claim = true
		v.note("whose key it is depends on these files alone: there is no history")
	case v.At == Unplaced && line.cut && v.Policy.Proof:
		v.worse(CannotTell, "how its key came to people/ is not in this shallow copy")
	}
}

// signature judges what is beside the statement.
func (v *judging) signature() (history.SignatureCheck, string) {
	if v.facts.Line == nil || v.act.files == nil {
		return signatureBeside(v.j.FS, v.act.path, v.act.content, v.rules.Ring, v.Signoff.On)
	}
	found := v.facts.Line.proof(v.act, v.rules)
	for _, name := range SignatureFiles(v.act.path) {
		if v.act.files[name] != nil {
			return found, name
		}
	}
	return found, ""
}

// committed asks what the commit that brought the sign-off claims.
func (v *judging) committed(person *journal.Person) {
	s, line := v.Signoff, v.facts.Line
	if line == nil {
		return
	}
	if v.At == Uncommitted {
		v.worse(ClaimOnly, "it is not committed yet")
		return
	}
	origins := line.originsFor(v.act)
	if len(origins) == 0 {
		if v.Proof == Claim {
			v.worse(CannotTell, "the commit that brought it is not in this copy of the repository")
		} else {
			v.note("the commit that brought it is not in this copy of the repository")
		}
		return
	}
	v.Origin, v.Known = origins[len(origins)-1], true
	for _, o := range origins {
		if o.By(person) {
			v.Origin = o
		}
	}
	o := v.Origin
	if v.Proof == Claim && o.signed {
		if found, err := line.repo.Verify(o.hash, v.rules.Ring, time.Time{}); err == nil {
			switch {
			case found.Kind == history.Good && found.Principal == s.By:
				v.Proof, v.Claim, v.Key = ByCommit, false, found.Fingerprint
			case found.Kind == history.Good:
				v.worse(NotAllowed, "it says %s, but commit %s was signed with a key of %s", s.By, o.Commit, found.Principal)
			case found.Kind == history.Bad, found.Kind == history.Malformed, found.Kind == history.Revoked:
				v.worse(NotAllowed, "the signature of commit %s does not hold: %s%s", o.Commit, found.Kind, inParentheses(found.Detail))
			}
		}
	}
	if v.Proof == Claim && !o.By(person) {
		v.worse(NotAllowed, "it says %s, but commit %s is by %s <%s>, which is no address of %s", s.By, o.Commit, o.Name, o.Email, s.By)
	}
	if v.Proof == Claim {
		if shared := SharedAddresses(v.rules.Journal)[strings.ToLower(o.Email)]; len(shared) > 1 {
			v.worse(ClaimOnly, "the address %s is in the records of %s: which of them it was is unknown", o.Email, strings.Join(shared, " and "))
		}
	}
	v.authored(person)
}

// authored asks whether the signer made the change that they accept: the author
// field is what somebody typed, history knows whose bytes these are.
func (v *judging) authored(person *journal.Person) {
	change, ok := v.record.(*journal.Change)
	if !ok || !v.Policy.OtherThanAuthor || !v.Accepts() || v.Policy.Proof || v.facts.Line.proposedBy(v.j, change) {
		return // the author's own signature shows whose it is, whoever squashed or rebased it
	}
	for _, made := range v.facts.Line.makers(v.j, change.Path) {
		if made.By(person) {
			v.worse(NotAllowed, "%s made the change in its present form (commit %s), and policy asks for another person", v.Signoff.By, made.Commit)
			return
		}
	}
}

// proposedBy reports whether the author's own signature is on the change as it
// stands.
func (m *Mainline) proposedBy(j *journal.Journal, c *journal.Change) bool {
	content, err := readSmall(j.FS, c.Path)
	if err != nil {
		return false
	}
	digests := signedDigests(m.names(), c.Path, content)
	for _, a := range m.acts {
		if a.signoff.Decision == journal.DecidedProposed && a.signoff.By == c.Author && coversKey(a.signoff, recordKey(c.Path), digests...) {
			if found := m.proof(a, m.before(a.at)); found.Kind == history.Good && found.Principal == c.Author {
				return true
			}
		}
	}
	return false
}

// makers are the commits that made the present content of a file.
func (m *Mainline) makers(j *journal.Journal, path string) []Origin {
	if m == nil {
		return nil
	}
	content, err := readSmall(j.FS, path)
	if err != nil {
		return nil
	}
	t := m.files[recordKey(path)]
	if t == nil {
		return nil
	}
	for _, v := range slices.Backward(t.versions) {
		if v.blob.IsZero() {
			continue
		}
		if was, err := m.repo.Blob(v.blob); err == nil && string(lines(was)) == string(lines(content)) {
			return m.originsOf(path, v.blob)
		}
	}
	return nil
}

// Makers are the commits that made the present content of a file; none where it
// is not committed as it is.
func (f Facts) Makers(j *journal.Journal, path string) []Origin { return f.Line.makers(j, path) }
