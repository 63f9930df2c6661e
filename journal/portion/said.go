package portion

import (
	"fmt"
	"strings"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
)

// list is some of many names behind what they are, nothing where there are none.
func list(what string, names []string) []string {
	const most = 4
	if len(names) == 0 {
		return nil
	}
	text := strings.Join(names[:min(most, len(names))], ", ")
	if n := len(names) - most; n > 0 {
		text += fmt.Sprintf(" and %d more", n)
	}
	return []string{what + ": " + text}
}

// proof is what a person should know of the sign-offs.
func (m *Made) proof() []string {
	var out []string
	if m.Signed > 0 {
		out = append(out, fmt.Sprintf("%s proven by the signer's own signature, as before", journal.Count(m.Signed, "sign-off")))
	}
	out = append(out, list("signer not verified there: only the signature of a commit showed it, and commits are written anew", m.Claims)...)
	for _, s := range m.Ended {
		out = append(out, "no longer in force there: "+s)
	}
	return out
}

// Said is what a person should know of a split, a line each.
func (m *Made) Said() []string {
	p := m.Portion
	out := []string{fmt.Sprintf("%s and %s of %s", journal.Count(m.Records, "record"), journal.Count(m.Commits, "commit"), p.Owner.Name)}
	out = append(out, list("left out, since they concern other owners too", p.LeftOut)...)
	out = append(out, list("other owners were named in, and taken out of", p.Reduced)...)
	out = append(out, m.proof()...)
	if w := list("without effect there until others sign it", m.Waiting); len(w) > 0 {
		out = append(out, append(w, "their sign-offs cover what other owners have, or what the split left out: here wj sign each by itself and split again, or sign there")...)
	}
	return append(out, "commits are not the old ones: that they were made so is your word; wj.yaml names the journal that they come from (origin)")
}

// Said is what a person should know of a join, a line each.
func (m *JoinMade) Said() []string {
	out := []string{fmt.Sprintf("%s and %s brought in", journal.Count(m.Brought, "record"), journal.Count(m.Commits, "commit"))}
	if m.Waits {
		out = append(out, "what was approved there counts here once others sign wj.yaml, which joins it: wj review wj.yaml, then wj sign wj.yaml")
	} else {
		out = append(out, m.proof()...)
	}
	out = append(out, list("roles that ended with that journal; wj amend PERSON roles … lets them act here", m.Roles)...)
	out = append(out, list("here already, and not twice: addresses and keys of", m.Same)...)
	return append(out, list("its wj.yaml does not count here, which says something else of", m.Settings)...)
}

// Names is whom a file that is handed out byte for byte names of strangers, "" where
// it names none.
func (p *Portion) Names(f evidence.BagFile) string {
	if _, record := journal.FileOf(f.Name); !record && f.Name != journal.SettingsFile || len(f.Content) > frontmatter.MaxFile {
		return ""
	}
	return p.Strangers.In(string(f.Content))
}
