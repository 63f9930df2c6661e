package server

import (
	"bytes"
	"io/fs"
	"path/filepath"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
)

// What is typed is laid over the journal as it was read. The files are read again when
// the editor says that they changed, one by one where it can; so a pause in typing costs
// what one record costs, however many there are.

// unwatched is how long the journal is believed where the editor does not say which
// files change.
const unwatched = 10 * time.Second

// journal is the journal with the texts that are typed laid over it. The caller holds
// s.judging.
func (p *workspace) journal(files map[string][]byte, watched bool) (*journal.Journal, error) {
	if p.disk == nil || !watched && time.Since(p.read) > unwatched {
		j, err := journal.Load(journal.Dir(p.root), journal.Options{Check: true, Sessions: true})
		if err != nil {
			return nil, err
		}
		p.disk, p.read, p.stale, p.problems = j, time.Now(), nil, map[string][]journal.Problem{}
		for _, problem := range j.Problems {
			p.problems[problem.Path] = append(p.problems[problem.Path], problem)
		}
	}
	p.refresh()
	laid, seen := map[string][]byte{}, []journal.Problem(nil)
	for name, text := range files {
		// A record that is only looked at stays the one that was read: what was worked out
		// with it still holds. Sessions are cheap, and name what may be new.
		if f, _ := journal.FileOf(name); f.Kind != journal.KindSession {
			if src, err := fs.ReadFile(p.disk.FS, name); err == nil && bytes.Equal(src, text) {
				seen = append(seen, p.problems[name]...)
				continue
			}
		}
		laid[name] = text
	}
	j := p.disk.With(laid)
	j.Problems = append(j.Problems, seen...)
	return j, nil
}

// refresh reads the files anew that were saved.
func (p *workspace) refresh() {
	if len(p.stale) == 0 {
		return
	}
	saved := map[string][]byte{}
	for name := range p.stale {
		src, err := fs.ReadFile(p.disk.FS, name)
		if err != nil || len(src) > frontmatter.MaxFile {
			continue // With reports what is too large; a file that went has the journal read anew
		}
		saved[name] = src
	}
	p.stale = nil
	fsys := p.disk.FS
	p.disk = p.disk.With(saved)
	p.disk.FS = fsys // the texts are those of the files
	for name := range saved {
		delete(p.problems, name)
	}
	for _, problem := range p.disk.Problems {
		p.problems[problem.Path] = append(p.problems[problem.Path], problem)
	}
}

// fileEvent is what the editor says of a file.
type fileEvent struct {
	URI  string `json:"uri"`
	Type int    `json:"type"` // 1 created, 2 changed, 3 deleted
}

type didChangeWatchedFilesParams struct {
	Changes []fileEvent `json:"changes"`
}

// didSave takes note of a file that the editor wrote.
func (s *server) didSave(p documentParams) error {
	s.filesChanged([]fileEvent{{p.TextDocument.URI, 2}})
	return nil
}

func (s *server) didChangeWatchedFiles(p didChangeWatchedFilesParams) error {
	s.filesChanged(p.Changes)
	return nil
}

// filesChanged takes note of files that are new, changed or gone.
func (s *server) filesChanged(list []fileEvent) {
	s.judging.Lock()
	defer s.judging.Unlock()
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, e := range list {
		name, ok := pathOf(e.URI)
		for _, p := range s.places {
			rel, err := filepath.Rel(p.root, name)
			if rel = filepath.ToSlash(rel); !ok || err != nil || p.disk == nil {
				continue
			}
			_, record := journal.FileOf(rel)
			switch {
			case e.Type == 3:
				p.disk = nil // also of a folder
			case record || rel == journal.SettingsFile:
				if p.stale == nil {
					p.stale = map[string]bool{}
				}
				p.stale[rel] = true
			}
		}
	}
	s.changed()
}

// uri names a file of a journal as the editor does.
func (s *server) uri(p *workspace, name string) string {
	for _, d := range s.docs {
		if d.place == p && d.file.Path == name {
			return d.uri
		}
	}
	return uriOf(filepath.Join(p.root, filepath.FromSlash(name)))
}

// textAt is the text of a file: as it is typed where it is open, else as it was read.
func (s *server) textAt(p *workspace, name string) *text {
	for _, d := range s.docs {
		if d.place == p && d.file.Path == name {
			return d.text
		}
	}
	src, err := fs.ReadFile(p.disk.FS, name)
	if err != nil || len(src) > frontmatter.MaxFile {
		src = nil
	}
	return newText(src)
}
