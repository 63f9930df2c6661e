package workspace_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"wj/journal/workspace"
)

func write(t *testing.T, file, content string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, []byte(content), 0o666); err != nil {
		t.Fatal(err)
	}
}

func TestOf(t *testing.T) {
	top := t.TempDir()
	at := func(names ...string) string { return filepath.Join(append([]string{top}, names...)...) }
	for _, dir := range []string{"a", "north/a", "b"} {
		write(t, at(dir, "wj.yaml"), "format: 1\n")
	}
	write(t, at(workspace.File), "# clients\njournals:\n  first: a\n  second: north/a\n")
	names := func(dirs ...string) string {
		t.Helper()
		list, err := workspace.Of(dirs)
		if err != nil {
			t.Fatal(err)
		}
		var out []string
		for _, m := range list {
			if !filepath.IsAbs(m.Dir) {
				t.Errorf("%s is relative", m.Dir)
			}
			out = append(out, m.Name)
		}
		return strings.Join(out, " ")
	}
	for _, c := range []struct {
		dirs []string
		want string
	}{
		{[]string{at("a"), at("b")}, "a b"},
		{[]string{at("a"), at("a"), at("b")}, "a b"},
		{[]string{at("a"), at("north", "a")}, filepath.Base(top) + "/a north/a"},
		{[]string{top}, "first second"},
		{[]string{at("north")}, "first second"}, // the workspace above it
		{[]string{at("b"), at(workspace.File)}, "b first second"},
	} {
		if got := names(c.dirs...); got != c.want {
			t.Errorf("%v: %q, want %q", c.dirs, got, c.want)
		}
	}
	if _, ok := workspace.Find(at("a")); ok {
		t.Error("a journal in a workspace is asked by itself")
	}
}

func TestReadSaysWhatIsWrong(t *testing.T) {
	file := filepath.Join(t.TempDir(), workspace.File)
	for content, want := range map[string]string{
		"":                           "it names no journals",
		"journals:\n":                "it names no journals",
		"journals: {}\n":             "it names no journals",
		"journals: [a, b]\n":         "it names no journals",
		"journal:\n  a: b\n":         ":1:1: \"journal\" is no key",
		"journals:\n  a: b\n  c:\n":  ":3:5: c names no folder",
		"journals:\n  a: [b]\n":      ":2:6: a names no folder",
		"journals:\n  a: b\n a: c\n": ":3:",
	} {
		write(t, file, content)
		if _, err := workspace.Read(file); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", content, err, want)
		}
	}
	if _, err := workspace.Read(filepath.Join(t.TempDir(), workspace.File)); err == nil {
		t.Error("a workspace that is not there was read")
	}
}
