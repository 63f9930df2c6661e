package server

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"testing"
)

// ready is a client of an editor that can do everything, with a journal and one open session.
func ready(t *testing.T, session string, more map[string]string) (c *client, dir, uri string) {
	t.Helper()
	dir = writeJournal(t)
	for name, text := range more {
		full := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(full), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(full, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	c = start(t)
	var capabilities any
	_ = json.Unmarshal([]byte(`{"workspace":{"workspaceEdit":{"documentChanges":true,"resourceOperations":["rename"]},"didChangeWatchedFiles":{"dynamicRegistration":true}},"textDocument":{"publishDiagnostics":{"relatedInformation":true}}}`), &capabilities)
	if r := c.request("initialize", map[string]any{"capabilities": capabilities}); r.Error != nil {
		t.Fatal(r.Error)
	}
	c.notify("initialized", map[string]any{})
	c.next(false) // the registration of watched files
	uri = uriOf(filepath.Join(dir, "sessions", "2026", "2026-03-04-tap.md"))
	open(c, uri, session)
	return c, dir, uri
}

const goodSession = "---\nsite: tap\nsampled: 2026-03-04T08:15+02:00\nby: ines\n# the first\n# of the year\nreadings:\n  alkalinity: 118 mg/L CaCO3\n  sulfate: {value: 42 mg/L, dilution: 2, lot: SU-2511}\n  chloride: 21 mg/L\n---\n\n# Weather\n\nRain.\n\n## Later\n\nSun.\n"

func answer[T any](t *testing.T, r reply) (out T) {
	t.Helper()
	if r.Error != nil {
		t.Fatal(r.Error.Message)
	}
	if err := json.Unmarshal(r.Result, &out); err != nil {
		t.Fatalf("%v: %s", err, r.Result)
	}
	return out
}

func doc(uri string) map[string]any {
	return map[string]any{"textDocument": map[string]any{"uri": uri}}
}

func TestReferencesAndRename(t *testing.T) {
	c, dir, uri := ready(t, goodSession, map[string]string{
		"sessions/2026/2026-03-01-tap.md": strings.ReplaceAll(goodSession, "03-04", "03-01"),
		"wj.yaml":                         "format: 1\ntimezone: Europe/Vilnius\nrounds: {monday: [tap]}\nlint_for:\n  - {sites: [tap], lint: {site/overdue: off}}\n",
		"signoffs/a.md":                   "---\nof: 2026-03-02-change\nby: ines\ndecision: accepted\non: 2026-03-03T08:00+02:00\ncovers: {lots/SU-2511.md: 0000000000000000000000000000000000000000000000000000000000000000}\n---\n",
	})
	ask := at(uri, 1, 7)
	ask["context"] = map[string]any{"includeDeclaration": true}
	var where []string
	for _, l := range answer[[]location](t, c.request("textDocument/references", ask)) {
		where = append(where, fmt.Sprintf("%s %d:%d-%d", strings.TrimPrefix(l.URI, uriOf(dir)+"/"), l.Range.Start.Line, l.Range.Start.Character, l.Range.End.Character))
	}
	sort.Strings(where)
	want := []string{"sessions/2026/2026-03-01-tap.md 1:6-9", "sessions/2026/2026-03-04-tap.md 1:6-9", "sites/tap.md 0:0-0", "wj.yaml 2:18-21", "wj.yaml 4:13-16"}
	if strings.Join(where, "|") != strings.Join(want, "|") {
		t.Errorf("%q", where)
	}
	if place := answer[renamePlace](t, c.request("textDocument/prepareRename", at(uri, 1, 7))); place.Placeholder != "tap" {
		t.Errorf("%+v", place)
	}
	rename := at(uri, 1, 7)
	rename["newName"] = "tap-2"
	var edit struct {
		DocumentChanges []struct {
			Kind, OldURI, NewURI string
			TextDocument         versioned
			Edits                []textEdit
		}
	}
	r := c.request("textDocument/rename", rename)
	if err := json.Unmarshal(r.Result, &edit); err != nil || r.Error != nil || len(edit.DocumentChanges) != 4 {
		t.Fatalf("%v %v %s", err, r.Error, r.Result)
	}
	last := edit.DocumentChanges[3]
	if last.Kind != "rename" || last.OldURI != uriOf(filepath.Join(dir, "sites/tap.md")) || last.NewURI != uriOf(filepath.Join(dir, "sites/tap-2.md")) {
		t.Errorf("%+v", last)
	}
	for _, d := range edit.DocumentChanges[:3] {
		if (d.TextDocument.URI == uri) != (d.TextDocument.Version != nil) || d.Edits[0].NewText != "tap-2" {
			t.Errorf("%+v", d)
		}
	}
	for _, bad := range []struct {
		line, character int
		name, want      string
	}{{1, 7, "Tap 2", "no record id"}, {3, 5, "inez", "signed or sent"}, {8, 46, "SU-2512", "signed or sent"}} {
		rename := at(uri, bad.line, bad.character)
		rename["newName"] = bad.name
		if r := c.request("textDocument/rename", rename); (r.Error != nil) != (bad.want != "") || r.Error != nil && !strings.Contains(r.Error.Message, bad.want) {
			t.Errorf("%s: %+v", bad.name, r.Error)
		}
	}
	var found []string
	for _, s := range answer[[]workspaceSymbol](t, c.request("workspace/symbol", map[string]any{"query": "ines k"})) {
		found = append(found, s.Name+": "+s.ContainerName)
	}
	if strings.Join(found, "|") != "ines: Ines Kaldre" {
		t.Errorf("%q", found)
	}
	c.end()
}

func TestOutline(t *testing.T) {
	c, _, uri := ready(t, goodSession, nil)
	symbols := answer[[]documentSymbol](t, c.request("textDocument/documentSymbol", doc(uri)))
	var names []string
	for _, s := range symbols {
		names = append(names, s.Name)
		for _, below := range s.Children {
			names = append(names, s.Name+"/"+below.Name+"="+below.Detail)
		}
	}
	if got := strings.Join(names, " | "); got != "site | sampled | by | readings | readings/alkalinity=118 mg/L CaCO3 | readings/sulfate=42 mg/L | readings/chloride=21 mg/L | Weather | Later" {
		t.Errorf("%s", got)
	}
	if e := symbols[4].Range.End.Line; e != 19 {
		t.Errorf("the section ends in line %d", e)
	}
	var folds []string
	for _, f := range answer[[]foldingRange](t, c.request("textDocument/foldingRange", doc(uri))) {
		folds = append(folds, fmt.Sprint(f.StartLine, "-", f.EndLine, " ", f.Kind))
	}
	if got := strings.Join(folds, ","); got != "0-10 region,12-18 ,16-18 ,6-9 ,4-5 comment" {
		t.Errorf("%s", got)
	}
	c.end()
}

func TestHints(t *testing.T) {
	c, _, uri := ready(t, strings.Replace(goodSession, "  chloride", "  total_hardness: 138 mg/L CaCO3\n  calcium_hardness: 92 mg/L CaCO3\n  chloride", 1), map[string]string{
		"wj.yaml":                        "format: 1\ntimezone: Europe/Vilnius\nunits: {alkalinity: dKH}\n",
		"changes/2026-03-05-stout.md":    "---\nfor: Stout\nauthor: ines\nproposed: 2026-03-05\nvolume: 1000 L\nbasis:\n  - {session: 2026-03-04-tap, share: 100 %}\nadd: {calcium_chloride_dihydrate: 100 g}\n---\n",
		"signoffs/2026-03-05-stout-1.md": "---\nof: 2026-03-05-stout\nby: ines\ndecision: accepted\non: 2026-03-05T08:00+02:00\n---\n",
	})
	ask := doc(uri)
	ask["range"] = span{position{0, 0}, position{30, 0}}
	var labels []string
	for _, h := range answer[[]inlayHint](t, c.request("textDocument/inlayHint", ask)) {
		labels = append(labels, fmt.Sprintf("%d:%d %s", h.Position.Line, h.Position.Character, h.Label))
	}
	got := strings.Join(labels, "\n")
	for _, want := range []string{"6:9 residual_alkalinity ", "7:28 = 6.6", " dKH", "8:54 = 84 ± ", "11:19 ± "} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in\n%s", want, got)
		}
	}
	lenses := answer[[]codeLens](t, c.request("textDocument/codeLens", doc(uri)))
	if len(lenses) != 1 || !strings.Contains(lenses[0].Command.Title, "2 records depend on it: ") || len(lenses[0].Command.Arguments) != 3 {
		t.Errorf("%+v", lenses)
	}
	change := strings.Replace(uri, "sessions/2026/2026-03-04-tap.md", "changes/2026-03-05-stout.md", 1)
	open(c, change, "---\nfor: Stout\nauthor: ines\nproposed: 2026-03-05\nvolume: 1000 L\nbasis:\n  - {session: 2026-03-04-tap, share: 100 %}\nadd: {calcium_chloride_dihydrate: 100 g}\n---\n")
	c.diagnostics(change, 1)
	if lenses = answer[[]codeLens](t, c.request("textDocument/codeLens", doc(change))); len(lenses) == 0 || lenses[0].Command.Title != "accepted by Ines Kaldre on 2026-03-05" {
		t.Errorf("%+v", lenses)
	}
	c.end()
}

