package lint

import (
	"bytes"
	"cmp"
	"io/fs"
	"slices"
	"strings"
	"unicode/utf8"

	"wj/journal"
	"wj/journal/frontmatter"
)

// place finds line and column of every finding that is shown. Files are read
// anew for it, each once: a journal without findings costs nothing.
func (r *run) place() {
	told := make([]*Finding, 0, len(r.found))
	for _, f := range r.found {
		if f.d.Severity != Off && r.wanted(f.d.Path) {
			told = append(append(told, f), f.see...)
		}
	}
	slices.SortStableFunc(told, func(a, b *Finding) int { return cmp.Compare(a.d.Path, b.d.Path) })
	var starts []int
	for i := range told {
		if i == 0 || told[i].d.Path != told[i-1].d.Path {
			starts = append(starts, i)
		}
	}
	r.share(len(starts), 16, func(_ *Pass, k int) {
		end := len(told)
		if k+1 < len(starts) {
			end = starts[k+1]
		}
		r.placeFile(told[starts[k]:end])
	})
}

// placeFile places the findings of one file.
func (r *run) placeFile(list []*Finding) {
	src, err := fs.ReadFile(r.j.FS, list[0].d.Path)
	if err != nil || len(src) > frontmatter.MaxFile {
		for _, f := range list {
			f.d.Line, f.d.Column, f.d.EndColumn = max(f.d.Line, 1), max(f.d.Column, 1), max(f.d.Column, 1)
		}
		return
	}
	var d frontmatter.Document
	if list[0].d.Path == journal.SettingsFile {
		d.ParseYAML(src)
	} else {
		d.Parse(src)
	}
	for _, f := range list {
		f.place(&d)
	}
}

// place finds the field that the finding's keys lead to, or the nearest one
// above it that is there.
func (f *Finding) place(d *frontmatter.Document) {
	node := int32(0)
	if !f.at {
		f.d.Start, f.d.End = d.Front, d.Front
		for n := len(f.keys); n > 0; n-- {
			i, ok := d.FindPath(f.keys[:n]...)
			if !ok {
				continue
			}
			at := d.Nodes[i]
			node, f.d.Start, f.d.End = i, int(at.Start), int(at.End)
			if f.inside != nil && n == len(f.keys) && at.Kind == frontmatter.Scalar {
				f.d.Start = placeIn(d, i, f.inside)
				break
			}
			if at.KeyStart >= 0 && (at.Kind != frontmatter.Scalar || at.Start == at.End) {
				f.d.Start, f.d.End = int(at.KeyStart), int(at.KeyEnd)
			}
			break
		}
		f.d.Line, f.d.Column = d.Position(f.d.Start)
	}
	f.d.Source = lineOf(d.Source, f.d.Start)
	f.d.EndColumn = f.d.Column
	if end := min(max(f.d.End, f.d.Start), len(d.Source)); f.d.Start <= end {
		text := d.Source[f.d.Start:end]
		if i := bytes.IndexByte(text, '\n'); i >= 0 {
			text = bytes.TrimRight(text[:i], "\r")
		}
		f.d.EndColumn += utf8.RuneCount(text)
	}
	if f.mend != nil {
		if fix, ok := f.mend(d, node); ok {
			f.d.Fixes = append(f.d.Fixes, fix)
		}
	}
}

// lineOf is the line of the text that holds the byte.
func lineOf(src []byte, at int) string {
	at = max(0, min(at, len(src)))
	start := bytes.LastIndexByte(src[:at], '\n') + 1
	end := len(src)
	if i := bytes.IndexByte(src[at:], '\n'); i >= 0 {
		end = at + i
	}
	line := strings.TrimRight(string(src[start:end]), "\r")
	return strings.TrimPrefix(line, "\xef\xbb\xbf")
}

// position is the line and the column, in characters, of a byte.
func position(src []byte, at int) (line, column int) {
	d := frontmatter.Document{Source: src}
	return d.Position(at)
}
