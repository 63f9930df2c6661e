package main

import (
	"go/scanner"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// private are words that say something else than they mean to a reader who does not know the project: what is told is reported,
// what rests on something depends on it, what is mended is corrected, what stands in a file is in it.
var private = regexp.MustCompile(`(?i)\b(tells?|told|stands? in\b|stands? twice|mend(s|ed|ing)?|to be had|can be had|the commit to me|nothing waits|surely over|lapse[sd]?|rests? on|throws down|called back|the linter says|till|by and by|whatever|deeds?|goods)\b`)

// allowed are the names and the English in which they are right.
var allowed = regexp.MustCompile(`change/lapsed|cannot tell|Cannot tell|Please tell me who you are|rests_on`)

// plain are the packages whose comments are in plain words; declared is the name of a declaration at the start of its comment.
var (
	plain    = map[string]bool{"cmd/wj": true, "journal": true, "journal/history": true, "journal/source": true, "journal/exchange/dataset": true, "lint/cause": true, "render/terminal": true}
	declared = regexp.MustCompile(`^// (told|tells|lapsed) `)
)

// TestPlainWords keeps private words out of what people read: the texts in the program, the pages of rules and analytes, the
// guides, and the documents for those who work on it.
func TestPlainWords(t *testing.T) {
	t.Parallel()
	check := func(path string, line int, text string) {
		if word := private.FindString(allowed.ReplaceAllString(text, "")); word != "" {
			t.Errorf("%s:%d: %q in %q", path, line, word, text)
		}
	}
	root := filepath.Join("..", "..")
	err := filepath.WalkDir(root, func(path string, e os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel := filepath.ToSlash(strings.TrimPrefix(path, root+string(filepath.Separator)))
		if e.IsDir() {
			if strings.HasPrefix(e.Name(), ".") && e.Name() != ".." || strings.HasPrefix(rel, "testdata") || rel == "example-journal" || rel == "docs/decisions" || e.Name() == "node_modules" {
				return filepath.SkipDir
			}
			return nil
		}
		switch {
		case strings.HasSuffix(path, ".go") && !strings.HasSuffix(path, "_test.go"):
			src, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			files := token.NewFileSet()
			var s scanner.Scanner
			file := files.AddFile(path, -1, len(src))
			s.Init(file, src, nil, scanner.ScanComments)
			for {
				at, tok, text := s.Scan()
				if tok == token.EOF {
					return nil
				}
				if tok == token.STRING || tok == token.COMMENT && plain[filepath.ToSlash(filepath.Dir(rel))] {
					check(rel, file.Line(at), declared.ReplaceAllString(text, ""))
				}
			}
		case strings.HasPrefix(rel, "lint/rules/"), strings.HasSuffix(rel, "/help.txt"), strings.HasPrefix(rel, "water/pages/"), filepath.Dir(rel) == "." && strings.HasSuffix(rel, ".md") && rel != "THIRD_PARTY.md", filepath.Dir(rel) == "docs" && strings.HasSuffix(rel, ".md"):
			src, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			for i, line := range strings.Split(string(src), "\n") {
				check(rel, i+1, line)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
