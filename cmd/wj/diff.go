package main

import (
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/audit"
	"wj/journal/history"
	"wj/query/report"
	"wj/render"
	"wj/water"
)

type diffCmd struct {
	Range  string `arg:"" optional:"" default:"HEAD" help:"A..B: two revisions or dates (main..HEAD, 2026-03-01..2026-04-01); A alone compares with the working files."`
	Format string `enum:"text,markdown,json" default:"text" help:"${enum}; markdown is for a pull request."`
	Fields bool   `help:"All fields of new and deleted records too, not only readings."`
}

func (c *diffCmd) Help() string {
	return "What a branch or a period changed, in the trade's own terms. Inputs by which everything is judged (settings, policy, people, sites and their limits, targets, meters) come first, then records that were deleted or rewritten, " +
		"voided, amended, edited and new; old and new values with what they do to derived values and to the changes, batches, reports and sign-offs that rest on them."
}

func (c *diffCmd) Run(a *app) error {
	now, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	h, err := a.openHistory(root)
	if err != nil {
		return err
	}
	defer h.Close()
	from, to, closed := strings.Cut(c.Range, "..")
	if strings.HasPrefix(to, ".") {
		return withHint("write A..B", "%q names a merge base (three points)", c.Range)
	}
	before, first, err := a.journalAt(h, orElse(from, "HEAD"), now.Settings.Zone, journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	after, names := now, [2]string{revisionName(first, now.Settings.Zone), "the working files"}
	var pairs []audit.FilePair
	if closed {
		var last history.Revision
		if after, last, err = a.journalAt(h, orElse(to, "HEAD"), now.Settings.Zone, journal.Options{Sessions: true}); err != nil {
			return err
		}
		names[1] = revisionName(last, now.Settings.Zone)
		pairs, err = committedPairs(h, first.Hash, last.Hash)
	} else {
		pairs, err = workingPairs(h, root, before, first.Hash)
	}
	if err != nil {
		return err
	}
	changes := audit.Differences(before, after, pairs)
	switch c.Format {
	case "json":
		err = a.showJSON(diffJSON(names, changes))
	case "markdown":
		err = a.print(render.Clean(c.markdown(after, names, changes)))
	default:
		err = a.out.Print(c.text(a.out, after, names, changes))
	}
	if err == nil && len(changes) == 0 {
		return errFindings
	}
	return err
}

func revisionName(r history.Revision, zone *time.Location) string {
	return r.Hash.Short() + " of " + r.Committer.When.In(zone).Format("2006-01-02")
}

// journalAt reads the journal as it was at a revision or date.
func (a *app) journalAt(h *history.History, rev string, zone *time.Location, opt journal.Options) (*journal.Journal, history.Revision, error) {
	r, err := h.Resolve(rev, zone)
	if err != nil {
		return nil, r, err
	}
	fsys, err := h.FS(r.Hash)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, r, withHint("choose a later one", "the journal was not there at %s", rev)
	}
	if err != nil {
		return nil, r, err
	}
	j, err := journal.Load(fsys, opt)
	if err != nil {
		return nil, r, fmt.Errorf("read the journal at %s: %w", rev, err)
	}
	return j, r, nil
}

// loadAt reads the journal as it was at a revision or date, or as its files
// are now where none is named. The journal may be read until the program ends.
func (a *app) loadAt(rev string, opt journal.Options) (*journal.Journal, string, error) {
	if rev == "" {
		return a.load(opt)
	}
	now, root, err := a.load(journal.Options{})
	if err != nil {
		return nil, "", err
	}
	h, err := a.openHistory(root)
	if err != nil {
		return nil, "", err
	}
	j, r, err := a.journalAt(h, rev, now.Settings.Zone, opt)
	if err != nil {
		h.Close()
		return nil, "", err
	}
	a.say("as of %s", revisionName(r, now.Settings.Zone))
	return j, root, nil
}

func committedPairs(h *history.History, a, b history.Hash) ([]audit.FilePair, error) {
	changes, err := h.Diff(a, b)
	if err != nil {
		return nil, err
	}
	var pairs []audit.FilePair
	for _, c := range changes {
		if _, ok := journal.FileOf(c.Path); !ok && c.Path != journal.SettingsFile {
			continue
		}
		p := audit.FilePair{Path: c.Path, From: c.From}
		for blob, content := range map[history.Hash]*[]byte{c.Before: &p.Before, c.After: &p.After} {
			if blob.IsZero() {
				continue
			}
			if *content, err = h.Blob(blob); err != nil {
				return nil, err
			}
		}
		if c.Before == c.After { // one entry of the map above stood for both
			if p.After, err = h.Blob(c.After); err != nil {
				return nil, err
			}
			p.Before = p.After
		}
		pairs = append(pairs, p)
	}
	return pairs, nil
}

