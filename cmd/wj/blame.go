package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
	"wj/query/report"
	"wj/render"
)

type blameCmd struct {
	ID     string `arg:"" help:"The record's id, or its path."`
	Field  string `arg:"" optional:"" help:"One field only, with all that it ever was: sulfate, readings.sulfate.lot, site."`
	Format string `enum:"text,json" default:"text" help:"${enum}."`
}

func (c *blameCmd) Help() string {
	return "For each reading and field: who set it, when, in which commit, and what it was before. Corrections kept in the file (amended) and changes in Git are shown together; " +
		"a recorded value that changed in Git without an amendment in the file makes the exit status 1."
}

func (c *blameCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{})
	if err != nil {
		return err
	}
	f, err := find(j, c.ID)
	if err != nil {
		return err
	}
	h, err := a.openHistory(root)
	if err != nil {
		return err
	}
	defer h.Close()
	versions, walked, err := evidence.Versions(a.ctx, h, root, f)
	if err != nil {
		return err
	}
	a.sayWalked(walked)
	if len(versions) == 0 {
		return withHint("wj lint "+f.ID, "%s has no content that can be read", f.Path)
	}
	settings := evidence.History(f.Kind, versions)
	current := evidence.Fields(versions[0].Content)
	if c.Field != "" {
		if settings = ofField(settings, c.Field); len(settings) == 0 {
			var known []string
			for _, field := range current {
				known = append(known, shortField(field.Path))
			}
			return withHint("fields: "+strings.Join(known, ", "), "%s has no field %q", f.ID, c.Field)
		}
	}
	silent := 0
	for _, s := range settings {
		if s.Silent {
			silent++
		}
	}
	if c.Format == "json" {
		err = c.json(a, settings, versions)
	} else {
		err = a.out.Print(c.lines(a.out, settings, versions, current))
	}
	if err != nil {
		return err
	}
	if silent > 0 {
		a.say("%s changed in Git without an amendment in the file", count(silent, "recorded value"))
		a.say("to set it right: wj amend %s KEY VALUE --reason …, or restore the old value (wj log %s)", f.ID, f.ID)
		return errFindings
	}
	return nil
}

// ofField keeps the settings of one field, by its path or the name of a
// reading.
func ofField(settings []evidence.Setting, field string) []evidence.Setting {
	var out []evidence.Setting
	for _, s := range settings {
		if s.Path == field || strings.HasPrefix(s.Path, field+".") || shortField(s.Path) == field || strings.HasPrefix(shortField(s.Path), field+".") {
			out = append(out, s)
		}
	}
	return out
}

// shortField is a field as people say it: sulfate for readings.sulfate.value.
func shortField(p string) string {
	short := strings.TrimPrefix(p, "readings.")
	if short != p {
		return strings.TrimSuffix(short, ".value")
	}
	return p
}

