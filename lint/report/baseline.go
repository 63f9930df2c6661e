package report

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"

	"wj/lint"
)

// Baseline is a list of findings that are known and not reported again. It is a
// file beside the journal, kept in Git, in which each known finding can be seen
// going away.
type Baseline struct {
	Format   int     `json:"format"`
	Findings []known `json:"findings"`
}

// known are the known findings of one rule in one file.
type known struct {
	Path         string   `json:"path"`
	Rule         string   `json:"rule"`
	Count        int      `json:"count"`
	Fingerprints []string `json:"fingerprints"`
}

// baselineFormat is the version of the file's form.
const baselineFormat = 1

// NewBaseline makes a baseline of findings.
func NewBaseline(ds []lint.Diagnostic) Baseline {
	b := Baseline{Format: baselineFormat, Findings: []known{}}
	prints := Fingerprints(ds)
	at := map[[2]string]int{}
	for i := range ds {
		key := [2]string{ds[i].Path, ds[i].Rule}
		k, ok := at[key]
		if !ok {
			k = len(b.Findings)
			at[key] = k
			b.Findings = append(b.Findings, known{Path: key[0], Rule: key[1]})
		}
		b.Findings[k].Count++
		b.Findings[k].Fingerprints = append(b.Findings[k].Fingerprints, prints[i])
	}
	slices.SortFunc(b.Findings, func(x, y known) int { return cmp.Or(cmp.Compare(x.Path, y.Path), cmp.Compare(x.Rule, y.Rule)) })
	return b
}

// OpenBaseline reads the file of a baseline; nil where there is none, which knows nothing.
func OpenBaseline(fsys fs.FS, name string) (*Baseline, error) {
	src, err := fs.ReadFile(fsys, name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("read the baseline: %w", err)
	}
	b, err := ReadBaseline(src)
	return &b, err
}

// ReadBaseline reads a baseline file.
func ReadBaseline(src []byte) (Baseline, error) {
	var b Baseline
	d := json.NewDecoder(bytes.NewReader(src))
	d.DisallowUnknownFields()
	if err := d.Decode(&b); err != nil {
		return b, fmt.Errorf("read the baseline: %w", err)
	}
	if b.Format != baselineFormat {
		return b, fmt.Errorf("read the baseline: it has format %d, and this program reads format %d", b.Format, baselineFormat)
	}
	for _, k := range b.Findings {
		if k.Count != len(k.Fingerprints) {
			return b, fmt.Errorf("read the baseline: %s %s counts %d findings and lists %d", k.Path, k.Rule, k.Count, len(k.Fingerprints))
		}
	}
	return b, nil
}

// Write writes the baseline file, sorted, so that it merges line by line.
func (b Baseline) Write(w io.Writer) error { return encode(w, b) }

// Filter returns the result without the findings that the baseline knows, and
// how many known ones are gone: the baseline can then be written anew, shorter.
func (b Baseline) Filter(result lint.Result) (rest lint.Result, gone int) {
	left := map[string]bool{}
	for _, k := range b.Findings {
		for _, p := range k.Fingerprints {
			left[p] = true
		}
	}
	prints := Fingerprints(result.Diagnostics)
	rest = result
	rest.Diagnostics = nil
	for i, d := range result.Diagnostics {
		if left[prints[i]] {
			delete(left, prints[i])
			continue
		}
		rest.Diagnostics = append(rest.Diagnostics, d)
	}
	return rest, len(left)
}

// Fresh keeps the findings that an older result does not have, and all of some
// files, and counts the others. An old finding in those files bars no writing: it
// does not keep a record from being corrected.
func Fresh(result, old lint.Result, files []string) (rest lint.Result, older int) {
	fresh, _ := NewBaseline(old.Diagnostics).Filter(result)
	left := fresh.Diagnostics
	rest = result
	rest.Diagnostics = nil
	for _, d := range result.Diagnostics {
		isFresh := len(left) > 0 && d.Path == left[0].Path && d.Rule == left[0].Rule && d.Start == left[0].Start && d.Message == left[0].Message
		if isFresh {
			left = left[1:]
		}
		if isFresh || slices.Contains(files, d.Path) {
			d.Bars = d.Bars && isFresh
			rest.Diagnostics = append(rest.Diagnostics, d)
		} else {
			older++
		}
	}
	return rest, older
}
