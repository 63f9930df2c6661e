package report

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"os"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"wj/journal/frontmatter"
	"wj/lint"
	"wj/render"
)

// sample holds what is hard for a format: two findings of one rule on one line,
// a path with a colon, blanks and letters beyond ASCII, markup and control
// characters in texts, a rule that is not known, a fix that only deletes.
var sample = lint.Result{Files: 3, Sessions: 2, Diagnostics: []lint.Diagnostic{
	{Path: "sessions/2026/2026-03-04-north-well.md", Line: 8, Column: 12, EndColumn: 20, Start: 120, End: 128, Severity: lint.Error, Rule: "range/over",
		Message: "200 mg/L of sulfate is at or above the top of the range, 200 mg/L", Help: "write >200 mg/L", Source: "  sulfate: {value: [200 mg/L, 201 mg/L]}",
		Related: []lint.Place{{Path: "instruments/meter-2.md", Line: 5, Column: 3, EndColumn: 9, Message: "the meter"}, {Path: "wj.yaml", Message: "no place"}}},
	{Path: "sessions/2026/2026-03-04-north-well.md", Line: 8, Column: 12, EndColumn: 12, Severity: lint.Error, Rule: "range/over",
		Message: "201 mg/L of sulfate is at or above the top of the range, 200 mg/L", Source: "  sulfate: {value: [200 mg/L, 201 mg/L]}"},
	{Path: "c:/Größe & Maß.md", Line: 1, Column: 1, EndColumn: 1, Severity: lint.Warning, Rule: "record/silenced", Message: "a <b>\"&\x1b[31m\n::error::x", Source: "x",
		Fixes: []lint.Fix{{Message: "remove the silence", Edits: []frontmatter.Edit{{Start: 3, End: 9}}}}},
	{Path: "wj.yaml", Severity: lint.Info, Rule: "house/own", Message: "no place"},
}}

func write(t *testing.T, f func(io.Writer, lint.Result) error, r lint.Result) string {
	t.Helper()
	var b bytes.Buffer
	if err := f(&b, r); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// TestSARIF validates the log against the OASIS schema of SARIF 2.1.0 (errata 01);
// testdata tells its source and licence.
func TestSARIF(t *testing.T) {
	src, err := os.ReadFile("testdata/sarif-schema-2.1.0.json")
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(src))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	if err := c.AddResource("sarif.json", doc); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile("sarif.json")
	if err != nil {
		t.Fatal(err)
	}
	for name, r := range map[string]lint.Result{"sample": sample, "nothing": {}} {
		text := write(t, asSARIF, r)
		v, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		if err := schema.Validate(v); err != nil {
			t.Errorf("%s: %v\n%s", name, err, text)
		}
	}
	for _, bad := range []string{`{"version": "2.1.0"}`, `{"version": "2.1.0", "runs": [{"tool": {}}]}`, `{"version": "2.0.0", "runs": []}`} {
		if v, err := jsonschema.UnmarshalJSON(strings.NewReader(bad)); err != nil || schema.Validate(v) == nil {
			t.Errorf("%s is valid (%v)", bad, err)
		}
	}
	var log sarifLog
	if err := json.Unmarshal([]byte(write(t, asSARIF, sample)), &log); err != nil {
		t.Fatal(err)
	}
	run := log.Runs[0]
	if run.ColumnKind != "unicodeCodePoints" {
		t.Errorf("columns are %s", run.ColumnKind)
	}
	prints := map[string]bool{}
	for _, r := range run.Results {
		if run.Tool.Driver.Rules[r.RuleIndex].ID != r.RuleID {
			t.Errorf("rule index of %s leads to %s", r.RuleID, run.Tool.Driver.Rules[r.RuleIndex].ID)
		}
		print := r.Fingerprints[fingerprintName]
		if prints[print] {
			t.Errorf("two findings have the fingerprint %s", print)
		}
		prints[print] = true
	}
	if uri := run.Results[2].Locations[0].Physical.Artifact.URI; uri != "./c:/Gr%C3%B6%C3%9Fe%20&%20Ma%C3%9F.md" {
		t.Errorf("the path became %s", uri)
	}
}

