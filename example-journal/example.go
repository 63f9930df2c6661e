// Package example holds the journal of the invented Quillmarsh Brewery and its
// dated story, from October 2023 to September 2026. The files are written by
// the program in generate; nothing here is anybody's real water.
//
//	j, err := journal.Load(example.FS(), journal.Options{Sessions: true})
//	steps, err := example.Story()
//	err = history.Import(ctx, "brewery-water", steps) // a Git repository with every commit of the story
package example

import (
	"embed"
	"fmt"
	"io/fs"
	"net/mail"
	"path"
	"strconv"
	"strings"
	"time"

	"github.com/rogpeppe/go-internal/txtar"

	"wj/journal/history"
)

//go:embed wj.yaml README.md people owners sites lots instruments methods sessions targets changes signoffs batches events actions reports
var files embed.FS

//go:embed story
var story embed.FS

// FS is the journal as it is at the end of the story.
func FS() fs.FS { return files }

// Step is one commit of the story, as history.Import writes it.
type Step = history.ImportStep

// Story gives the commits that lead to the journal, oldest first. The state
// after the last one is FS, byte for byte. Errors name the line of the story
// that cannot be read.
func Story() ([]Step, error) {
	earlier, err := earlierStates()
	if err != nil {
		return nil, err
	}
	raw, err := story.ReadFile("story/steps.tsv")
	if err != nil {
		return nil, fmt.Errorf("read the example's story: %w", err)
	}
	var steps []Step
	for n, line := range strings.Split(strings.TrimSuffix(string(raw), "\n"), "\n") {
		if strings.HasPrefix(line, "#") {
			continue
		}
		step, err := readStep(line, earlier)
		if err != nil {
			return nil, fmt.Errorf("read the example's story, line %d: %w", n+1, err)
		}
		steps = append(steps, step)
	}
	return steps, nil
}

func readStep(line string, earlier map[string][]byte) (Step, error) {
	field := strings.Split(line, "\t")
	if len(field) != 6 {
		return Step{}, fmt.Errorf("%d columns where there should be 6", len(field))
	}
	when, err := time.Parse(time.RFC3339, field[0])
	if err != nil {
		return Step{}, err
	}
	person, err := mail.ParseAddress(field[1])
	if err != nil {
		return Step{}, err
	}
	message, err := strconv.Unquote(field[4])
	if err != nil {
		return Step{}, fmt.Errorf("message %s: %w", field[4], err)
	}
	step := Step{When: when, Name: person.Name, Email: person.Address, Branch: field[2], Merge: field[3], Message: message, Write: map[string][]byte{}}
	for _, name := range strings.Fields(field[5]) {
		content, ok := earlier[name]
		if name, _, found := strings.Cut(name, "@"); found {
			if !ok {
				return Step{}, fmt.Errorf("no earlier state of %s", name)
			}
			step.Write[name] = content
			continue
		}
		if content, err = files.ReadFile(name); err != nil {
			return Step{}, err
		}
		step.Write[name] = content
	}
	return step, nil
}

// earlierStates reads the contents that files had before their last change, by
// "path@n".
func earlierStates() (map[string][]byte, error) {
	states := map[string][]byte{}
	entries, err := story.ReadDir("story")
	if err != nil {
		return nil, fmt.Errorf("read the example's story: %w", err)
	}
	for _, e := range entries {
		if path.Ext(e.Name()) != ".txtar" {
			continue
		}
		raw, err := story.ReadFile("story/" + e.Name())
		if err != nil {
			return nil, fmt.Errorf("read the example's story: %w", err)
		}
		for _, f := range txtar.Parse(raw).Files {
			states[f.Name] = f.Data
		}
	}
	return states, nil
}
