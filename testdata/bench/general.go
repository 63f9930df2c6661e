package main

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"

	"go.yaml.in/yaml/v3"
)

var leading = regexp.MustCompile(`^[0-9.]+`)

// general answers "sulfate over a bound" as a general reader of front matter does: every file whole, the YAML into maps,
// then the field that was asked for. It stands for tools that know nothing of the records; it does know how sulfate and its
// dilution are written, which such a tool would have to be told.
func general(dir string, bound float64) (string, error) {
	matched, looked := 0, 0
	err := filepath.WalkDir(filepath.Join(dir, "sessions"), func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		src, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		front, _, ok := bytes.Cut(bytes.TrimPrefix(src, []byte("---\n")), []byte("\n---\n"))
		if !ok {
			return nil
		}
		var record map[string]any
		if err := yaml.Unmarshal(front, &record); err != nil {
			return err
		}
		looked++
		readings, _ := record["readings"].(map[string]any)
		sulfate, _ := readings["sulfate"].(map[string]any)
		text, _ := sulfate["value"].(string)
		value, err := strconv.ParseFloat(leading.FindString(text), 64)
		if err != nil {
			return nil
		}
		if dilution, ok := sulfate["dilution"].(int); ok {
			value *= float64(dilution)
		}
		if value > bound {
			matched++
		}
		return nil
	})
	return fmt.Sprintf("%d of %d sessions", matched, looked), err
}
