package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// TestSiteHasNoDeadLinks follows every link of the documentation's pages.
func TestSiteHasNoDeadLinks(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "site")
	var out, errs bytes.Buffer
	if status := run([]string{"explain", "--site", dir}, strings.NewReader(""), &out, &errs, os.Getenv); status != statusFine {
		t.Fatal(errs.String())
	}
	pages, links := 0, 0
	href := regexp.MustCompile(`href="([^"]+)"`)
	err := filepath.WalkDir(dir, func(file string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		pages++
		src, err := os.ReadFile(file)
		for _, m := range href.FindAllStringSubmatch(string(src), -1) {
			if strings.Contains(m[1], ":") {
				continue
			}
			links++
			to, part, _ := strings.Cut(m[1], "#")
			target := file
			if to != "" {
				target = filepath.Join(filepath.Dir(file), filepath.FromSlash(to))
			}
			if page, err := os.ReadFile(target); err != nil || part != "" && !strings.Contains(string(page), ` id="`+part+`"`) {
				t.Errorf("%s: the link %s leads nowhere", file, m[1])
			}
		}
		return err
	})
	if err != nil || pages < 150 || links < 500 {
		t.Errorf("%d pages, %d links, %v", pages, links, err)
	}
	if status := run([]string{"explain", "--site", dir}, strings.NewReader(""), &out, &errs, os.Getenv); status != statusFine || !strings.Contains(out.String(), "none changed") {
		t.Errorf("again: status %d, %s", status, out.String()+errs.String())
	}
}
