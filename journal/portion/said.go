package portion

import (
	"fmt"
	"strings"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
)

// Said is what a person should know of a split, a line each.
func (m *Made) Said() []string {
	p := m.Portion
	out := []string{fmt.Sprintf("%s and %s of %s", journal.Count(m.Records, "record"), journal.Count(m.Commits, "commit"), p.Owner.Name)}
	list := func(what string, names []string) {
		const most = 4
		if len(names) == 0 {
			return
		}
		text := strings.Join(names[:min(most, len(names))], ", ")
		if n := len(names) - most; n > 0 {
			text += fmt.Sprintf(" and %d more", n)
		}
		out = append(out, what+": "+text)
	}
	list("left out, since they concern other owners too", p.LeftOut)
	list("other owners were named in, and taken out of", p.Reduced)
	if m.Signed > 0 {
		out = append(out, fmt.Sprintf("%s proven by the signer's own signature, as before", journal.Count(m.Signed, "sign-off")))
	}
	list("signer not verified there: only the signature of a commit showed it, and commits are written anew", m.Claims)
	for _, s := range m.Ended {
		out = append(out, "no longer in force there: "+s)
	}
	return append(out, "commits are not the old ones: that they were made so is your word; wj.yaml names the journal that they come from (origin)")
}

// Names is whom a file that is handed out byte for byte names of strangers, "" where
// it names none.
func (p *Portion) Names(f evidence.BagFile) string {
	if _, record := journal.FileOf(f.Name); !record && f.Name != journal.SettingsFile || len(f.Content) > frontmatter.MaxFile {
		return ""
	}
	return p.Strangers.In(string(f.Content))
}
