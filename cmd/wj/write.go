package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/history"
	"wj/journal/writer"
	"wj/lint"
	"wj/render"
)

// draft is a record that a command composes.
type draft struct {
	writer.Draft
	a    *app
	root string
}

// draft begins a record of a kind, by whoever is recording.
func (a *app) draft(j *journal.Journal, root string, kind journal.Kind) *draft {
	_, email, _ := history.Identity(root)
	return &draft{writer.Draft{Journal: j, Now: a.Now().In(j.Settings.Zone), By: a.env("WJ_BY"), Email: email, Kind: kind}, a, root}
}

// text is a text given as an argument; - reads it from standard input.
func (a *app) text(arg string) (string, error) {
	if arg != "-" {
		return arg, nil
	}
	src, err := io.ReadAll(io.LimitReader(a.stdin, frontmatter.MaxFile))
	if err != nil {
		return "", fmt.Errorf("read the text: %w", err)
	}
	return string(src), nil
}

// write is put for a command whose answer is the paths of what it wrote.
func (a *app) write(j *journal.Journal, root string, r writer.Record, dry bool) (writer.Written, error) {
	out, err := a.put(j, root, r, dry)
	for _, p := range out.Paths {
		if err := a.print(a.relative(root, p) + "\n"); err != nil {
			return out, err
		}
	}
	if err == nil {
		a.saidCommit(root, out)
	}
	return out, err
}

// put checks the files of a record, shows what is found once, and writes and commits them; dry
// shows the files instead.
func (a *app) put(j *journal.Journal, root string, r writer.Record, dry bool) (writer.Written, error) {
	findings := writer.Check(j, a.Now(), r.Files)
	refused := writer.Refused(findings)
	for _, d := range findings {
		if d.Bars || !refused && d.Severity >= lint.Warning {
			if err := a.talking().Show(func(o render.Output) string { return o.Finding(toFinding(d, a.relative(root, d.Path))) }); err != nil {
				return writer.Written{}, err
			}
		}
	}
	if refused {
		return writer.Written{}, withHint("fix the command and run it again", "nothing was written: the record cannot be right")
	}
	if dry {
		for _, f := range r.Files {
			text := render.Clean(string(f.New))
			if journal.IsAttachment(f.Path) {
				text = f.Path + "\n"
			}
			if err := a.print(text); err != nil {
				return writer.Written{}, err
			}
		}
		return writer.Written{}, nil
	}
	out, err := writer.Write(a.Context, root, r)
	if err != nil {
		return out, notCommitted(err, findings)
	}
	return out, nil
}

// saidCommit says what became of a record in history.
func (a *app) saidCommit(root string, out writer.Written) {
	switch {
	case out.Commit != "":
		a.say("committed as %s", out.Commit[:min(10, len(out.Commit))])
	case errors.Is(out.Left, history.ErrNoRepository):
		a.say("written, but not kept in history: %s is in no Git repository", root)
		a.say("to keep it: git init && git add . && git commit -m \"Start the water journal\"")
	case errors.Is(out.Left, history.ErrNoGit):
		a.say("written, but not committed: there is no git program here")
		a.say("to keep it: git add %s && git commit", strings.Join(out.Paths, " "))
	}
}

// notCommitted is the error of a record that was taken back. What a hook says again of the
// findings that were shown is left out.
func notCommitted(err error, findings []lint.Diagnostic) error {
	var t *history.Trouble
	if !errors.As(err, &t) {
		return err
	}
	var lines []string
	skip := false
	for line := range strings.SplitSeq(t.Output, "\n") {
		again := false
		for _, d := range findings {
			again = again || d.Severity >= lint.Warning && strings.Contains(line, d.Rule+": "+d.Message)
		}
		if again || skip && strings.HasPrefix(strings.TrimSpace(line), "help: ") {
			skip = true
			continue
		}
		skip = false
		lines = append(lines, line)
	}
	t.Output = strings.Join(lines, "\n")
	t.Doing = "nothing was written: " + t.Doing
	t.Hint = strings.TrimPrefix(strings.ReplaceAll(t.Hint, "the file is written but not committed; ", ""), "; ")
	return err
}

func (a *app) printTalk(s string) error {
	_, err := io.WriteString(a.talking(), render.Inert(s))
	return err
}
