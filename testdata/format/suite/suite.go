// Package suite is the conformance suite of the journal format: small journals, and what any reader makes of them. It knows
// nothing of wj; README.md beside it has the exchange with a reader.
package suite

import (
	"encoding/json"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"

	"github.com/rogpeppe/go-internal/txtar"
)

// Question is what a reader is given: one journal, its files by path.
type Question struct {
	Name   string            `json:"name"`
	Format int               `json:"format"`
	Files  map[string]string `json:"files"`
}

// Answer is what a reader makes of it: the rows of the data model, each an object of texts with its table and the columns
// that have a value, or the places of what is wrong, FILE:LINE:COLUMN RULE. The order of either does not matter.
type Answer struct {
	Rows     []json.RawMessage `json:"rows"`
	Problems []string          `json:"problems"`
}

// Case is a question with the right answer.
type Case struct {
	Question
	Want Answer
	file string
}

// Cases reads the archives of a folder.
func Cases(dir string) ([]Case, error) {
	names, err := filepath.Glob(filepath.Join(dir, "*.txtar"))
	if err == nil && len(names) == 0 {
		err = fmt.Errorf("%s has no archives", dir)
	}
	if err != nil {
		return nil, err
	}
	var out []Case
	for _, name := range names {
		archive, err := txtar.ParseFile(name)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		c := Case{Question: Question{Name: strings.TrimSuffix(filepath.Base(name), ".txtar"), Format: 1, Files: map[string]string{}}, file: name}
		for _, f := range archive.Files {
			switch f.Name {
			case "want.jsonl":
				for line := range strings.Lines(string(f.Data)) {
					c.Want.Rows = append(c.Want.Rows, json.RawMessage(strings.TrimSpace(line)))
				}
			case "want.problems":
				c.Want.Problems = strings.Split(strings.TrimSpace(string(f.Data)), "\n")
				if len(f.Data) == 0 {
					c.Want.Problems = nil
				}
			default:
				c.Files[f.Name] = string(f.Data)
			}
		}
		out = append(out, c)
	}
	return out, nil
}

// Compare returns what an answer lacks (-) and what it has beyond the right one (+), a line each; "" where it is right.
func (c *Case) Compare(got Answer) (string, error) {
	has, wants := map[string]int{}, map[string]int{}
	for _, side := range []struct {
		of    Answer
		count map[string]int
	}{{got, has}, {c.Want, wants}} {
		for _, row := range side.of.Rows {
			var columns map[string]string
			if err := json.Unmarshal(row, &columns); err != nil {
				return "", fmt.Errorf("a row is no object of texts: %s: %w", row, err)
			}
			line, _ := json.Marshal(columns) // with sorted keys
			side.count[string(line)]++
		}
		for _, p := range side.of.Problems {
			side.count[p]++
		}
	}
	var out strings.Builder
	for _, line := range slices.Sorted(maps.Keys(wants)) {
		if has[line] < wants[line] {
			out.WriteString("- " + line + "\n")
		}
	}
	for _, line := range slices.Sorted(maps.Keys(has)) {
		if has[line] > wants[line] {
			out.WriteString("+ " + line + "\n")
		}
	}
	return out.String(), nil
}

// Keep returns the archive of a case, and its file's name, with another answer.
func (c *Case) Keep(a Answer) (string, []byte, error) {
	archive, err := txtar.ParseFile(c.file)
	if err != nil {
		return "", nil, err
	}
	archive.Files = slices.DeleteFunc(archive.Files, func(f txtar.File) bool { return strings.HasPrefix(f.Name, "want.") })
	if len(a.Rows) > 0 {
		var lines []byte
		for _, row := range a.Rows {
			lines = append(append(lines, row...), '\n')
		}
		archive.Files = append(archive.Files, txtar.File{Name: "want.jsonl", Data: lines})
	}
	if len(a.Problems) > 0 {
		archive.Files = append(archive.Files, txtar.File{Name: "want.problems", Data: []byte(strings.Join(a.Problems, "\n") + "\n")})
	}
	return c.file, txtar.Format(archive), nil
}
