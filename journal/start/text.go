package start

import (
	"strings"

	"wj/journal"
	"wj/journal/frontmatter"
)

// IgnoreFile names what git passes over.
const IgnoreFile = ".gitignore"

// attributes keep the bytes of records the same on every machine, so that a digest that was
// signed holds everywhere.
const attributes = `# The same line ends on every machine: what was signed keeps its digest.
*.md   text eol=lf
*.yaml text eol=lf
*.sig  -text
*.asc  -text
attachments/** -text
# Edits of one record made apart are united by wj merge-driver, where wj hook install set it.
`

// settings is the first wj.yaml: what must be there, and what can be.
func settings(a Answers) string {
	text := "# Settings of this water journal; wj explain settings shows what else can be here.\n" +
		"format: 1\njournal: " + journal.NewJournalID(a.Name) + " # never change it: exports of this journal are known by it\nname: " + frontmatter.Quote(a.Name) + "\ntimezone: " + frontmatter.Quote(a.Timezone) + "\n"
	if law := Jurisdiction(a.Country); law != "" {
		text += "jurisdictions: [" + law + "]\n"
	}
	if len(a.Taps) > 1 {
		var ids []string
		for _, t := range a.Taps {
			ids = append(ids, t.ID)
		}
		text += "rounds:\n  all: [" + strings.Join(ids, ", ") + "]\n"
	}
	return text + "policy:\n  changes:    {reviewers: 1, other_than_author: true, valid_for: 365 d, emergency_review: 24 h}\n" +
		"  amendments: {reason: required}\n"
}

// readme is the page for whoever takes the journal over, with or without the program.
func readme(a Answers) string {
	return "# Water journal of " + strings.Join(strings.Fields(a.Name), " ") + `

This folder holds what was measured in our water, what was done about it, and who did it. Every
record is a text file that any editor opens. Git keeps who wrote it and when.

| folder | what is in it |
| --- | --- |
| ` + "`sites`" + ` | the taps where samples are taken |
| ` + "`sessions`" + ` | what was measured, one file for each tap and time |
| ` + "`lots`, `instruments`, `methods`" + ` | reagents, meters, and how a test is made |
| ` + "`targets`, `changes`, `batches`" + ` | the water a beer wants, what is added, what was brewed with it |
| ` + "`events`, `actions`" + ` | what was done to the plant, and what went wrong |
| ` + "`people`, `owners`, `signoffs`, `reports`" + ` | who works here, whose water it is, who approved what, what was sent |

A record begins with its fields, each on a line, between two lines of ` + "`---`" + `. Below them are
notes. A value is as the meter showed it, with its unit; a dilution stands beside it. A mistake is
corrected in its line, and ` + "`amended`" + ` keeps what was there. Nothing is deleted.

With the program wj: ` + "`wj status`" + ` shows what is to do, ` + "`wj enter TAP`" + ` records a test, ` + "`wj lint`" + `
checks everything, ` + "`wj explain session`" + ` explains a record.

Without it: ` + "`grep -r 'sulfate:' sessions`" + ` lists every sulfate, ` + "`git log -- sessions`" + ` shows when
each was recorded, ` + "`git log -p FILE`" + ` what changed in a record.

These records do not show whether water is safe to drink. Ask an accredited laboratory, and follow
the local rules.
`
}
