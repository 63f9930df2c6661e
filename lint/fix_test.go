package lint

import (
	"fmt"
	"math/rand/v2"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"wj/journal"
)

// mutated is a session with slips that have one safe fix, comments of every sort
// behind and between its lines, and the values that it must keep.
func mutated(r *rand.Rand) (text string, comments, values []string) {
	remarks := []string{"ran over", "a, b", "see {7,42}", `"quoted"`, "it's > 200", "[x]: y", "été, ± 5", "#", "a # b", "key: value"}
	comment := func() string {
		if r.IntN(3) == 0 {
			return ""
		}
		c := fmt.Sprintf("# c%d %s", len(comments), remarks[r.IntN(len(remarks))])
		comments = append(comments, c)
		return strings.Repeat(" ", 1+r.IntN(3)) + c
	}
	number := func() string {
		n := fmt.Sprintf("%d", 100+r.IntN(99))
		values = append(values, n)
		return n
	}
	lines := []string{"---" + "", "site: north-well" + comment(), "sampled: 2026-03-04T08:15+02:00" + comment(), "tested: 2026-03-04T08:25+02:00", "by: ines" + comment(), "instrument: meter-2", "readings:" + comment()}
	for _, id := range []string{"sulfate", "alkalinity", "chloride", "pH", "total_hardness"} {
		unit := " mg/L"
		if id == "alkalinity" || id == "total_hardness" {
			unit = " mg/L CaCO3"
		}
		value := number() + unit
		switch r.IntN(6) {
		case 0:
			value = ">" + value
		case 1:
			value = number() + ",5" + unit
		case 2:
			value = `"` + value + `"`
		case 3:
			value = "<" + value
		}
		if id == "pH" {
			value = []string{"7.4", "7,4", `"7.4"`, "7,42"}[r.IntN(4)]
		}
		switch r.IntN(4) {
		case 0:
			value = "{value: " + value + ", lot: SU-2601}"
		case 1:
			value = "{value: " + value + `, note: "a, b # c"}`
			values = append(values, "a, b # c")
		case 2:
			value = "{ note: x, value: " + value + " }"
		}
		lines = append(lines, "  "+id+": "+value+comment())
		if r.IntN(4) == 0 {
			if c := comment(); c != "" {
				lines = append(lines, " "+c)
			}
		}
	}
	switch r.IntN(5) {
	case 0:
		lines = append(lines, "note: |"+comment(), "  a, b # no comment", "  > 200 mg/L, 7,4", "", "  x: y") // a block keeps its text
		values = append(values, "a, b # no comment", "> 200 mg/L, 7,4")
	case 1:
		lines = append(lines, "note: >-", "  a, b # no comment", "  7,4")
		values = append(values, "a, b # no comment")
	case 2:
		lines[5] += "\t# tab"
		comments = append(comments, "# tab")
	}
	end := "\n"
	if r.IntN(4) == 0 {
		end = "\r\n"
	}
	text = strings.Join(append(lines, "---", "", "It rained, > 200 mm. # not a comment"), end) + end
	if r.IntN(6) == 0 {
		text = "\ufeff" + text
	}
	return text, comments, values
}

var frontMatterRule = regexp.MustCompile(`^format/(front-matter|decimal-comma)$`)

// TestFixKeepsEverything: whatever is fixed, comments and values stay, the file can
// be read, and fixing it again changes nothing. WJ_CASES looks at more files.
func TestFixKeepsEverything(t *testing.T) {
	n := 150
	if v, err := strconv.Atoi(os.Getenv("WJ_CASES")); err == nil {
		n = v
	}
	j, err := journal.Load(mapFS(baseFiles(t)), journal.Options{Check: true, Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	lint := func(src []byte) []Diagnostic {
		return Run(j.With(map[string][]byte{sessionPath: src}), Options{Paths: []string{sessionPath}, Now: at(t, "2026-03-31")}).Diagnostics
	}
	for seed := range n {
		text, comments, values := mutated(rand.New(rand.NewPCG(uint64(seed), 3)))
		out := []byte(text)
		for range 40 {
			next, made, err := Apply(sessionPath, out, lint(out), false)
			if err != nil {
				t.Fatal(err)
			}
			if out = next; made == 0 {
				break
			}
		}
		got := string(out)
		for _, c := range comments {
			if !regexp.MustCompile(`(?m)(^|[ \t])` + regexp.QuoteMeta(c) + `\r?$`).MatchString(got) {
				t.Fatalf("seed %d: the comment %q is lost in\n%s\nof\n%s", seed, c, got, text)
			}
		}
		for _, v := range values {
			if strings.Count(got, v) < strings.Count(text, v) {
				t.Fatalf("seed %d: %s is lost in\n%s\nof\n%s", seed, v, got, text)
			}
		}
		if !strings.Contains(got, "It rained, > 200 mm. # not a comment") {
			t.Fatalf("seed %d: the body is changed:\n%s", seed, got)
		}
		for _, d := range lint(out) {
			if frontMatterRule.MatchString(d.Rule) {
				t.Fatalf("seed %d: %d: %s: %s in\n%s\nof\n%s", seed, d.Line, d.Rule, d.Message, got, text)
			}
		}
		if _, made, _ := Apply(sessionPath, out, lint(out), false); made > 0 {
			t.Fatalf("seed %d: fixing again changes it:\n%s", seed, got)
		}
	}
}

// TestWrongZone: a timezone that was mistyped is one finding with a count.
func TestWrongZone(t *testing.T) {
	p := newPlant(t, 7)
	p.season(at(t, "2025-01-06"), 10, "north-well")
	p.files["wj.yaml"] = strings.Replace(p.files["wj.yaml"], "Europe/Vilnius", "Europe/Warsaw", 1)
	ds := lintFS(t, mapFS(p.files), Options{Now: at(t, "2025-04-01"), Only: []string{"format/dst-time"}})
	if len(ds) != 1 || ds[0].Path != "wj.yaml" || !strings.Contains(ds[0].Message, "20 records") {
		t.Errorf("%v", told(ds))
	}
}

// TestMissingRecord: a record that was removed or renamed is one finding with a count, and
// what follows from its absence is none.
func TestMissingRecord(t *testing.T) {
	p := newPlant(t, 7)
	p.season(at(t, "2025-01-06"), 10, "north-well", "town-main")
	lot := ""
	for name := range p.files {
		if strings.HasPrefix(name, "lots/SU-") && (lot == "" || name < lot) {
			lot = name
		}
	}
	for name, to := range map[string]string{"sites/north-well.md": "sites/northwell.md", lot: "", "people/ines.md": ""} {
		q := p.copy(1)
		text := q.files[name]
		delete(q.files, name)
		if to != "" {
			q.files[to] = text
		}
		ds := lintFS(t, mapFS(q.files), Options{Now: at(t, "2025-04-01"), Skip: []string{"site/overdue", "reagent/expires-soon", "instrument/check-due"}})
		if len(ds) != 1 || ds[0].Rule != "ref/missing" || !strings.Contains(ds[0].Message, " records name it") || len(ds[0].Related) != 1 {
			t.Errorf("without %s: %s", name, told(ds))
		}
	}
}
