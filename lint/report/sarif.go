package report

import (
	"io"
	"net/url"
	"strings"

	"wj/lint"
)

// The parts of SARIF 2.1.0 (OASIS standard, 27 March 2020) that are written.
type sarifLog struct {
	Schema  string     `json:"$schema"`
	Version string     `json:"version"`
	Runs    []sarifRun `json:"runs"`
}

type sarifRun struct {
	Tool       sarifTool     `json:"tool"`
	ColumnKind string        `json:"columnKind"`
	Results    []sarifResult `json:"results"`
}

type sarifTool struct {
	Driver sarifDriver `json:"driver"`
}

type sarifDriver struct {
	Name    string      `json:"name"`
	Version string      `json:"version,omitempty"`
	Rules   []sarifRule `json:"rules"`
}

type sarifRule struct {
	ID               string        `json:"id"`
	ShortDescription sarifMessage  `json:"shortDescription"`
	Help             *sarifMessage `json:"help,omitempty"`
	HelpURI          string        `json:"helpUri"`
	Configuration    sarifLevel    `json:"defaultConfiguration"`
}

type sarifLevel struct {
	Enabled bool   `json:"enabled"`
	Level   string `json:"level"`
}

type sarifMessage struct {
	Text     string `json:"text"`
	Markdown string `json:"markdown,omitempty"`
}

type sarifResult struct {
	RuleID       string            `json:"ruleId"`
	RuleIndex    int               `json:"ruleIndex"`
	Level        string            `json:"level"`
	Message      sarifMessage      `json:"message"`
	Locations    []sarifLocation   `json:"locations"`
	Related      []sarifLocation   `json:"relatedLocations,omitempty"`
	Fingerprints map[string]string `json:"partialFingerprints"`
	Fixes        []sarifFix        `json:"fixes,omitempty"`
}

type sarifLocation struct {
	ID       int           `json:"id,omitempty"`
	Physical sarifPhysical `json:"physicalLocation"`
	Message  *sarifMessage `json:"message,omitempty"`
}

type sarifPhysical struct {
	Artifact sarifArtifact `json:"artifactLocation"`
	Region   sarifRegion   `json:"region"`
}

type sarifArtifact struct {
	URI string `json:"uri"`
}

type sarifRegion struct {
	StartLine   int           `json:"startLine"`
	StartColumn int           `json:"startColumn,omitempty"`
	EndColumn   int           `json:"endColumn,omitempty"`
	Snippet     *sarifContent `json:"snippet,omitempty"`
}

type sarifContent struct {
	Text string `json:"text"`
}

type sarifFix struct {
	Description sarifMessage  `json:"description"`
	Changes     []sarifChange `json:"artifactChanges"`
}

type sarifChange struct {
	Artifact     sarifArtifact      `json:"artifactLocation"`
	Replacements []sarifReplacement `json:"replacements"`
}

type sarifReplacement struct {
	Deleted  sarifBytes    `json:"deletedRegion"`
	Inserted *sarifContent `json:"insertedContent,omitempty"`
}

type sarifBytes struct {
	Offset int `json:"byteOffset"`
	Length int `json:"byteLength"`
}

// fingerprintName is versioned: the recipe of Fingerprints is part of it.
const fingerprintName = "journalFinding/v1"

// SARIF writes a SARIF 2.1.0 log with one run. Paths are relative to the
// journal's root, columns count Unicode code points. version is the program's, pages as
// HelpURI takes it.
func SARIF(w io.Writer, result lint.Result, version, pages string) error {
	index := map[string]int{}
	driver := sarifDriver{Name: "wj", Version: version, Rules: []sarifRule{}}
	add := func(id, title, page string, severity lint.Severity) {
		r := sarifRule{ID: id, ShortDescription: sarifMessage{Text: title}, HelpURI: HelpURI(pages, id), Configuration: sarifLevel{severity != lint.Off, level(max(severity, lint.Info))}}
		if page != "" {
			r.Help = &sarifMessage{Text: page, Markdown: page}
		}
		index[id] = len(driver.Rules)
		driver.Rules = append(driver.Rules, r)
	}
	used := map[string]bool{}
	for i := range result.Diagnostics {
		used[result.Diagnostics[i].Rule] = true
	}
	for _, r := range result.Rules() {
		if used[r.Name] {
			add(r.Name, r.Title, r.Page(), r.Severity)
		}
	}
	run := sarifRun{ColumnKind: "unicodeCodePoints", Results: []sarifResult{}}
	prints := Fingerprints(result.Diagnostics)
	for i := range result.Diagnostics {
		d := &result.Diagnostics[i]
		if _, known := index[d.Rule]; !known {
			add(d.Rule, d.Rule, "", d.Severity)
		}
		text := d.Message
		if d.Help != "" {
			text += "; " + d.Help
		}
		region := sarifRegion{StartLine: max(d.Line, 1), StartColumn: d.Column}
		if d.EndColumn > d.Column {
			region.EndColumn = d.EndColumn
		}
		if d.Source != "" {
			region.Snippet = &sarifContent{d.Source}
		}
		artifact := sarifArtifact{relativeURI(d.Path)}
		out := sarifResult{RuleID: d.Rule, RuleIndex: index[d.Rule], Level: level(d.Severity), Message: sarifMessage{Text: text},
			Locations:    []sarifLocation{{Physical: sarifPhysical{artifact, region}}},
			Fingerprints: map[string]string{fingerprintName: prints[i]}}
		for k, r := range d.Related {
			region := sarifRegion{StartLine: max(r.Line, 1), StartColumn: r.Column}
			if r.EndColumn > r.Column {
				region.EndColumn = r.EndColumn
			}
			out.Related = append(out.Related, sarifLocation{k + 1, sarifPhysical{sarifArtifact{relativeURI(r.Path)}, region}, &sarifMessage{Text: r.Message}})
		}
		for _, fix := range d.Fixes {
			change := sarifChange{Artifact: artifact}
			for _, e := range fix.Edits {
				r := sarifReplacement{Deleted: sarifBytes{e.Start, e.End - e.Start}}
				if e.New != "" {
					r.Inserted = &sarifContent{e.New}
				}
				change.Replacements = append(change.Replacements, r)
			}
			out.Fixes = append(out.Fixes, sarifFix{sarifMessage{Text: fix.Message}, []sarifChange{change}})
		}
		run.Results = append(run.Results, out)
	}
	run.Tool.Driver = driver
	return encode(w, sarifLog{"https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json", "2.1.0", []sarifRun{run}})
}

// level is the SARIF word for a severity.
func level(s lint.Severity) string {
	switch s {
	case lint.Error:
		return "error"
	case lint.Warning:
		return "warning"
	}
	return "note"
}

// relativeURI escapes a path so that it is a relative reference (RFC 3986, 4.2).
func relativeURI(path string) string {
	parts := strings.Split(path, "/")
	for i := range parts {
		parts[i] = url.PathEscape(parts[i])
	}
	uri := strings.Join(parts, "/")
	if strings.Contains(parts[0], ":") {
		uri = "./" + uri
	}
	return uri
}
