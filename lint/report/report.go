// Package report writes what the linter found for other programs: JSON, SARIF
// 2.1.0, JUnit XML and annotation lines, and keeps a baseline of known findings.
//
//	rest, known := baseline.Filter(lint.Run(j, lint.Options{Now: now})) // known: findings in the baseline
//	err := report.SARIF(os.Stdout, rest, version, "")
package report

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io"
	"strconv"
	"strings"

	"wj/lint"
	"wj/render"
)

// encode writes indented JSON in one piece, so that a failure leaves no half.
func encode(w io.Writer, v any) error {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(v); err != nil {
		return fmt.Errorf("write findings: %w", err)
	}
	_, err := io.WriteString(w, render.EscapeJSON(b.String()))
	return err
}

// GitHub writes one workflow command a finding, which GitHub shows as an
// annotation beside the line.
func GitHub(w io.Writer, result lint.Result) error {
	var b strings.Builder
	for i := range result.Diagnostics {
		d := &result.Diagnostics[i]
		b.WriteString(render.GitHubAnnotation(render.Finding{Path: d.Path, Line: d.Line, Column: d.Column, Severity: d.Severity.String(), Rule: d.Rule, Message: d.Message, Help: d.Help}))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

type junitSuite struct {
	XMLName  xml.Name    `xml:"testsuite"`
	Name     string      `xml:"name,attr"`
	Tests    int         `xml:"tests,attr"`
	Failures int         `xml:"failures,attr"`
	Cases    []junitCase `xml:"testcase"`
}

type junitCase struct {
	Name      string        `xml:"name,attr"`
	ClassName string        `xml:"classname,attr"`
	File      string        `xml:"file,attr,omitempty"`
	Line      int           `xml:"line,attr,omitempty"`
	Failure   *junitFailure `xml:"failure,omitempty"`
	Output    string        `xml:"system-out,omitempty"`
}

type junitFailure struct {
	Type    string `xml:"type,attr"`
	Message string `xml:"message,attr"`
	Text    string `xml:",chardata"`
}

// JUnit writes a test suite with a test case for each finding: errors and
// warnings fail, notes pass with their text as output. Without findings there is
// one case that passes, since an empty suite is an error to some readers.
func JUnit(w io.Writer, result lint.Result) error {
	suite := junitSuite{Name: "wj lint"}
	for i := range result.Diagnostics {
		d := &result.Diagnostics[i]
		file, message := render.Line(d.Path), render.Line(d.Message)
		place := file + ":" + strconv.Itoa(d.Line) + ":" + strconv.Itoa(d.Column)
		c := junitCase{Name: d.Rule + " " + place, ClassName: file, File: file, Line: d.Line}
		text := place + ": " + d.Severity.String() + " " + d.Rule + ": " + message
		if d.Help != "" {
			text += "\nhelp: " + render.Line(d.Help)
		}
		if d.Severity >= lint.Warning {
			c.Failure = &junitFailure{Type: d.Severity.String(), Message: message, Text: text}
			suite.Failures++
		} else {
			c.Output = text
		}
		suite.Cases = append(suite.Cases, c)
	}
	if len(suite.Cases) == 0 {
		suite.Cases = []junitCase{{Name: "nothing found", ClassName: "journal"}}
	}
	suite.Tests = len(suite.Cases)
	var b bytes.Buffer
	b.WriteString(xml.Header)
	e := xml.NewEncoder(&b)
	e.Indent("", "  ")
	if err := e.Encode(suite); err != nil {
		return fmt.Errorf("write findings: %w", err)
	}
	b.WriteByte('\n')
	_, err := w.Write(b.Bytes())
	return err
}

// Fingerprints names each finding in a way that survives edits elsewhere in the
// file: by rule, path, the text of its line without blanks, and which of several
// alike it is. Line numbers and the message's numbers do not enter.
func Fingerprints(ds []lint.Diagnostic) []string {
	out := make([]string, len(ds))
	seen := map[string]int{}
	for i := range ds {
		key := ds[i].Rule + "\x00" + ds[i].Path + "\x00" + strings.Join(strings.Fields(ds[i].Source), "")
		seen[key]++
		sum := sha256.Sum256([]byte(key + "\x00" + strconv.Itoa(seen[key])))
		out[i] = hex.EncodeToString(sum[:16])
	}
	return out
}
