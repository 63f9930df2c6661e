// Package writer is the one way in which records are written. A record is composed in memory
// and laid over the journal; what the linter finds there decides whether it can be a record at
// all; then it is written and committed, all files or none.
//
//	record := writer.Record{Files: []writer.File{{Path: "lots/SU-1.md", New: src}}, Subject: "Add lot SU-1"}
//	findings := writer.Check(j, now, record.Files)
//	if !writer.Refused(findings) {
//		out, err := writer.Write(ctx, root, record)
//	}
package writer

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/history"
	"wj/journal/safefile"
	"wj/lint"
)

// File is a file of the journal that is to be written.
type File struct {
	Path string // from the journal's root, with forward slashes
	Old  []byte // what it holds; nil: it is new
	New  []byte
	// Stem is the id of a new record that may take the next free number, STEM-2, where another
	// program took its name in the meantime.
	Stem string
	// Beside is the ending of a new file that belongs to the one before it, such as .sig: it
	// lies beside it under its name.
	Beside string
	// Fields are the fields of an old record that are set. An error that was there before is no
	// reason to refuse the record, except in one of them.
	Fields [][]string
}

// Record is what one command writes: one commit.
type Record struct {
	Files    []File
	Subject  string
	Trailers []history.Trailer
	// Kept says that the files are written and not committed.
	Kept bool
	// Progress is told how many files are in place; nil tells nobody.
	Progress func(int)
}

// Written is what became of a Record.
type Written struct {
	Paths  []string // in the order of the files, with the names that they took
	Commit string   // its full hash
	// Left is why there is no commit although one was wanted, where that is no failure:
	// [history.ErrNoRepository] or [history.ErrNoGit].
	Left error
}

// Check gives the findings that the files bring to the journal, as the linter words and places
// them. What a changed file had already is left out.
func Check(j *journal.Journal, now time.Time, files []File) []lint.Diagnostic {
	after, before := map[string][]byte{}, map[string][]byte{}
	var paths, changed []string
	for _, f := range files {
		after[f.Path], paths = f.New, append(paths, f.Path)
		if f.Old != nil {
			before[f.Path], changed = f.Old, append(changed, f.Path)
		}
	}
	known := map[string]int{}
	key := func(d *lint.Diagnostic) string { return d.Path + "\x00" + d.Rule + "\x00" + d.Message }
	if len(changed) > 0 {
		old := lint.Run(j.With(before), lint.Options{Paths: changed, Now: now}).Diagnostics
		for i := range old {
			known[key(&old[i])]++
		}
	}
	var out []lint.Diagnostic
	for _, d := range lint.Run(j.With(after), lint.Options{Paths: paths, Now: now}).Diagnostics {
		if known[key(&d)] > 0 {
			known[key(&d)]--
			if !d.Bars || !inFields(files, &d) {
				continue
			}
		}
		out = append(out, d)
	}
	return out
}

// inFields reports whether a finding is in a field that its file's change sets.
func inFields(files []File, d *lint.Diagnostic) bool {
	i := slices.IndexFunc(files, func(f File) bool { return f.Path == d.Path })
	if i < 0 || len(files[i].Fields) == 0 {
		return false
	}
	var doc frontmatter.Document
	doc.Parse(files[i].New)
	for _, field := range files[i].Fields {
		if node, ok := doc.FindPath(field...); ok && d.Start >= int(doc.Nodes[node].Start) && d.Start < int(doc.Nodes[node].End) {
			return true
		}
	}
	return false
}

// Refused reports whether a record with these findings cannot be one.
func Refused(findings []lint.Diagnostic) bool {
	return slices.ContainsFunc(findings, func(d lint.Diagnostic) bool { return d.Bars })
}

// Write writes the files and commits them with the user's git. Where the commit is not made
// the files are taken back, so that the same command can be given again; the error says why.
// Without a repository or without git they stay.
func Write(ctx context.Context, root string, r Record) (Written, error) {
	placed, undo, err := place(root, r)
	out := Written{}
	for _, f := range placed {
		out.Paths = append(out.Paths, f.Path)
	}
	if err != nil || r.Kept || len(placed) == 0 {
		return out, err
	}
	contents := map[string][]byte{}
	for i, f := range placed {
		contents[f.Path] = f.New
		if from := r.Files[i].Path; from != f.Path {
			r.Subject = strings.Replace(r.Subject, id(from), id(f.Path), 1)
		}
	}
	var trailers []history.Trailer
	for _, t := range r.Trailers {
		if strings.TrimSpace(t.Value) != "" {
			trailers = append(trailers, t)
		}
	}
	out.Commit, err = history.CommitFiles(ctx, root, contents, Shortened(r.Subject, subjectLength), trailers)
	switch {
	case err == nil:
		return out, nil
	case errors.Is(err, history.ErrNoRepository), errors.Is(err, history.ErrNoGit):
		out.Left = err
		return out, nil
	case ctx.Err() != nil: // git was stopped, and may have been done
		return out, journal.Hint("git log -1 shows whether it was committed", "the record is written: %w", err)
	}
	if failed := undo(); failed != nil {
		return out, journal.Hint("take them away by hand: "+strings.Join(out.Paths, " "), "%w; and the files could not be taken back: %w", err, failed)
	}
	return Written{}, err
}

