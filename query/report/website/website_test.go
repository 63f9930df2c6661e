package website

import (
	"html"
	"os"
	"path"
	"regexp"
	"strings"
	"testing"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/lint"
)

var (
	loads    = regexp.MustCompile(`(?:src|href|action)="([^"]*)"`)
	elements = regexp.MustCompile(`<(script|link|img|iframe|object|embed|video|audio|form|base)\b[^>]*>`)
)

func demo(t *testing.T) *journal.Journal {
	j, err := journal.Load(os.DirFS("../../../example-journal"), journal.Options{Check: true, Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	return j
}

var then = time.Date(2026, 9, 25, 9, 0, 0, 0, time.FixedZone("", 3*3600))

// few are cheap rules: the others are tested elsewhere.
var few = lint.Options{Only: []string{"limit/brewing", "limit/probable", "reagent"}, Facts: evidence.Facts{Now: then}}

// TestWalk follows every link of the example's pages: none is dead, nothing is loaded from elsewhere, only the search has a
// script, and every record has a page that something leads to.
func TestWalk(t *testing.T) {
	t.Parallel()
	j := demo(t)
	files, err := Pages(j, Request{Now: then, Wall: true, Lint: few})
	if err != nil {
		t.Fatal(err)
	}
	reached := map[string]bool{homeFile: true}
	for queue := []string{homeFile}; len(queue) > 0; queue = queue[1:] {
		from := queue[0]
		text := files[from]
		for _, m := range loads.FindAllStringSubmatch(text, -1) {
			to := html.UnescapeString(m[1])
			if strings.HasPrefix(to, "https://") || strings.HasPrefix(to, "http://") {
				if !strings.Contains(text, `<a href="`+m[1]) {
					t.Errorf("%s loads %s", from, to)
				}
				continue
			}
			file, part, _ := strings.Cut(to, "#")
			target := from
			if file != "" {
				target = path.Join(path.Dir(from), file)
			}
			page, ok := files[target]
			if !ok || part != "" && !strings.Contains(page, ` id="`+part+`"`) {
				t.Errorf("%s: the link %s leads nowhere", from, to)
			}
			if ok && !reached[target] {
				reached[target] = true
				queue = append(queue, target)
			}
		}
		for _, m := range elements.FindAllString(text, -1) {
			switch {
			case strings.HasPrefix(m, `<link rel="stylesheet"`), strings.HasPrefix(m, "<form class"):
			case m == "<script>" && from == findFile:
			default:
				t.Errorf("%s has %s", from, m)
			}
		}
	}
	for _, f := range j.Files {
		if !reached[fileOf(f)] {
			t.Errorf("nothing leads to %s", fileOf(f))
		}
	}
	for name := range files {
		if !reached[name] && name != wallFile {
			t.Errorf("nothing leads to %s", name)
		}
	}
	for file, want := range map[string][]string{
		homeFile:                                 {"1 result is inconclusive", `<a href="sites/north-well.html">North well</a>`, "2026-09-24-dark-mild-well", `action="find.html"`},
		"sites/north-well.html":                  {`<h2 id="sulfate">Sulfate, mg/L</h2>`, `<a href="#sulfate">sulfate</a>`, "67 results as a table", `<a href="../lots/SU-2604.html">`, "pump lifted", "recalled since: <a", "≤ 300"},
		"changes/2026-09-24-dark-mild-well.html": {"proposed", "Refers to", "2026-09-15-north-well"},
		"lots/SU-2507.html":                      {"Referred to by", `<a href="../sessions/2025-09-16-north-well.html">`},
		"people/jonas.html":                      {"Jonas Welk", "Signed", "2026-07-01"},
		"sessions/2026-09-15-north-well.html":    {`<a href="../lots/SU-2604.html">SU-2604</a>`, `<a href="../people/ines.html">Ines Kaldre</a>`},
		wallFile:                                 {`http-equiv="refresh"`, "North well"},
		findFile:                                 {"SU-2507"},
	} {
		for _, text := range want {
			if !strings.Contains(files[file], text) {
				t.Errorf("%s lacks %s", file, text)
			}
		}
	}
	for name, text := range files {
		for _, secret := range []string{"@", "ssh-ed25519", "AAAA"} {
			if strings.HasSuffix(name, ".html") && strings.Contains(text, secret) {
				t.Errorf("%s has %s: %.80q", name, secret, text[strings.Index(text, secret)-40:])
			}
		}
	}
}

// TestOneOwner looks for other owners' water in every file of one owner's pages.
func TestOneOwner(t *testing.T) {
	t.Parallel()
	j := demo(t)
	part, extract, err := OneOwner(j, "tarrow-lane")
	if err != nil {
		t.Fatal(err)
	}
	files, err := Pages(part, Request{Now: then, Extract: extract, Wall: true, Lint: few})
	if err != nil {
		t.Fatal(err)
	}
	if len(files) < 40 || !strings.Contains(files["sites/tarrow-bore.html"], "Nitrate, mg/L") {
		t.Errorf("%d pages", len(files))
	}
	var foreign []string
	for _, s := range j.Sites.List {
		if s.Owner != "tarrow-lane" && s.ID != "bench" {
			foreign = append(foreign, s.ID, s.Name)
		}
	}
	for _, b := range j.Batches.List {
		foreign = append(foreign, ">"+b.ID+"<", b.Beer)
	}
	for _, c := range j.Changes.List {
		foreign = append(foreign, c.ID)
	}
	for name, text := range files {
		for _, word := range foreign {
			if strings.Contains(strings.ToLower(name+text), strings.ToLower(word)) && word != "" {
				t.Errorf("%s names %s", name, word)
			}
		}
	}
	if _, _, err := OneOwner(j, "nobody"); err == nil {
		t.Error("an owner who is not there is no error")
	}
}

// TestHide is what others are recognised by, and what is left.
func TestHide(t *testing.T) {
	_, x, err := OneOwner(demo(t), "quillmarsh")
	if err != nil {
		t.Fatal(err)
	}
	m := &maker{Request: Request{Extract: x}, j: &journal.Journal{}}
	for text, shown := range map[string]bool{"on Tuesdays for Tarrow Lane": false, "2026-06-05-tarrow-bore": false, "tove signs": false, "read on the bench, source bench": true,
		"Quillmarsh Brewery": true, "lot SU-2507": true, "Tarrow's water": false, "the town main": true} {
		if got := m.text(text) == text; got != shown {
			t.Errorf("%q: shown is %v", text, got)
		}
	}
	if got := (&maker{}).text("mail a.b@c.example, key ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIN1"); got != "mail (address not shown), key (key not shown)" {
		t.Error(got)
	}
}
