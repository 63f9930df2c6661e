package server

import (
	"bytes"
	"context"
	"path/filepath"
	"runtime/debug"
	"slices"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/judge"
	"wj/lint"
	"wj/lint/report"
)

// workspace is one journal with open files.
type workspace struct {
	root string
	j    *journal.Journal // with what is typed laid over it; nil before it is judged
	took time.Duration    // to judge it

	disk     *journal.Journal // as the files are; nil: read them
	read     time.Time        // when
	problems map[string][]journal.Problem
	stale    map[string]bool // files that were saved since
	memory   lint.Memory
}

// document is one open file.
type document struct {
	uri     string
	version int
	text    *text
	place   *workspace   // nil for a file of no journal
	file    journal.File // Kind is NoKind for a file that is no record
	found   []lint.Diagnostic
	judged  []byte // the text that found is about; nil before
}

// parsed is the document's tree.
func (d *document) parsed() *frontmatter.Document {
	out := &frontmatter.Document{}
	if d.file.Kind == journal.KindSettings {
		out.ParseYAML(d.text.src)
	} else {
		out.Parse(d.text.src)
	}
	return out
}

// fresh reports whether found is about the text as it is.
func (d *document) fresh() bool { return d.judged != nil && bytes.Equal(d.judged, d.text.src) }

func (s *server) didOpen(p didOpenParams) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	d := &document{uri: p.TextDocument.URI, version: p.TextDocument.Version, text: newText([]byte(p.TextDocument.Text))}
	if name, ok := pathOf(d.uri); ok {
		if root, err := journal.FindRoot(filepath.Dir(name)); err == nil {
			if rel, err := filepath.Rel(root, name); err == nil {
				if s.places[root] == nil {
					s.places[root] = &workspace{root: root}
				}
				d.place = s.places[root]
				rel = filepath.ToSlash(rel)
				if d.file, ok = journal.FileOf(rel); !ok && rel == journal.SettingsFile {
					d.file = journal.File{Kind: journal.KindSettings, Path: rel}
				}
			}
		}
	}
	s.docs[d.uri] = d
	s.changed()
	return nil
}

func (s *server) didChange(p didChangeParams) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	d, ok := s.docs[p.TextDocument.URI]
	if !ok {
		return failure(codeInvalidParams, "%s is not open", p.TextDocument.URI)
	}
	for _, c := range p.ContentChanges {
		if c.Range == nil {
			d.text = newText([]byte(c.Text))
			continue
		}
		start, end := d.text.offset(c.Range.Start), d.text.offset(c.Range.End)
		if end < start {
			start, end = end, start
		}
		src := make([]byte, 0, len(d.text.src)-(end-start)+len(c.Text))
		src = append(append(append(src, d.text.src[:start]...), c.Text...), d.text.src[end:]...)
		d.text = newText(src)
	}
	d.version = p.TextDocument.Version
	s.changed()
	return nil
}

func (s *server) didClose(p documentParams) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	d, ok := s.docs[p.TextDocument.URI]
	if !ok {
		return nil
	}
	delete(s.docs, d.uri)
	s.wire.notify("textDocument/publishDiagnostics", publishDiagnosticsParams{URI: d.uri, Diagnostics: []diagnostic{}})
	used := false
	for _, other := range s.docs {
		used = used || other.place == d.place
	}
	if !used && d.place != nil {
		delete(s.places, d.place.root) // what it holds may be large
	}
	s.changed()
	return nil
}

// changed asks for a judgement.
func (s *server) changed() {
	select {
	case s.pending <- struct{}{}:
	default:
	}
}

// judgeWhenQuiet judges what was typed once typing rests.
func (s *server) judgeWhenQuiet(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-s.pending:
		}
		for quiet := false; !quiet; {
			select {
			case <-ctx.Done():
				return
			case <-s.pending:
			case <-time.After(s.opt.Pause):
				quiet = true
			}
		}
		s.judge()
	}
}

// judge lints every journal that has open files and publishes what is found in
// them. Text that changed meanwhile is judged again soon.
func (s *server) judge() {
	s.judging.Lock()
	defer s.judging.Unlock()
	s.mu.Lock()
	var places []*workspace
	for _, p := range s.places {
		places = append(places, p)
	}
	s.mu.Unlock()
	for _, p := range places {
		s.judgePlace(p)
	}
}