// asJSON and asSARIF are the formats that take more than a result.
func asJSON(w io.Writer, r lint.Result) error {
	return encode(w, NewDocument(r, "1.0", "", LeftOut{}))
}

func asSARIF(w io.Writer, r lint.Result) error {
	return SARIF(w, r, "1.0", "https://water.example/pages/")
}

func TestDocument(t *testing.T) {
	var d Document
	if err := json.Unmarshal([]byte(write(t, asJSON, sample)), &d); err != nil {
		t.Fatal(err)
	}
	s := d.Summary
	if len(d.Findings) != 4 || s.Errors != 2 || s.Warnings != 1 || s.Notes != 1 || s.Records != 3 || s.Sessions != 2 || s.Fixable != 1 || s.Rules[0] != (RuleCount{"range/over", "error", 2, 1, 0}) {
		t.Errorf("%+v", d)
	}
	if f := d.Findings[0]; f.HelpURI != "urn:wj:rule:range/over" || len(f.Related) != 2 || f.Related[0].Path != "instruments/meter-2.md" {
		t.Errorf("%+v", f)
	}
	if text := write(t, asJSON, lint.Result{}); !strings.Contains(text, `"findings": []`) || !strings.Contains(text, `"rules": []`) {
		t.Errorf("without findings it is %s", text)
	}
	if uri := HelpURI("https://water.example/pages/", "range/over"); uri != "https://water.example/pages/rules/range-over.html" {
		t.Error(uri)
	}
}

// TestJUnit reads the suite back with a strict parser.
func TestJUnit(t *testing.T) {
	for want, r := range map[int]lint.Result{3: sample, 0: {}} {
		text := write(t, JUnit, r)
		d := xml.NewDecoder(strings.NewReader(text))
		for {
			if _, err := d.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatalf("%v\n%s", err, text)
			}
		}
		var suite junitSuite
		if err := xml.Unmarshal([]byte(text), &suite); err != nil {
			t.Fatal(err)
		}
		if suite.Failures != want || suite.Tests != len(suite.Cases) || suite.Tests == 0 {
			t.Errorf("%d tests, %d failures, %d cases", suite.Tests, suite.Failures, len(suite.Cases))
		}
	}
}

// TestGitHub: each finding is one line, whatever its text holds.
func TestGitHub(t *testing.T) {
	lines := strings.Split(strings.TrimSuffix(write(t, GitHub, sample), "\n"), "\n")
	if len(lines) != len(sample.Diagnostics) {
		t.Fatalf("%d lines:\n%s", len(lines), strings.Join(lines, "\n"))
	}
	for _, l := range lines {
		if !strings.HasPrefix(l, "::error ") && !strings.HasPrefix(l, "::warning ") && !strings.HasPrefix(l, "::notice ") {
			t.Errorf("%q is no annotation", l)
		}
	}
}

