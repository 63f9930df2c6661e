package docs

import (
	"go/doc/comment"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"slices"
	"strings"
	"testing"
)

// The comment of each package shows in a few lines of code how it is called.
func TestPackagesShowHowTheyAreCalled(t *testing.T) {
	shows := map[string]bool{}
	root := os.DirFS("..")
	err := fs.WalkDir(root, ".", func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && name != "." && (d.Name() == "testdata" || d.Name() == "plaincode" || strings.HasPrefix(d.Name(), ".")):
			return fs.SkipDir // plaincode replaces a module and is called by nobody here
		case d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go"):
			return nil
		}
		src, err := fs.ReadFile(root, name)
		if err != nil {
			return err
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, src, parser.PackageClauseOnly|parser.ParseComments)
		if err != nil || f.Name.Name == "main" {
			return err
		}
		var p comment.Parser
		shown := slices.ContainsFunc(p.Parse(f.Doc.Text()).Content, func(b comment.Block) bool {
			_, code := b.(*comment.Code)
			return code
		})
		shows[path.Dir(name)] = shows[path.Dir(name)] || shown
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(shows) < 30 {
		t.Errorf("only %d packages were found", len(shows))
	}
	for folder, shown := range shows {
		if !shown {
			t.Errorf("%s: the package's comment shows no line of code", folder)
		}
	}
}
