package report

import (
	"fmt"
	"strings"

	"wj/journal"
	"wj/journal/evidence"
	"wj/render"
)

// LogText writes one entry of a record's or a site's log for a terminal.
func LogText(b *strings.Builder, out render.Output, e evidence.LogEntry, withPath bool) {
	who := render.Line(e.Name)
	if e.Commit == "" {
		who = "you, not committed"
	}
	head := orElse(e.Commit, strings.Repeat("-", 10)) + "  "
	if !e.When.IsZero() {
		head += e.When.Format("2006-01-02 15:04 -07:00") + "  "
	}
	fmt.Fprintf(b, "%s%s  %s%s\n", out.Paint(render.Bold, head), who, e.What, render.Line(e.Proof))
	if withPath {
		fmt.Fprintf(b, "    %s\n", render.Line(e.Path))
	}
	if e.Subject != "" {
		fmt.Fprintf(b, "    %s\n", out.Paint(render.Dim, render.Line(e.Subject)))
	}
	if e.Boundary {
		b.WriteString("    older history is not in this copy: this commit or an older one wrote it\n")
	}
	for _, s := range e.Settings {
		fmt.Fprintf(b, "    %s\n", render.Line(SettingText(s)))
		if s.Amendment != nil {
			fmt.Fprintf(b, "        amended by %s on %s: %s\n", render.Line(s.Amendment.By), journal.FormatTime(s.Amendment.On), render.Line(orElse(s.Amendment.Reason, "no reason given")))
		}
		if s.Silent {
			fmt.Fprintf(b, "        %s\n", out.Paint(render.Warning, "! changed without an amendment in the file"))
		}
	}
}

// SettingText writes a change of a field: "sulfate: 84 mg/L → 86 mg/L".
func SettingText(s evidence.Setting) string {
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

// LogJSON is one entry for a program.
func LogJSON(e evidence.LogEntry) render.Object {
	changes := []any{}
	for _, s := range e.Settings {
		changes = append(changes, SettingJSON(s))
	}
	o := render.Object{{Name: "path", Value: e.Path}, {Name: "what", Value: e.What}, {Name: "commit", Value: e.Commit}, {Name: "author", Value: e.Name}, {Name: "email", Value: e.Email}}
	if !e.When.IsZero() {
		o = append(o, render.Member{Name: "when", Value: journal.FormatTime(e.When)})
	}
	return append(o, render.Member{Name: "signature", Value: strings.Trim(e.Proof, " ,")}, render.Member{Name: "subject", Value: e.Subject}, render.Member{Name: "reason", Value: e.Reason},
		render.Member{Name: "boundary", Value: e.Boundary}, render.Member{Name: "changes", Value: changes})
}

// SettingJSON is a change of a field for a program.
func SettingJSON(s evidence.Setting) render.Object {
	o := render.Object{{Name: "field", Value: s.Path}, {Name: "before", Value: orNull(s.Before)}, {Name: "after", Value: orNull(s.After)}, {Name: "same_water", Value: s.Sameness < evidence.Different}}
	if m := s.Amendment; m != nil {
		o = append(o, render.Member{Name: "amendment", Value: render.Object{{Name: "by", Value: m.By}, {Name: "on", Value: journal.FormatTime(m.On)}, {Name: "was", Value: m.Was}, {Name: "reason", Value: m.Reason}}})
	}
	return append(o, render.Member{Name: "unamended", Value: s.Silent})
}
