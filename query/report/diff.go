package report

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/diff"
	"wj/journal/evidence"
	"wj/render"
	"wj/water"
)

// Diff is what two states of a journal say differently, in the terms of the trade.
type Diff struct {
	Commits [2]string // in full; "" for the working files
	Names   [2]string // of the states: "3f2a… of 2026-03-04"
	After   *journal.Journal
	Changes []diff.RecordChange // inputs first, see diff.Differences
	Signers map[string]string   // what shows who signed, by the id of a sign-off
	Fields  bool                // show all fields of new and deleted records too, not only readings
}

// JudgeSigners asks of each sign-off that differs what shows who signed.
func (d *Diff) JudgeSigners(facts evidence.Facts) {
	d.Signers = map[string]string{}
	for _, r := range d.Changes {
		if s, ok := d.After.Signoffs.Get(r.ID); ok && r.Kind == journal.KindSignoff {
			d.Signers[r.ID] = evidence.Judge(d.After, s, facts).Describe()
		}
	}
}

// namesNote says of names that records state that they are not verified; "" where
// none is shown.
func (d *Diff) namesNote() string {
	for _, r := range d.Changes {
		if r.Reason != "" || slices.ContainsFunc(d.shownFields(r), func(f diff.FieldChange) bool { return f.Amendment != nil }) {
			return "Who amended or voided is as the record states it: signer not verified (wj log RECORD shows signatures)."
		}
	}
	return ""
}

// shownFields are the fields of a change that are worth a line: of a new or
// deleted record its readings alone, of a new or deleted change all that makes it.
func (d *Diff) shownFields(r diff.RecordChange) []diff.FieldChange {
	if d.Fields || r.What != diff.New && r.What != diff.Deleted {
		return r.Fields
	}
	var out []diff.FieldChange
	for _, f := range r.Fields {
		parts := strings.Split(f.Path, ".")
		if r.Kind == journal.KindChange {
			if parts[len(parts)-1] != "session" { // it is in the path of its share
				out = append(out, f)
			}
			continue
		}
		if len(parts) == 3 && (parts[2] == "value" || parts[2] == "amount") || parts[0] == "expect" || parts[0] == "decision" || parts[0] == "change" || parts[0] == "of" || parts[0] == "for" {
			out = append(out, f)
		}
	}
	return out
}

func fieldChangeText(f diff.FieldChange) string {
	text := shortField(f.Path) + ": "
	switch {
	case f.Before == "":
		text += f.After
	case f.After == "":
		text += f.Before + " → (gone)"
	default:
		text += f.Before + " → " + f.After
	}
	return text + samenessText(f.Sameness)
}

// derivedText writes a derived value in two states, in the owner's units.
func derivedText(j *journal.Journal, d diff.DerivedChange) string {
	value := func(known bool, v, u float64, bound water.Bound) string {
		if !known {
			return "not available"
		}
		return InUnit(j, "", d.ID, bound, v, u).String()
	}
	text := d.ID.String() + " (derived): " + value(d.BeforeKnown, d.Before, d.BeforeU, d.BeforeBound) + " → " + value(d.AfterKnown, d.After, d.AfterU, d.AfterBound)
	if d.Beyond {
		text += ", more than its uncertainty"
	}
	return text
}

func restingText(files []journal.File) string {
	var parts []string
	for i, f := range files {
		if i == 6 {
			parts = append(parts, fmt.Sprintf("and %d more", len(files)-i))
			break
		}
		parts = append(parts, f.Kind.String()+" "+f.ID)
	}
	return strings.Join(parts, ", ")
}

// Text writes what differs for a terminal.
func (d *Diff) Text(out render.Output) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n%s\n", out.Paint(render.Heading, d.Names[0]+" → "+d.Names[1]), render.Wrap(d.answer(), out.Width))
	input := false
	counted := d.counted()
	for i, r := range d.Changes {
		if r.Kind == journal.KindSession && r.What == diff.New && counted != "" {
			continue
		}
		if r.Input() && !input {
			fmt.Fprintf(&b, "\n%s\n", out.Paint(render.Heading, "Inputs: what everything else is judged by"))
			input = true
		}
		if !r.Input() && (i == 0 || d.Changes[i-1].Input()) {
			fmt.Fprintf(&b, "\n%s\n", out.Paint(render.Heading, "Records"))
		}
		state := render.Plain
		if r.What <= diff.Rewritten {
			state = render.Error
		}
		fmt.Fprintf(&b, "%s %s", out.Paint(state, r.What.String()), render.Line(r.Path))
		if r.From != "" {
			b.WriteString(" (was " + render.Line(r.From) + ")")
		}
		b.WriteString("\n")
		line := func(s string) { b.WriteString("    " + render.Line(s) + "\n") }
		if r.Reason != "" {
			line("void: " + r.Reason)
		}
		for _, f := range d.shownFields(r) {
			line(fieldChangeText(f))
			if f.Amendment != nil {
				line("    amended by " + f.Amendment.By + ": " + cmp.Or(f.Amendment.Reason, "no reason given"))
			}
		}
		if signer := d.Signers[r.ID]; signer != "" && r.Kind == journal.KindSignoff {
			line(signer)
		}
		if r.Note {
			line("the notes below the fields differ")
		}
		if r.What != diff.New {
			for _, x := range r.Derived {
				line(derivedText(d.After, x))
			}
		}
		if len(r.Resting) > 0 {
			line("depends on it: " + restingText(r.Resting))
		}
	}
	if counted != "" {
		b.WriteString("new " + counted + "\n")
	}
	if note := d.namesNote(); note != "" {
		b.WriteString(render.Wrap(note, out.Width) + "\n")
	}
	return b.String()
}

