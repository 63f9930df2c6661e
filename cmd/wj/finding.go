package main

import (
	"wj/journal"
	"wj/lint"
	"wj/render"
)

// toFinding makes a diagnostic what render draws.
func toFinding(d lint.Diagnostic, path string) render.Finding {
	return render.Finding{Path: path, Line: d.Line, Column: d.Column, Severity: d.Severity.String(), Rule: d.Rule, Message: d.Message, Help: d.Help,
		Excerpt: render.Excerpt{Line: d.Source, Column: d.Column, Width: max(1, d.EndColumn-d.Column)}}
}

// problemFinding is the same for a problem of a record that is not yet a file.
func problemFinding(p journal.Problem, path string, lines []string) render.Finding {
	severity := "error"
	if p.Warning {
		severity = "warning"
	}
	f := render.Finding{Path: path, Line: p.Line, Column: p.Column, Severity: severity, Rule: p.Rule, Message: p.Message, Help: p.Help}
	if p.Line > 0 && p.Line <= len(lines) {
		f.Excerpt = render.Excerpt{Line: lines[p.Line-1], Column: p.Column, Width: max(1, min(p.End-p.Start, len(lines[p.Line-1])-p.Column+1))}
	}
	return f
}