// TestBaseline: what is known is not reported again, also after lines have moved;
// what is new is, and what has gone is counted.
func TestBaseline(t *testing.T) {
	var b bytes.Buffer
	if err := NewBaseline(sample.Diagnostics).Write(&b); err != nil {
		t.Fatal(err)
	}
	base, err := ReadBaseline(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	moved := sample
	moved.Diagnostics = append([]lint.Diagnostic(nil), sample.Diagnostics[:3]...)
	for i := range moved.Diagnostics {
		moved.Diagnostics[i].Line += 7
		moved.Diagnostics[i].Source = "    " + strings.TrimSpace(moved.Diagnostics[i].Source)
	}
	third := moved.Diagnostics[1]
	third.Message = "202 mg/L"
	moved.Diagnostics = append(moved.Diagnostics, third)
	rest, gone := base.Filter(moved)
	if len(rest.Diagnostics) != 1 || rest.Diagnostics[0].Message != "202 mg/L" || gone != 1 {
		t.Errorf("%d left, %d gone: %v", len(rest.Diagnostics), gone, rest.Diagnostics)
	}
	for _, bad := range []string{``, `{`, `{"format": 2, "findings": []}`, `{"format": 1, "finds": []}`, `{"format": 1, "findings": [{"path": "a", "rule": "b", "count": 2, "fingerprints": ["x"]}]}`} {
		if _, err := ReadBaseline([]byte(bad)); err == nil {
			t.Errorf("%q was read", bad)
		}
	}
}

// FuzzReadBaseline: nothing panics, and what was read is written and read alike.
func FuzzReadBaseline(f *testing.F) {
	var b bytes.Buffer
	if err := NewBaseline(sample.Diagnostics).Write(&b); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Add([]byte(`{"format": 1, "findings": []}`))
	f.Add([]byte(`{"format": 1, "findings": [{"path": "", "rule": "", "count": 0, "fingerprints": null}]}`))
	f.Fuzz(func(t *testing.T, src []byte) {
		if len(src) > 1<<16 {
			return
		}
		base, err := ReadBaseline(src)
		if err != nil {
			return
		}
		var b bytes.Buffer
		if err := base.Write(&b); err != nil {
			t.Fatal(err)
		}
		if _, err := ReadBaseline(b.Bytes()); err != nil {
			t.Errorf("%v\n%s", err, b.String())
		}
		base.Filter(sample)
	})
}

// failing fails after some bytes, as a full disk does.
type failing struct{}

func (failing) Write([]byte) (int, error) { return 0, errors.New("no space") }

func TestErrorsAreTold(t *testing.T) {
	for name, f := range map[string]func(io.Writer, lint.Result) error{"json": asJSON, "sarif": asSARIF, "junit": JUnit, "github": GitHub} {
		if err := f(failing{}, sample); err == nil {
			t.Errorf("%s hides that nothing was written", name)
		}
	}
}

// FuzzReports: whatever findings say, each format is one document to Go's own
// readers of JSON and XML, and an annotation is one line for each finding.
func FuzzReports(f *testing.F) {
	f.Add("sessions/2026/a.md", "range/over", "200 mg/L is over", "write >200 mg/L", "  sulfate: 200 mg/L", 8, 12)
	f.Add("c:/Größe & Maß.md", "a,b:c", "a <b>\"&\x1b[31m\n::error::x", "]]>\r\n##[x]", "\u202e\ufeff", -1, 0)
	f.Add("%0A//x", "\n", "\xff", "%", "\u2028\ufffe", 1<<40, -1)
	f.Fuzz(func(t *testing.T, path, rule, message, help, source string, line, column int) {
		if len(path)+len(rule)+len(message)+len(help)+len(source) > 1<<14 {
			return
		}
		d := lint.Diagnostic{Path: path, Rule: rule, Message: message, Help: help, Source: source, Line: line, Column: column, EndColumn: column + 1, Severity: lint.Warning}
		d.Fixes = []lint.Fix{{Message: help, Edits: []frontmatter.Edit{{New: source}}}}
		other := d
		other.Severity = lint.Info
		result := lint.Result{Diagnostics: []lint.Diagnostic{d, other}}
		for name, format := range map[string]func(io.Writer, lint.Result) error{"json": asJSON, "sarif": asSARIF} {
			out := write(t, format, result)
			if !json.Valid([]byte(out)) || strings.ContainsFunc(out, func(r rune) bool { return r != '\n' && !unicode.IsGraphic(r) }) {
				t.Fatalf("%s is %q", name, out)
			}
		}
		var read Document
		err := json.Unmarshal([]byte(write(t, asJSON, result)), &read)
		if list := read.Findings; err != nil || len(list) != 2 || list[0].Message != strings.ToValidUTF8(message, "\ufffd") && utf8.ValidString(message) {
			t.Fatalf("%+v, %v", list, err)
		}
		var suite junitSuite
		junit := write(t, JUnit, result)
		if err := xml.Unmarshal([]byte(junit), &suite); err != nil || len(suite.Cases) != 2 || suite.Failures != 1 || suite.Cases[0].Failure.Message != render.Line(message) {
			t.Fatalf("%v: %q", err, junit)
		}
		annotations := write(t, GitHub, result)
		if lines := strings.SplitAfter(annotations, "\n"); len(lines) != 3 || !strings.HasPrefix(lines[0], "::warning file=") || !strings.HasPrefix(lines[1], "::notice file=") || strings.ContainsAny(annotations, "\r\x1b") {
			t.Fatalf("%q", annotations)
		}
	})
}