func TestFormattingAndTokens(t *testing.T) {
	untidy := "---\nsite:   tap  \nsampled: 2026-03-04T08:15+02:00\nby: ines   # she\nreadings:\n  sulfate: { value: 42 mg/L ,dilution:  2,lot: SU-2511 } # a,  b\n  pH:       7.4\n---\n\nRain.  \n\n\n"
	c, _, uri := ready(t, untidy, nil)
	edits := answer[[]textEdit](t, c.request("textDocument/formatting", doc(uri)))
	text := newText([]byte(untidy))
	out := untidy
	for i := len(edits) - 1; i >= 0; i-- {
		out = out[:text.offset(edits[i].Range.Start)] + edits[i].NewText + out[text.offset(edits[i].Range.End):]
	}
	if want := "---\nsite: tap\nsampled: 2026-03-04T08:15+02:00\nby: ines   # she\nreadings:\n  sulfate: {value: 42 mg/L, dilution: 2, lot: SU-2511} # a,  b\n  pH: 7.4\n---\n\nRain.\n"; out != want {
		t.Errorf("%q\n%q", out, want)
	}
	tokens := answer[semanticTokens](t, c.request("textDocument/semanticTokens/full", doc(uri)))
	lines := strings.Split(untidy, "\n")
	var got []string
	at := position{}
	for i := 0; i+4 < len(tokens.Data); i += 5 {
		if tokens.Data[i] > 0 {
			at.Character = 0
		}
		at.Line, at.Character = at.Line+tokens.Data[i], at.Character+tokens.Data[i+1]
		got = append(got, lines[at.Line][at.Character:at.Character+tokens.Data[i+2]]+"="+tokenTypes[tokens.Data[i+3]])
	}
	if want := "site=property tap=class sampled=property 2026-03-04T08:15+02:00=string by=property ines=class readings=property sulfate=variable value=property 42=number mg/L=type dilution=property 2=number lot=property SU-2511=class pH=variable 7.4=number"; strings.Join(got, " ") != want {
		t.Errorf("%s", strings.Join(got, " "))
	}
	c.end()
}