func (s *server) judgePlace(p *workspace) {
	defer func() {
		if fault := recover(); fault != nil {
			if s.opt.Trace != nil {
				_, _ = s.opt.Trace.Write(debug.Stack())
			}
			s.log("a fault in the linter")
		}
	}()
	started := time.Now()
	files, paths := map[string][]byte{}, []string{}
	s.mu.Lock()
	for _, d := range s.docs {
		if d.place == p && d.file.Kind != journal.NoKind {
			files[d.file.Path] = d.text.src
			paths = append(paths, d.file.Path)
		}
	}
	s.mu.Unlock()
	if len(paths) == 0 {
		return
	}
	j, err := p.journal(files, s.watch)
	if err != nil {
		s.log(err.Error())
		return
	}
	opt := lint.Options{Now: s.opt.Now(), Paths: paths, Memory: &p.memory}
	if s.opt.Mainline != nil && slices.ContainsFunc(paths, func(p string) bool { f, _ := journal.FileOf(p); return judge.Approves(f.Kind) }) {
		facts, done := s.opt.Mainline(j, p.root)
		defer done()
		opt.Facts = facts
	}
	found := map[string][]lint.Diagnostic{}
	for _, d := range lint.Run(j, opt).Diagnostics {
		found[d.Path] = append(found[d.Path], d)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	p.j, p.took = j, time.Since(started)
	for _, d := range s.docs {
		src, ok := files[d.file.Path]
		if d.place != p || !ok || !bytes.Equal(src, d.text.src) {
			continue
		}
		d.found, d.judged = found[d.file.Path], src
		version := d.version
		out := publishDiagnosticsParams{URI: d.uri, Version: &version, Diagnostics: make([]diagnostic, len(d.found))}
		for i := range d.found {
			out.Diagnostics[i] = s.told(d, &d.found[i])
		}
		s.wire.notify("textDocument/publishDiagnostics", out)
	}
}

// diagnostic is a finding as the client shows it. A place of several lines is
// shown in its first, one without extent to the end of its word.
func (d *document) diagnostic(f *lint.Diagnostic) diagnostic {
	start, end := d.extent(f)
	severity := severityError
	switch f.Severity {
	case lint.Warning:
		severity = severityWarning
	case lint.Info:
		severity = severityInformation
	}
	message := f.Message
	if f.Help != "" {
		message += "\n" + f.Help
	}
	return diagnostic{Range: d.text.span(start, end), Severity: severity, Code: f.Rule, Source: "wj", Message: message}
}

// told is the finding with what else it speaks of and the address of its rule's page.
func (s *server) told(d *document, f *lint.Diagnostic) diagnostic {
	out := d.diagnostic(f)
	if s.related {
		for _, p := range f.Related {
			out.Related = append(out.Related, related{location{s.uri(d.place, p.Path), s.textAt(d.place, p.Path).span(p.Start, max(p.Start, p.End))}, p.Message})
		}
	}
	if s.opt.Pages != "" {
		out.CodeDescription = &codeDescription{report.HelpURI(s.opt.Pages, f.Rule)}
	}
	return out
}

// extent is where a finding is shown, in bytes.
func (d *document) extent(f *lint.Diagnostic) (start, end int) {
	start = max(0, min(f.Start, len(d.text.src)))
	_, lineEnd := d.text.bounds(d.text.line(start))
	end = min(max(f.End, start), lineEnd)
	for end == start && end < lineEnd || end > start && end < lineEnd && f.End <= f.Start && isWord(d.text.src[end]) {
		end++
	}
	return start, end
}

// slow is how long a judgement may take and still be waited for.
const slow = 300 * time.Millisecond

// look finds an open record and its journal, judged anew where that is quick,
// and calls do under the lock. Without such a record do is not called.
func (s *server) look(uri string, do func(*document)) {
	s.mu.Lock()
	d, ok := s.docs[uri]
	if !ok || d.place == nil || d.file.Kind == journal.NoKind {
		s.mu.Unlock()
		return
	}
	wait := d.place.j == nil || !d.fresh() && d.place.took < slow
	s.mu.Unlock()
	if wait {
		s.judge()
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if d.place.j != nil {
		do(d)
	}
}

// lookAsItIs is look without a judgement of what was typed last: what can stand
// here is asked with every letter.
func (s *server) lookAsItIs(uri string, do func(*document)) {
	s.mu.Lock()
	d, ok := s.docs[uri]
	known := ok && d.place != nil && d.place.j != nil && d.file.Kind != journal.NoKind
	if known {
		do(d)
	}
	s.mu.Unlock()
	if !known {
		s.look(uri, do)
	}
}
