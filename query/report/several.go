package report

import (
	"path/filepath"
	"strings"

	"wj/journal"
	"wj/render"
)

// withJournals puts the journal of each row before a table of several journals; a
// table of one stays as it is.
func withJournals(t render.Table, journal func(row int) string) render.Table {
	if len(t.Rows) == 0 || journal(0) == "" {
		return t
	}
	t.Columns = append(render.Heads("journal"), t.Columns...)
	for i := range t.Rows {
		t.Rows[i] = append([]render.Cell{{Text: journal(i), State: t.Rows[i][0].State}}, t.Rows[i]...)
	}
	return t
}

// UniteStatuses is the state of the waters of several journals, worst first: each
// was judged by its own. folders are where they lie, for the next steps.
func UniteStatuses(journals []string, folders map[string]string, list []*Status) *Status {
	s := &Status{Schema: list[0].Schema, Name: journal.Count(len(list), "journal"), At: list[0].At, Sites: []StatusSite{}, Findings: []SiteFinding{}, Tasks: []Task{}, now: list[0].now, folders: folders}
	for i, one := range list {
		name := journals[i]
		s.Attention = s.Attention || one.Attention
		for _, x := range one.Sites {
			x.Journal = name
			s.Sites = append(s.Sites, x)
		}
		for _, f := range one.Findings {
			f.Journal = name
			s.Findings = append(s.Findings, f)
		}
		for _, t := range one.Tasks {
			t.Journal, t.Next = name, s.in(name, t.Next)
			s.Tasks = append(s.Tasks, t)
		}
	}
	s.orderFindings()
	s.order()
	s.orderTasks()
	s.answer()
	return s
}

// of names a site of a journal, where there are several.
func of(name, site string) string {
	if name == "" {
		return site
	}
	return name + ": " + site
}

// in is a command as it is typed for one journal of several.
func (s *Status) in(name, command string) string {
	dir := filepath.ToSlash(s.folders[name])
	switch rest, ok := strings.CutPrefix(command, "wj "); {
	case dir == "":
		return command
	case ok:
		return "wj -C " + dir + " " + rest
	}
	return "cd " + dir + " && " + command
}