// subjectLength is how long the first line of a commit's message may be.
const subjectLength = 100

// Shortened cuts a line after n characters.
func Shortened(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return s
}

func id(name string) string { return strings.TrimSuffix(path.Base(name), ".md") }

// place puts the files into place under the journal's lock: all of them or none.
func place(root string, r Record) (placed []File, undo func() error, err error) {
	unlock, err := safefile.Lock(root)
	if err != nil {
		return nil, nil, err
	}
	defer unlock()
	undo = func() error {
		var failed error
		for _, f := range slices.Backward(placed) {
			failed = errors.Join(failed, takeBack(root, f))
		}
		return failed
	}
	cleaned := map[string]bool{}
	for i, f := range r.Files {
		if f.Beside != "" && i > 0 {
			f.Path = placed[i-1].Path + f.Beside
		}
		folder := filepath.Dir(filepath.Join(root, filepath.FromSlash(f.Path)))
		if !cleaned[folder] {
			cleaned[folder] = true
			safefile.Clean(folder)
		}
		f, err := placeFile(root, f)
		if err != nil {
			return nil, nil, errors.Join(err, undo())
		}
		placed = append(placed, f)
		if r.Progress != nil {
			r.Progress(i + 1)
		}
	}
	return placed, undo, nil
}

// placeFile writes one file; a new record whose name was taken gets the next free one.
func placeFile(root string, f File) (File, error) {
	folder, old := path.Dir(f.Path), f.Old
	for n := 2; ; n++ {
		err := safefile.Write(filepath.Join(root, filepath.FromSlash(f.Path)), old, f.New)
		switch {
		case err == nil:
			return f, nil
		case errors.Is(err, safefile.ErrExists) && f.Stem != "" && n < 10_000:
			f.Path = fmt.Sprintf("%s/%s-%d.md", folder, f.Stem, n)
		case errors.Is(err, safefile.ErrExists):
			return f, journal.Hint("choose another id, or edit the file", "%s is there already", f.Path)
		default:
			return f, fmt.Errorf("nothing was written: %w", err)
		}
	}
}

// takeBack undoes the writing of a file that nobody has changed since.
func takeBack(root string, f File) error {
	full := filepath.Join(root, filepath.FromSlash(f.Path))
	if f.Old != nil {
		return safefile.Write(full, f.New, f.Old)
	}
	if now, err := os.ReadFile(full); err != nil || !bytes.Equal(now, f.New) {
		return errors.Join(err, fmt.Errorf("%s changed in the meantime", f.Path))
	}
	if err := os.Remove(full); err != nil {
		return err
	}
	for dir := path.Dir(f.Path); dir != "."; dir = path.Dir(dir) {
		if os.Remove(filepath.Join(root, filepath.FromSlash(dir))) != nil { // a folder that is not empty stays
			break
		}
	}
	return nil
}

// reach is how far back the sessions go that a new one is compared with.
const reach = 3 * 365 * 24 * time.Hour

// Recent is the journal with the sessions that a new one at a time is judged by: those of three
// years, and all since the lots in use came. A journal that has its sessions stays as it is. What
// it holds of earlier years is not read.
func Recent(j *journal.Journal, on time.Time) *journal.Journal {
	from := on.Add(-reach)
	for _, l := range j.Lots.List {
		came := l.Received
		if came.IsZero() {
			came = l.Opened
		}
		if len(l.Analytes) > 0 && l.Void == nil && !l.ExpiredOn(on) && !came.IsZero() && came.Before(from) && (l.Finished.IsZero() || !l.Finished.Before(on)) {
			from = came
		}
	}
	first := journal.FormatDate(from)
	return j.WithSessions(func(f journal.File) bool {
		if len(f.ID) >= 10 {
			if _, err := journal.ParseDate(f.ID[:10]); err == nil {
				return f.ID[:10] >= first
			}
		}
		return true
	})
}
