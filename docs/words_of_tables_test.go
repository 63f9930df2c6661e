package docs

import (
	"io/fs"
	"os"
	"regexp"
	"strings"
	"testing"
)

var literalWord = regexp.MustCompile(`\.(Sample|Source|Stage|Role|Decision) (==|!=) "[a-z-]+"`)

// What a sample, a source, a stage, a role or a decision is called stands in the tables of package journal, and no
// code asks for a word of its own. Package lint/cause, which knows no journal, is left out.
func TestWordsAreOfTheTables(t *testing.T) {
	root := os.DirFS("..")
	err := fs.WalkDir(root, ".", func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && (d.Name() == "testdata" || name == "lint/cause" || name == "example-journal" || name != "." && strings.HasPrefix(d.Name(), ".")):
			return fs.SkipDir
		case d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go"):
			return nil
		}
		src, err := fs.ReadFile(root, name)
		for i, line := range strings.Split(string(src), "\n") {
			if found := literalWord.FindString(line); found != "" {
				t.Errorf("%s:%d: %s is written as a string", name, i+1, found)
			}
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}