// TestActions: what may have been meant, the lot in use, and a silence with room for its
// reason are offered; none of them is made by itself.
func TestActions(t *testing.T) {
	session := strings.Replace(strings.Replace(goodSession, "chloride: 21", "clorid: 21", 1), "lot: SU-2511", "lot: su2511", 1)
	session = strings.Replace(session, "alkalinity: 118 mg/L CaCO3", "alkalinity: 118 mg/L", 1)
	c, _, uri := ready(t, session, map[string]string{"lots/AL-1.md": "---\nanalyte: alkalinity\nopened: 2026-01-01\n---\n"})
	found := c.diagnostics(uri, 1)
	titles := func(line int) string {
		ask := doc(uri)
		ask["range"] = span{position{line, 2}, position{line, 80}}
		ask["context"] = map[string]any{"diagnostics": []any{}}
		var out []string
		for _, a := range answer[[]codeAction](t, c.request("textDocument/codeAction", ask)) {
			out = append(out, a.Title)
			if a.IsPreferred {
				t.Errorf("%s would be made by itself", a.Title)
			}
		}
		return strings.Join(out, "\n")
	}
	for line, want := range map[int][]string{
		7: {"unit/basis: write 118 mg/L CaCO3", "ignore unit/basis here, because …", "add the lot AL-1"},
		8: {"ref/missing: write SU-2511"},
		9: {"write chloride"},
	} {
		got := titles(line)
		for _, w := range want {
			if !strings.Contains(got, w) {
				t.Errorf("line %d: no %q in\n%s", line, w, got)
			}
		}
	}
	if len(found) < 3 {
		t.Errorf("%+v", found)
	}
	c.end()
}

// TestSaved: a record that another program wrote counts once the editor says so.
func TestSaved(t *testing.T) {
	c, dir, uri := ready(t, strings.Replace(goodSession, "SU-2511", "SU-2601", 1), nil)
	if found := c.diagnostics(uri, 1); len(found) != 1 || found[0].Code != "ref/missing" {
		t.Fatalf("%+v", found)
	}
	lot := filepath.Join(dir, "lots", "SU-2601.md")
	if err := os.WriteFile(lot, []byte("---\nanalyte: chloride\nexpires: 2027-01\n---\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	c.told = nil
	c.notify("workspace/didChangeWatchedFiles", map[string]any{"changes": []any{map[string]any{"uri": uriOf(lot), "type": 1}}})
	found := c.diagnostics(uri, 1)
	if len(found) != 1 || found[0].Code != "reagent/wrong-analyte" || len(found[0].Related) != 1 || found[0].Related[0].Location.URI != uriOf(lot) || found[0].Related[0].Location.Range.Start.Line != 1 {
		t.Fatalf("%+v", found)
	}
	c.told = nil
	if err := os.Remove(lot); err != nil {
		t.Fatal(err)
	}
	c.notify("workspace/didChangeWatchedFiles", map[string]any{"changes": []any{map[string]any{"uri": uriOf(lot), "type": 3}}})
	if found := c.diagnostics(uri, 1); len(found) != 1 || found[0].Code != "ref/missing" {
		t.Fatalf("%+v", found)
	}
	c.end()
}
