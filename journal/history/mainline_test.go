package history

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"testing"
)

func TestMainline(t *testing.T) {
	r := newRepository(t)
	r.write("sites/well.md", "a\n")
	first := r.commit("Begin")
	r.git("checkout", "-q", "-b", "side")
	r.write("sites/side.md", "side\n")
	side := r.commit("Side")
	r.git("checkout", "-q", "main")
	r.write("sites/well.md", "b\n")
	second := r.commit("Main")
	r.hour++
	r.git("merge", "-q", "--no-ff", "-m", "Merge", "side")
	merge := r.git("rev-parse", "HEAD")
	r.git("tag", "v1", second)
	r.git("tag", "side", first) // as a branch is named
	r.git("tag", "-a", "-m", "seen", "seen", first)

	h, err := Open(r.dir)
	if err != nil {
		t.Fatal(err)
	}
	defer h.Close()
	head, err := h.FullReference("refs/heads/main")
	if err != nil || head.Commit.String() != merge {
		t.Fatalf("refs/heads/main is %v, %v; want %s", head, err, merge)
	}
	if _, err := h.FullReference("main"); !errors.Is(err, ErrRevision) {
		t.Errorf("a short name passed as a full one: %v", err)
	}
	var line []string
	links, err := h.Mainline(context.Background(), head.Commit)
	for _, l := range links {
		if want := r.git("show", "-s", "--format=%P %ct", l.Hash.String()); strings.TrimSpace(fmt.Sprintln(strings.Trim(fmt.Sprint(l.Parents), "[]"), l.When.Unix())) != strings.TrimSpace(want) || l.Boundary {
			t.Errorf("%+v, want %s", l, want)
		}
		line = append(line, l.Hash.String())
	}
	if want := []string{merge, second, first}; err != nil || !slices.Equal(line, want) {
		t.Errorf("mainline %v, %v; want %v", line, err, want)
	}
	all, err := h.References()
	if err != nil {
		t.Fatal(err)
	}
	got := ""
	for _, ref := range all {
		got += fmt.Sprintf("%s %s %s\n", ref.Name, ref.Object, ref.Commit)
	}
	want := fmt.Sprintf("refs/heads/main %[1]s %[1]s\nrefs/heads/side %[2]s %[2]s\nrefs/tags/seen %[3]s %[4]s\nrefs/tags/side %[4]s %[4]s\nrefs/tags/v1 %[5]s %[5]s\n",
		merge, side, r.git("rev-parse", "refs/tags/seen"), first, second)
	if got != want {
		t.Errorf("references:\n%swant:\n%s", got, want)
	}
	if found, err := h.Candidates("side"); err != nil || len(found) != 2 || found[0].Name != "refs/tags/side" {
		t.Errorf("candidates of side: %v, %v", found, err)
	}
	list, err := h.List(head.Commit, "sites")
	if err != nil || len(list) != 2 || list[0].Path != "sites/side.md" || list[1].Blob.String() != r.git("rev-parse", "HEAD:sites/well.md") {
		t.Errorf("list: %v, %v", list, err)
	}
	if list, err := h.List(head.Commit, "nothing"); err != nil || len(list) != 0 {
		t.Errorf("list of a folder that is not there: %v, %v", list, err)
	}
	if b, err := h.BlobAt(head.Commit, "sites/well.md"); err != nil || string(b) != "b\n" {
		t.Errorf("blob: %q, %v", b, err)
	}
	if _, err := h.BlobAt(head.Commit, "sites/none.md"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("blob that is not there: %v", err)
	}
	changes, err := h.ParentChanges(head.Commit)
	if err != nil || len(changes) != 2 || len(changes[0]) != 1 || changes[0][0].Path != "sites/side.md" || len(changes[1]) != 1 || changes[1][0].Path != "sites/well.md" {
		t.Errorf("changes against each parent: %v, %v", changes, err)
	}
}
