package evidence

import (
	"archive/zip"
	"bytes"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// RFC 8493: the declaration is exact, manifests name every file once, and the
// payload's oxum is octets.files. sha256sum is the judge where there is one.
func TestBag(t *testing.T) {
	payload := []BagFile{{"wj.yaml", []byte("format: 1\n")}, {"sessions/2026/a b.md", []byte("---\r\n---\r\n")}}
	bag, err := Bag(payload, []BagFile{{"verification.txt", []byte("fine\n")}}, []Info{{"Source-Organization", "Quillmarsh\nBrewery: \x1b[31m"}})
	if err != nil {
		t.Fatal(err)
	}
	byName := map[string]string{}
	for _, f := range bag {
		byName[f.Name] = string(f.Content)
	}
	if byName["bagit.txt"] != "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n" {
		t.Errorf("%q", byName["bagit.txt"])
	}
	if byName["bag-info.txt"] != "Source-Organization: Quillmarsh Brewery: [31m\nPayload-Oxum: 20.2\n" {
		t.Errorf("%q", byName["bag-info.txt"])
	}
	if strings.Count(byName["manifest-sha256.txt"], "\n") != 2 || strings.Count(byName["tagmanifest-sha256.txt"], "\n") != 4 {
		t.Errorf("%q %q", byName["manifest-sha256.txt"], byName["tagmanifest-sha256.txt"])
	}
	var first, second bytes.Buffer
	when := time.Date(2026, 6, 12, 9, 40, 1, 0, time.FixedZone("", 3*3600))
	if err := Zip(&first, "audit", bag, when); err != nil {
		t.Fatal(err)
	}
	if err := Zip(&second, "audit", bag, when); err != nil || !bytes.Equal(first.Bytes(), second.Bytes()) {
		t.Error("two archives of one bag differ")
	}
	dir := t.TempDir()
	r, err := zip.NewReader(bytes.NewReader(first.Bytes()), int64(first.Len()))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range r.File {
		in, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		content, err := io.ReadAll(in)
		name := filepath.Join(dir, filepath.FromSlash(f.Name))
		if err := os.MkdirAll(filepath.Dir(name), 0o777); err != nil {
			t.Fatal(err)
		}
		if err != nil || os.WriteFile(name, content, 0o666) != nil {
			t.Fatal(err)
		}
	}
	if _, err := exec.LookPath("sha256sum"); err != nil {
		t.Skip("no sha256sum program")
	}
	for _, manifest := range []string{"manifest-sha256.txt", "tagmanifest-sha256.txt"} {
		cmd := exec.Command("sha256sum", "-c", "--strict", manifest)
		cmd.Dir = filepath.Join(dir, "audit")
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Errorf("%s: %v\n%s", manifest, err, out)
		}
	}
}

// Names that would lead out of the folder or that some system cannot unpack.
func TestBagRefusesHostileNames(t *testing.T) {
	for _, name := range []string{"", ".", "..", "../x", "/etc/passwd", "a/../../x", "a\\..\\x", "C:x", "a//b", "a/./b", "con", "a/NUL.md", "a/com1.txt", "x\n.md", "a\x00b", "\u202egnp.md", "x.", "x ", ".git/config", "a/.GIT/hooks", "a%0Ab", "\xff.md"} {
		if _, err := Bag([]BagFile{{name, nil}}, nil, nil); err == nil {
			t.Errorf("%q was accepted", name)
		}
	}
	if _, err := Bag([]BagFile{{"a.md", nil}, {"A.md", nil}}, nil, nil); err == nil {
		t.Error("two names that fold to one were accepted")
	}
	if err := Zip(io.Discard, "../x", nil, time.Time{}); err == nil {
		t.Error("a folder that leads out was accepted")
	}
}