// lines draws one line for each reading and field with its last setting, and
// beneath it what it was before and why; with a field named, every setting,
// the newest first. The parts of a reading share a line while they have one
// origin.
func (c *blameCmd) lines(out render.Output, settings []evidence.Setting, versions []evidence.Version, current []evidence.Field) string {
	var shown []evidence.Setting
	if c.Field != "" {
		for i := len(settings) - 1; i >= 0; i-- {
			shown = append(shown, settings[i])
		}
	} else {
		for _, f := range current {
			for i := len(settings) - 1; i >= 0; i-- {
				if settings[i].Path == f.Path {
					shown = append(shown, settings[i])
					break
				}
			}
		}
		for _, s := range settings { // what was taken away without a word
			if s.After == "" && (s.Silent || s.Amendment != nil) {
				shown = append(shown, s)
			}
		}
	}
	names, labels := 0, make([][3]string, len(shown))
	for i, s := range shown {
		who, when, commit := setBy(s, versions)
		labels[i] = [3]string{commit, when, render.Line(who)}
		names = max(names, render.Width(labels[i][2]))
	}
	var b strings.Builder
	for i := 0; i < len(shown); i++ {
		s, l := shown[i], labels[i]
		text := shortField(s.Path) + ": " + orElse(s.After, "(gone)")
		last := i
		for c.Field == "" && last+1 < len(shown) && s.Before == "" && shown[last+1].Before == "" && shown[last+1].Version == s.Version && sameReading(s.Path, shown[last+1].Path) {
			last++
			text += ", " + shown[last].Path[strings.LastIndexByte(shown[last].Path, '.')+1:] + " " + shown[last].After
		}
		i = last
		fmt.Fprintf(&b, "%s %s %s%s  %s\n", out.Paint(render.Dim, fmt.Sprintf("%-10s", l[0])), fmt.Sprintf("%-10s", l[1]), l[2], strings.Repeat(" ", names-render.Width(l[2])), render.Line(text))
		indent := strings.Repeat(" ", 24+names)
		if s.Before != "" {
			before := "was " + s.Before
			if s.Sameness == evidence.SameWater {
				before += " (the same water in another unit)"
			}
			b.WriteString(indent + render.Line(before) + "\n")
		}
		if m := s.Amendment; m != nil {
			b.WriteString(indent + render.Line("amended by "+m.By+" on "+journal.FormatTime(m.On)+": "+orElse(m.Reason, "no reason given")) + "\n")
		}
		if s.Silent {
			b.WriteString(indent + out.Paint(render.Warning, "! changed without an amendment in the file") + "\n")
		}
	}
	return b.String()
}

// sameReading reports whether two fields are parts of one reading.
func sameReading(a, b string) bool {
	x, y := strings.Split(a, "."), strings.Split(b, ".")
	return len(x) == 3 && len(y) == 3 && x[0] == y[0] && x[1] == y[1] && (x[2] == "value" || x[2] == "amount")
}

func setBy(s evidence.Setting, versions []evidence.Version) (who, when, commit string) {
	if s.Version < 0 {
		return s.Amendment.By, s.Amendment.On.Format("2006-01-02"), "(the file)"
	}
	v := versions[s.Version]
	if v.Commit == "" {
		return "you", "now", "(not yet)"
	}
	commit = v.Commit
	if v.Boundary {
		commit = "^" + commit[:len(commit)-1] // as git blame marks what a shallow copy does not know
	}
	return v.Name, v.When.Format("2006-01-02"), commit
}

func (c *blameCmd) json(a *app, settings []evidence.Setting, versions []evidence.Version) error {
	items := []any{}
	for _, s := range settings {
		o := report.SettingJSON(s)
		who, _, commit := setBy(s, versions)
		o = append(o, render.Member{Name: "set_by", Value: who}, render.Member{Name: "commit", Value: commit})
		if s.Version >= 0 && versions[s.Version].Commit != "" {
			v := versions[s.Version]
			o = append(o, render.Member{Name: "email", Value: v.Email}, render.Member{Name: "when", Value: journal.FormatTime(v.When)}, render.Member{Name: "commit_reason", Value: v.Reason})
		}
		items = append(items, o)
	}
	text, err := render.JSON(items)
	if err != nil {
		return err
	}
	return a.print(text + "\n")
}

// readWorking reads a file of the journal's folder; nil where it is not there.
func readWorking(root, p string) ([]byte, error) {
	full := filepath.Join(root, filepath.FromSlash(p))
	info, err := os.Lstat(full)
	switch {
	case os.IsNotExist(err):
		return nil, nil
	case err != nil:
		return nil, fmt.Errorf("read %s: %w", p, err)
	case !info.Mode().IsRegular() || info.Size() > frontmatter.MaxFile:
		return nil, fmt.Errorf("read %s: it is no regular file of a record's size", p)
	}
	src, err := os.ReadFile(full)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", p, err)
	}
	return src, nil
}
