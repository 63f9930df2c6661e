package report

import (
	"cmp"
	"slices"
	"strings"

	"wj/lint"
	"wj/render/site"
)

// Document is the JSON output of wj lint (docs/schema/lint.json).
type Document struct {
	Version  string    `json:"version"` // of the program
	Summary  Summary   `json:"summary"`
	Findings []Finding `json:"findings"`
}

// Summary counts what was found, shown or not.
type Summary struct {
	Records  int         `json:"records"` // looked at
	Sessions int         `json:"sessions"`
	Errors   int         `json:"errors"`
	Warnings int         `json:"warnings"`
	Notes    int         `json:"notes"`
	Fixable  int         `json:"fixable"` // wj lint --fix fixes them
	Blocking int         `json:"blocking"`
	Rules    []RuleCount `json:"rules"` // most findings first
	LeftOut  LeftOut     `json:"left_out"`
}

// RuleCount is how often a rule spoke.
type RuleCount struct {
	Rule     string `json:"rule"`
	Severity string `json:"severity"` // the highest
	Findings int    `json:"findings"`
	Records  int    `json:"records"`
	Fixable  int    `json:"fixable"`
}

// LeftOut are findings that are not shown, by the reason.
type LeftOut struct {
	Known int `json:"known"`    // to the baseline
	Older int `json:"older"`    // than the revision that was compared with
	Above int `json:"over_max"` // further than --max
}

// Finding is one finding. Line, Column and EndColumn count from 1, columns in
// characters; EndColumn is the first one after the place.
type Finding struct {
	Path      string    `json:"path"`
	Line      int       `json:"line"`
	Column    int       `json:"column"`
	EndColumn int       `json:"end_column"`
	Severity  string    `json:"severity"`
	Rule      string    `json:"rule"`
	Message   string    `json:"message"`
	Help      string    `json:"help,omitempty"`
	HelpURI   string    `json:"help_uri"`
	Fixable   bool      `json:"fixable"`
	Blocking  bool      `json:"blocking"` // the record cannot be right as a record
	Related   []Related `json:"related"`
}

// Related is a further place that a finding speaks of.
type Related struct {
	Path      string `json:"path"`
	Line      int    `json:"line"`
	Column    int    `json:"column"`
	EndColumn int    `json:"end_column"`
	Message   string `json:"message"`
}

// NewDocument is the JSON document of a result; pages as HelpURI takes it.
func NewDocument(result lint.Result, version, pages string, left LeftOut) Document {
	d := Document{Version: version, Findings: []Finding{}, Summary: Summary{Records: result.Files, Sessions: result.Sessions, LeftOut: left,
		Errors: result.Count(lint.Error), Warnings: result.Count(lint.Warning), Notes: result.Count(lint.Info), Rules: Statistics(result.Diagnostics)}}
	for i := range result.Diagnostics {
		f := &result.Diagnostics[i]
		out := Finding{f.Path, f.Line, f.Column, f.EndColumn, f.Severity.String(), f.Rule, f.Message, f.Help, HelpURI(pages, f.Rule), f.Fixable(), f.Bars, []Related{}}
		for _, p := range f.Related {
			out.Related = append(out.Related, Related{p.Path, p.Line, p.Column, p.EndColumn, p.Message})
		}
		if out.Fixable {
			d.Summary.Fixable++
		}
		if out.Blocking {
			d.Summary.Blocking++
		}
		d.Findings = append(d.Findings, out)
	}
	return d
}

// Statistics counts findings by their rule, most first.
func Statistics(ds []lint.Diagnostic) []RuleCount {
	out := []RuleCount{}
	at, files := map[string]int{}, map[[2]string]bool{}
	worst := map[string]lint.Severity{}
	for i := range ds {
		d := &ds[i]
		k, ok := at[d.Rule]
		if !ok {
			k = len(out)
			at[d.Rule] = k
			out = append(out, RuleCount{Rule: d.Rule})
		}
		c := &out[k]
		c.Findings++
		if key := [2]string{d.Rule, d.Path}; !files[key] {
			files[key] = true
			c.Records++
		}
		if d.Fixable() {
			c.Fixable++
		}
		worst[d.Rule] = max(worst[d.Rule], d.Severity)
		c.Severity = worst[d.Rule].String()
	}
	slices.SortFunc(out, func(a, b RuleCount) int {
		return cmp.Or(cmp.Compare(b.Findings, a.Findings), strings.Compare(a.Rule, b.Rule))
	})
	return out
}

// HelpURI is the address of a rule's page: under the folder of wj explain --site where
// pages says at which address that is, else a name of the rule.
func HelpURI(pages, rule string) string {
	if pages == "" {
		return "urn:wj:rule:" + rule
	}
	return strings.TrimSuffix(pages, "/") + "/" + (&site.Page{Section: "Rules", Name: rule}).Place()
}
