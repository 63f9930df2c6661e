package server

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// client is the other end of the connection.
type client struct {
	t     *testing.T
	in    io.WriteCloser
	out   *bufio.Reader
	ended chan string
	id    int
	told  []diagnosed // diagnostics that came in between
}

type diagnosed struct {
	URI         string
	Version     *int
	Diagnostics []diagnostic
}

func start(t *testing.T) *client {
	t.Helper()
	inRead, inWrite := io.Pipe()
	outRead, outWrite := io.Pipe()
	c := &client{t: t, in: inWrite, out: bufio.NewReader(outRead), ended: make(chan string, 1)}
	now := func() time.Time { return time.Date(2026, 3, 5, 10, 0, 0, 0, time.UTC) }
	go func() {
		clean, err := Serve(context.Background(), inRead, outWrite, Options{Now: now, Pause: time.Millisecond})
		outWrite.Close()
		c.ended <- fmt.Sprint(clean, " ", err)
	}()
	t.Cleanup(func() { inWrite.Close() })
	return c
}

func (c *client) raw(text string) {
	c.t.Helper()
	if _, err := io.WriteString(c.in, text); err != nil {
		c.t.Fatal(err)
	}
}

func (c *client) body(text string) {
	c.raw(fmt.Sprintf("Content-Length: %d\r\n\r\n%s", len(text), text))
}

func (c *client) notify(method string, params any) {
	p, _ := json.Marshal(params)
	c.body(fmt.Sprintf(`{"jsonrpc":"2.0","method":%q,"params":%s}`, method, p))
}

type reply struct {
	ID     json.RawMessage
	Method string
	Params json.RawMessage
	Result json.RawMessage
	Error  *responseError
}

// next reads the next message; diagnostics are kept aside unless wanted.
func (c *client) next(wantDiagnostics bool) reply {
	c.t.Helper()
	for {
		length := -1
		for {
			line, err := c.out.ReadString('\n')
			if err != nil {
				c.t.Fatalf("the server went away: %v", err)
			}
			if line == "\r\n" {
				break
			}
			fmt.Sscanf(line, "Content-Length: %d\r\n", &length)
		}
		body := make([]byte, length)
		if _, err := io.ReadFull(c.out, body); err != nil {
			c.t.Fatal(err)
		}
		var r reply
		if err := json.Unmarshal(body, &r); err != nil {
			c.t.Fatalf("%v: %s", err, body)
		}
		if r.Method == "textDocument/publishDiagnostics" {
			var d diagnosed
			if err := json.Unmarshal(r.Params, &d); err != nil {
				c.t.Fatal(err)
			}
			c.told = append(c.told, d)
			if !wantDiagnostics {
				continue
			}
		}
		return r
	}
}

func (c *client) request(method string, params any) reply {
	c.t.Helper()
	c.id++
	p, _ := json.Marshal(params)
	c.body(fmt.Sprintf(`{"jsonrpc":"2.0","id":%d,"method":%q,"params":%s}`, c.id, method, p))
	r := c.next(false)
	if string(r.ID) != fmt.Sprint(c.id) {
		c.t.Fatalf("%s: the answer has id %s: %s", method, r.ID, r.Result)
	}
	return r
}

// diagnostics waits for what is published of a file in a version.
func (c *client) diagnostics(uri string, version int) []diagnostic {
	c.t.Helper()
	for {
		for _, d := range c.told {
			if d.URI == uri && d.Version != nil && *d.Version == version {
				return d.Diagnostics
			}
		}
		c.next(true)
	}
}

func (c *client) initialize() {
	c.t.Helper()
	if r := c.request("initialize", map[string]any{"capabilities": map[string]any{}}); r.Error != nil {
		c.t.Fatal(r.Error)
	}
	c.notify("initialized", map[string]any{})
}

func (c *client) end() {
	c.t.Helper()
	if r := c.request("shutdown", nil); r.Error != nil || string(r.Result) != "null" {
		c.t.Errorf("shutdown: %+v", r)
	}
	c.notify("exit", nil)
	go func() { _, _ = io.Copy(io.Discard, c.out) }() // a judgement may still be on its way
	if how := <-c.ended; how != "true <nil>" {
		c.t.Errorf("the server ended with %s", how)
	}
}

var journalFiles = map[string]string{
	"wj.yaml":              "format: 1\nname: Quillmarsh Brewery\ntimezone: Europe/Vilnius\n",
	"people/ines.md":       "---\nname: Ines Kaldre\n---\n",
	"owners/quillmarsh.md": "---\nname: Quillmarsh Brewery\nself: true\n---\n",
	"sites/tap.md":         "---\nname: \"Tap\\e[31m *one*\"\nowner: quillmarsh\nstage: intake\n---\n",
	"lots/SU-2511.md":      "---\nanalyte: sulfate\nexpires: 2026-11\n---\n",
}