// workingPairs compares a commit with the working files: what the last commit
// changed since, and what is not committed.
func workingPairs(h *history.History, root string, before *journal.Journal, from history.Hash) ([]audit.FilePair, error) {
	head, err := h.Head()
	if err != nil {
		return nil, err
	}
	committed, err := h.Diff(from, head.Hash)
	if err != nil {
		return nil, err
	}
	dirty, err := history.Dirty(root, nil)
	if err != nil {
		return nil, err
	}
	origin := map[string]string{} // path now → path in from
	var order []string
	note := func(p, old string) {
		if _, known := origin[p]; !known {
			order = append(order, p)
		}
		origin[p] = old
	}
	for _, c := range committed {
		note(c.Path, orElse(c.From, c.Path))
	}
	for _, c := range dirty {
		old := orElse(c.From, c.Path)
		if earlier, ok := origin[old]; ok && c.From != "" {
			old = earlier
		} else if earlier, ok := origin[c.Path]; ok {
			old = earlier
		}
		note(c.Path, old)
	}
	var pairs []audit.FilePair
	for _, p := range order {
		if _, ok := journal.FileOf(p); !ok && p != journal.SettingsFile {
			continue
		}
		pair := audit.FilePair{Path: p}
		if pair.After, err = readWorking(root, p); err != nil {
			return nil, err
		}
		if content, err := fs.ReadFile(before.FS, origin[p]); err == nil {
			pair.Before = content
			if origin[p] != p {
				pair.From = origin[p]
			}
		}
		pairs = append(pairs, pair)
	}
	return pairs, nil
}

// shownFields are the fields of a change that are worth a line: of a new or
// deleted record its readings alone.
func (c *diffCmd) shownFields(r audit.RecordChange) []audit.FieldChange {
	if c.Fields || r.What != audit.New && r.What != audit.Deleted {
		return r.Fields
	}
	var out []audit.FieldChange
	for _, f := range r.Fields {
		parts := strings.Split(f.Path, ".")
		if len(parts) == 3 && (parts[2] == "value" || parts[2] == "amount") || parts[0] == "expect" || parts[0] == "decision" || parts[0] == "change" || parts[0] == "of" || parts[0] == "for" {
			out = append(out, f)
		}
	}
	return out
}

func fieldChangeText(f audit.FieldChange) string {
	text := shortField(f.Path) + ": "
	switch {
	case f.Before == "":
		text += f.After
	case f.After == "":
		text += f.Before + " → (gone)"
	default:
		text += f.Before + " → " + f.After
	}
	switch f.Sameness {
	case audit.SameSpelled:
		text += " (only spelled differently)"
	case audit.SameWater:
		text += " (the same water in another unit)"
	}
	return text
}

// derivedText writes a derived value in two states, in the owner's units.
func derivedText(j *journal.Journal, d audit.DerivedChange) string {
	value := func(known bool, v, u float64, bound water.Bound) string {
		if !known {
			return "not available"
		}
		return report.InUnit(j, "", d.ID, bound, v, u).String()
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

func (c *diffCmd) text(out render.Output, j *journal.Journal, names [2]string, changes []audit.RecordChange) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n", out.Paint(render.Dim, names[0]+" → "+names[1]))
	input := false
	for i, r := range changes {
		if r.Input() && !input {
			fmt.Fprintf(&b, "\n%s\n", out.Paint(render.Heading, "Inputs: what everything else is judged by"))
			input = true
		}
		if !r.Input() && (i == 0 || changes[i-1].Input()) {
			fmt.Fprintf(&b, "\n%s\n", out.Paint(render.Heading, "Records"))
		}
		state := render.Plain
		if r.What <= audit.Rewritten {
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
		for _, f := range c.shownFields(r) {
			line(fieldChangeText(f))
			if f.Amendment != nil {
				line("    amended by " + f.Amendment.By + ": " + orElse(f.Amendment.Reason, "no reason given"))
			}
		}
		if r.Note {
			line("the notes below the fields differ")
		}
		if r.What != audit.New {
			for _, d := range r.Derived {
				line(derivedText(j, d))
			}
		}
		if len(r.Resting) > 0 {
			line("rests on it: " + restingText(r.Resting))
		}
	}
	b.WriteString("\n" + diffCount(changes) + "\n")
	return b.String()
}

func diffCount(changes []audit.RecordChange) string {
	n := map[audit.What]int{}
	for _, r := range changes {
		n[r.What]++
	}
	var parts []string
	for w := audit.Deleted; w <= audit.New; w++ {
		if n[w] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n[w], w))
		}
	}
	return orElse(strings.Join(parts, ", "), "no record differs")
}

