package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/safefile"
	"wj/lint"
	"wj/render"
)

// finish checks the composed record, writes it and commits it.
func (d *draft) finish(c *newCmd) error {
	src := journal.Compose(d.kind, d.entries, d.body)
	var doc frontmatter.Document
	doc.Parse(src)
	problems := journal.Check(&doc, d.kind, d.path, d.j)
	failed := false
	lines := strings.Split(string(src), "\n")
	for _, p := range problems {
		if err := d.a.printTalk(d.a.talk.Finding(problemFinding(p, d.path, lines))); err != nil {
			return err
		}
		failed = failed || !p.Warning
	}
	if failed {
		return withHint("mend the command and run it again", "nothing was written: the %s would be wrong", d.kind)
	}
	if c.DryRun {
		return d.a.print(render.Clean(string(src)))
	}
	full := filepath.Join(d.root, filepath.FromSlash(d.path))
	if err := os.MkdirAll(filepath.Dir(full), 0o777); err != nil {
		return fmt.Errorf("make the folder of %s: %w", d.path, err)
	}
	if err := d.write(full, src); err != nil {
		return err
	}
	if err := d.a.print(d.a.relative(d.root, d.path) + "\n"); err != nil {
		return err
	}
	d.review()
	if !c.NoCommit {
		if err := d.a.commit(d.root, []string{d.path}, d.subject); err != nil {
			return err
		}
	}
	return d.verdict(!c.NoCommit)
}

// write puts the record into place; when another writer took a session's id
// in the meantime, the session takes the next one.
func (d *draft) write(full string, src []byte) error {
	for n := 2; ; n++ {
		err := safefile.Write(full, nil, src)
		if err == nil {
			return nil
		}
		if !errors.Is(err, safefile.ErrExists) || d.kind != journal.KindSession || n > 9999 {
			return fmt.Errorf("write %s: %w", d.path, err)
		}
		old := d.id
		d.id = fmt.Sprintf("%s-%d", d.stem, n)
		d.path = filepath.ToSlash(filepath.Join(filepath.Dir(d.path), d.id+".md"))
		d.subject = strings.Replace(d.subject, old, d.id, 1)
		full = filepath.Join(d.root, filepath.FromSlash(d.path))
	}
}

// review says what the linter thinks of the new record. It is talk: the record
// is written, and a warning is no reason to lose a reading.
func (d *draft) review() {
	j, err := journal.Load(journal.Dir(d.root), journal.Options{Check: true, Sessions: true})
	if err != nil {
		return
	}
	for _, finding := range lint.Run(j, lint.Options{Paths: []string{d.path}, Now: d.a.now()}).Diagnostics {
		if finding.Severity >= lint.Warning {
			_ = d.a.printTalk(d.a.talk.Finding(toFinding(finding, d.a.relative(d.root, d.path))))
		}
	}
}

func (a *app) printTalk(s string) error {
	_, err := io.WriteString(a.stderr, render.Inert(s))
	return err
}