func writeJournal(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range journalFiles {
		full := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(full), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(full, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func open(c *client, uri, text string) {
	c.notify("textDocument/didOpen", map[string]any{"textDocument": map[string]any{"uri": uri, "languageId": "markdown", "version": 1, "text": text}})
}

func at(uri string, line, character int) map[string]any {
	return map[string]any{"textDocument": map[string]any{"uri": uri}, "position": position{line, character}}
}

// TestUnsaved: a record that is not a file yet is judged, explained and led
// from, and two open buffers see each other.
func TestUnsaved(t *testing.T) {
	dir := writeJournal(t)
	c := start(t)
	c.initialize()
	session := uriOf(filepath.Join(dir, "sessions", "2026", "2026-03-04-tap.md"))
	open(c, session, "---\nsite: tap\nsampled: 2026-03-04T08:15+02:00\nby: ines\nreadings:\n  sulfate: {value: 84 mg/L, lot: SU-2601}\n---\n")
	found := c.diagnostics(session, 1)
	if len(found) != 1 || found[0].Code != "ref/missing" || found[0].Range != (span{position{5, 33}, position{5, 40}}) || found[0].Source != "wj" {
		t.Fatalf("found %+v", found)
	}
	lot := uriOf(filepath.Join(dir, "lots", "SU-2601.md"))
	open(c, lot, "---\nanalyte: sulfate\nexpires: 2027-01\n---\n")
	c.notify("textDocument/didChange", map[string]any{"textDocument": map[string]any{"uri": session, "version": 2},
		"contentChanges": []any{map[string]any{"range": span{position{5, 19}, position{5, 21}}, "text": "85"}}})
	if found := c.diagnostics(session, 2); len(found) != 0 {
		t.Errorf("with the lot open: %+v", found)
	}
	r := c.request("textDocument/definition", at(session, 5, 35))
	if want := `[{"uri":"` + lot + `"`; !strings.HasPrefix(string(r.Result), want) {
		t.Errorf("definition: %s, want %s", r.Result, want)
	}
	r = c.request("textDocument/hover", at(session, 5, 19))
	if !strings.Contains(string(r.Result), "85 mg/L") || !strings.Contains(string(r.Result), "mmol/L") {
		t.Errorf("hover: %s", r.Result)
	}
	// What a file holds is text, not markup and never an escape sequence.
	r = c.request("textDocument/hover", at(session, 1, 7))
	if s := string(r.Result); strings.Contains(s, "\\u001b") || !strings.Contains(s, `\\*one\\*`) {
		t.Errorf("hover over the site: %s", s)
	}
	c.notify("textDocument/didClose", documentParams{textDocument{lot}})
	c.notify("textDocument/didChange", map[string]any{"textDocument": map[string]any{"uri": session, "version": 3}, "contentChanges": []any{}})
	if found := c.diagnostics(session, 3); len(found) != 1 {
		t.Errorf("with the lot closed: %+v", found)
	}
	c.end()
	if _, err := os.Stat(filepath.Join(dir, "sessions")); err == nil {
		t.Error("the server wrote something")
	}
}

func TestSettings(t *testing.T) {
	dir := writeJournal(t)
	c := start(t)
	c.initialize()
	uri := uriOf(filepath.Join(dir, "wj.yaml"))
	open(c, uri, journalFiles["wj.yaml"]+"lint:\n  reagent/expired: warming\n  range/over: \n")
	found := c.diagnostics(uri, 1)
	if len(found) == 0 || found[0].Range.Start != (position{4, 19}) {
		t.Errorf("found %+v", found)
	}
	if r := c.request("textDocument/hover", at(uri, 4, 5)); !strings.Contains(string(r.Result), "# reagent/expired") {
		t.Errorf("hover: %.200s", r.Result)
	}
	if r := c.request("textDocument/completion", at(uri, 5, 14)); !strings.Contains(string(r.Result), `"label":"warning"`) {
		t.Errorf("completion: %.200s", r.Result)
	}
	c.end()
}

// TestElsewhere: files that are no records, or of no journal, are left alone.
func TestElsewhere(t *testing.T) {
	dir := writeJournal(t)
	c := start(t)
	c.initialize()
	for _, uri := range []string{uriOf(filepath.Join(dir, "README.md")), uriOf(filepath.Join(t.TempDir(), "sessions", "x.md")), "untitled:one", "%"} {
		open(c, uri, "---\nsite: tap\n---\n")
		for _, method := range []string{"textDocument/hover", "textDocument/completion", "textDocument/definition"} {
			if r := c.request(method, at(uri, 1, 7)); r.Error != nil || string(r.Result) != "null" && string(r.Result) != "[]" {
				t.Errorf("%s of %s: %s %v", method, uri, r.Result, r.Error)
			}
		}
	}
	c.end()
}

// TestMalformed sends what no client should; error codes are those of
// JSON-RPC 2.0, section 5.1, and LSP 3.17.
func TestMalformed(t *testing.T) {
	c := start(t)
	code := func(what string, want int) {
		t.Helper()
		if r := c.next(false); r.Error == nil || r.Error.Code != want {
			t.Errorf("%s: %+v, want %d", what, r, want)
		}
	}
	c.body(`{"jsonrpc":"2.0","id":1,"method":"textDocument/hover","params":{}}`)
	code("before initialize", codeNotInitialized)
	c.initialize()
	c.body(`{"jsonrpc":`)
	code("half an object", codeParse)
	c.body(`[]`)
	code("a batch", codeInvalidRequest)
	c.body(`{"jsonrpc":"2.0","id":{},"method":"shutdown"}`)
	code("an object for an id", codeInvalidRequest)
	c.body(`{"jsonrpc":"2.0","id":7}`) // an answer to nothing: passed over
	c.body(`{"jsonrpc":"2.0","method":"$/unknown","params":{}}`)
	c.body(`{"jsonrpc":"2.0","id":"x","method":"no/such"}`)
	code("an unknown method", codeMethodNotFound)
	c.body(`{"jsonrpc":"2.0","id":2,"method":"textDocument/hover","params":[1,2]}`)
	code("parameters of another form", codeInvalidParams)
	c.body(strings.Repeat("[", 200000))
	code("a deep nest", codeParse)
	c.raw("Content-Type: x\r\n\r\n")
	code("no length", codeParse)
	c.raw("Content-Length: many\r\n\r\n")
	code("a length that is none", codeParse)
	c.raw("Content-Length: 99999999\r\n\r\n")
	go func() {
		_, _ = c.in.Write(bytes.Repeat([]byte(" "), 99999999))
	}()
	code("a huge message", codeInvalidRequest)
	c.raw(strings.Repeat("x", 10000) + "\r\n")
	if r := c.request("initialize", map[string]any{}); r.Error == nil {
		t.Error("initialize twice")
	}
	if r := c.request("shutdown", nil); r.Error != nil {
		t.Error(r.Error)
	}
	if r := c.request("textDocument/hover", at("file:///x", 0, 0)); r.Error == nil || r.Error.Code != codeInvalidRequest {
		t.Errorf("after shutdown: %+v", r)
	}
	c.notify("exit", nil)
	<-c.ended
}

func TestEnd(t *testing.T) {
	for name, text := range map[string]string{"at once": "", "in a header": "Content-Len", "in a body": "Content-Length: 10\r\n\r\n{"} {
		var out bytes.Buffer
		clean, err := Serve(context.Background(), strings.NewReader(text), &out, Options{})
		if clean || (err != nil) != (text != "") || out.Len() > 0 {
			t.Errorf("%s: %v, %v, %q", name, clean, err, out.String())
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	in, _ := io.Pipe()
	done := make(chan error, 1)
	go func() {
		_, err := Serve(ctx, in, io.Discard, Options{})
		done <- err
	}()
	cancel()
	select {
	case err := <-done:
		if err != nil {
			t.Error(err)
		}
	case <-time.After(10 * time.Second):
		t.Error("an interrupt waits for the client")
	}
}

// FuzzServe: no bytes from a client make the server panic, hang or write what
// is not a message.
func FuzzServe(f *testing.F) {
	frame := func(bodies ...string) string {
		var b strings.Builder
		for _, body := range bodies {
			fmt.Fprintf(&b, "Content-Length: %d\r\n\r\n%s", len(body), body)
		}
		return b.String()
	}
	f.Add(frame(`{"id":1,"method":"initialize","params":{}}`, `{"method":"textDocument/didOpen","params":{"textDocument":{"uri":"file:///x.md","text":"a"}}}`,
		`{"method":"textDocument/didChange","params":{"textDocument":{"uri":"file:///x.md"},"contentChanges":[{"range":{"start":{"line":-1},"end":{"line":9}},"text":"é"}]}}`, `{"id":2,"method":"shutdown"}`, `{"method":"exit"}`))
	f.Add("Content-Length: -1\r\n\r\nContent-Length: 2\r\n\r\n{}")
	f.Fuzz(func(t *testing.T, text string) {
		if len(text) > 1<<15 {
			return
		}
		var out bytes.Buffer
		_, _ = Serve(context.Background(), strings.NewReader(text), &out, Options{})
		w := newWire(&out, io.Discard)
		for {
			if _, err := w.read(); err == io.EOF {
				return
			} else if err != nil {
				t.Fatalf("wrote no message: %v", err)
			}
		}
	})
}