// markdown is the same for a pull request: one table of what differs, inputs
// first.
func (c *diffCmd) markdown(j *journal.Journal, names [2]string, changes []audit.RecordChange) string {
	var b strings.Builder
	fmt.Fprintf(&b, "## Water journal: %s\n\n%s → %s\n\n", diffCount(changes), names[0], names[1])
	section := func(title string, keep func(audit.RecordChange) bool) {
		t := render.Table{Columns: []render.Column{{Head: "record"}, {Head: "what"}, {Head: "value"}, {Head: "before"}, {Head: "after"}, {Head: "remark"}}}
		for _, r := range changes {
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
			for _, f := range c.shownFields(r) {
				remark := ""
				switch {
				case f.Amendment != nil:
					remark = "amended by " + f.Amendment.By + ": " + f.Amendment.Reason
				case f.Sameness == audit.SameWater:
					remark = "the same water in another unit"
				case f.Sameness == audit.SameSpelled:
					remark = "only spelled differently"
				}
				add(shortField(f.Path), f.Before, f.After, remark)
			}
			if r.What != audit.New {
				for _, d := range r.Derived {
					_, values, _ := strings.Cut(derivedText(j, d), ": ")
					before, after, _ := strings.Cut(values, " → ")
					add(d.ID.String()+" (derived)", before, after, "")
				}
			}
			if r.Note {
				add("notes", "", "", "differ")
			}
			if len(r.Resting) > 0 {
				add("rests on it", "", "", restingText(r.Resting))
			}
			if rows == 0 {
				add("", "", "", "")
			}
		}
		if len(t.Rows) > 0 {
			b.WriteString("### " + title + "\n\n" + render.MarkdownTable(t) + "\n")
		}
	}
	section("Inputs: what everything else is judged by", audit.RecordChange.Input)
	section("Records", func(r audit.RecordChange) bool { return !r.Input() })
	return b.String()
}

func diffJSON(names [2]string, changes []audit.RecordChange) render.Object {
	items := []any{}
	for _, r := range changes {
		fields, derived, resting := []any{}, []any{}, []any{}
		for _, f := range r.Fields {
			o := render.Object{{Name: "field", Value: f.Path}, {Name: "before", Value: textOrNil(f.Before)}, {Name: "after", Value: textOrNil(f.After)}, {Name: "same_water", Value: f.Sameness < audit.Different}}
			if f.Amendment != nil {
				o = append(o, render.Member{Name: "amended_by", Value: f.Amendment.By}, render.Member{Name: "reason", Value: f.Amendment.Reason})
			}
			fields = append(fields, o)
		}
		for _, d := range r.Derived {
			o := render.Object{{Name: "name", Value: d.ID.String()}, {Name: "unit", Value: d.ID.Info().Unit.String()}, {Name: "before", Value: nil}, {Name: "after", Value: nil}, {Name: "beyond_uncertainty", Value: d.Beyond}}
			if d.BeforeKnown {
				o[2].Value = rounded(d.Before)
			}
			if d.AfterKnown {
				o[3].Value = rounded(d.After)
			}
			derived = append(derived, o)
		}
		for _, f := range r.Resting {
			resting = append(resting, render.Object{{Name: "kind", Value: f.Kind.String()}, {Name: "id", Value: f.ID}, {Name: "path", Value: f.Path}})
		}
		items = append(items, render.Object{{Name: "what", Value: r.What.String()}, {Name: "kind", Value: r.Kind.String()}, {Name: "id", Value: r.ID}, {Name: "path", Value: r.Path}, {Name: "was_at", Value: textOrNil(r.From)},
			{Name: "input", Value: r.Input()}, {Name: "reason", Value: textOrNil(r.Reason)}, {Name: "notes_differ", Value: r.Note}, {Name: "fields", Value: fields}, {Name: "derived", Value: derived}, {Name: "rests_on_it", Value: resting}})
	}
	return render.Object{{Name: "from", Value: names[0]}, {Name: "to", Value: names[1]}, {Name: "records", Value: items}}
}