// answer says what differs in a sentence or two, the worst first.
func (d *Diff) answer() string {
	text := journal.Capital(d.Count()) + "."
	if len(d.Changes) > 0 && !slices.ContainsFunc(d.Changes, diff.RecordChange.Input) {
		text += " No setting, person, site, limit, target or meter was changed."
	}
	return text
}

// manyNew is of how many new sessions a screen shows every reading.
const manyNew = 6

// counted are the new sessions by their sites, where they are too many to show each; "" otherwise.
func (d *Diff) counted() string {
	n, sites := 0, map[string]int{}
	for _, r := range d.Changes {
		if s, ok := d.After.Sessions.Get(r.ID); ok && r.Kind == journal.KindSession && r.What == diff.New {
			sites[s.Site]++
			n++
		}
	}
	if n <= manyNew || d.Fields {
		return ""
	}
	var parts []string
	for _, site := range slices.Sorted(maps.Keys(sites)) {
		parts = append(parts, fmt.Sprintf("%s %d", site, sites[site]))
	}
	return fmt.Sprintf("sessions, %d: %s\n    their readings: --fields", n, strings.Join(parts, ", "))
}

// Count says in a line how many records did what.
func (d *Diff) Count() string {
	n := map[diff.What]int{}
	for _, r := range d.Changes {
		n[r.What]++
	}
	var parts []string
	for w := diff.Deleted; w <= diff.New; w++ {
		if n[w] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n[w], w))
		}
	}
	return cmp.Or(strings.Join(parts, ", "), "no record differs")
}

// Markdown is the same for a pull request: one table of what differs, inputs
// first.
func (d *Diff) Markdown() string {
	var b strings.Builder
	fmt.Fprintf(&b, "## Water journal: %s\n\n%s → %s\n\n", d.Count(), d.Names[0], d.Names[1])
	section := func(title string, keep func(diff.RecordChange) bool) {
		t := render.Table{Columns: []render.Column{{Head: "record"}, {Head: "what"}, {Head: "value"}, {Head: "before"}, {Head: "after"}, {Head: "remark"}}}
		for _, r := range d.Changes {
			if !keep(r) {
				continue
			}
			rows := 0
			add := func(value, before, after, remark string) {
				record, what := "", ""
				if rows == 0 {
					record, what = r.Path, r.What.String()
					if r.Reason != "" {
						what += ": " + r.Reason
					}
				}
				rows++
				t.Rows = append(t.Rows, []render.Cell{{Text: record}, {Text: what}, {Text: value}, {Text: before}, {Text: after}, {Text: remark}})
			}
			for _, f := range d.shownFields(r) {
				remark := ""
				switch {
				case f.Amendment != nil:
					remark = "amended by " + f.Amendment.By + ": " + f.Amendment.Reason
				case f.Sameness == evidence.SameWater:
					remark = "the same water in another unit"
				case f.Sameness == evidence.SameSpelled:
					remark = "only spelled differently"
				}
				add(shortField(f.Path), f.Before, f.After, remark)
			}
			if r.What != diff.New {
				for _, x := range r.Derived {
					_, values, _ := strings.Cut(derivedText(d.After, x), ": ")
					before, after, _ := strings.Cut(values, " → ")
					add(x.ID.String()+" (derived)", before, after, "")
				}
			}
			if signer := d.Signers[r.ID]; signer != "" && r.Kind == journal.KindSignoff {
				add("signature", "", "", signer)
			}
			if r.Note {
				add("notes", "", "", "differ")
			}
			if len(r.Resting) > 0 {
				add("depends on it", "", "", restingText(r.Resting))
			}
			if rows == 0 {
				add("", "", "", "")
			}
		}
		if len(t.Rows) > 0 {
			b.WriteString("### " + title + "\n\n" + render.MarkdownTable(t) + "\n")
		}
	}
	section("Inputs: what everything else is judged by", diff.RecordChange.Input)
	section("Records", func(r diff.RecordChange) bool { return !r.Input() })
	if note := d.namesNote(); note != "" {
		b.WriteString("\n" + note + "\n")
	}
	return b.String()
}

// shortField is a field as people say it: sulfate for readings.sulfate.value.
func shortField(p string) string {
	if short, ok := strings.CutPrefix(p, "readings."); ok {
		return strings.TrimSuffix(short, ".value")
	}
	if session, ok := strings.CutSuffix(strings.TrimPrefix(p, "basis."), ".share"); ok {
		return "basis " + session
	}
	return p
}
