package query

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"wj/journal"
)

// clock is what now is in the tests.
var clock = time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)

// bench is a small invented journal. Each session is named by its id and given as the lines below "readings:",
// after an optional head that ends in "|".
func bench(t testing.TB, sessions map[string]string) *journal.Journal {
	t.Helper()
	m := fstest.MapFS{}
	put := func(name, text string) { m[name] = &fstest.MapFile{Data: []byte(text)} }
	put("wj.yaml", "format: 1\nname: Quillmarsh Brewery\ntimezone: Europe/Vilnius\n")
	put("owners/quillmarsh.md", "---\nname: Quillmarsh Brewery\nself: true\n---\n")
	put("owners/tarrow-lane.md", "---\nname: Tarrow Lane\n---\n")
	put("people/ines.md", "---\nname: Ines Kaldre\n---\n")
	put("sites/north-well.md", "---\nname: North well\nowner: quillmarsh\nstage: intake\nsupply:\n  - {regime: summer, since: 2026-05-01, until: 2026-09-30}\n---\n")
	put("sites/town-tap.md", "---\nname: Town tap\nowner: tarrow-lane\nstage: intake\n---\n")
	put("lots/SU-1.md", "---\nanalyte: sulfate\nexpires: 2026-03\n---\n")
	put("lots/SU-2.md", "---\nanalyte: sulfate\nexpires: 2027-11\nrecalled: {on: 2026-05-02, reason: \"reads low\"}\n---\n")
	put("instruments/meter-2.md", "---\nname: Photometer\nmeasures:\n  sulfate: {units: mg/L, range: [2 mg/L, 500 mg/L], resolution: 1 mg/L, accuracy: 0 mg/L + 10 %}\n---\n")
	for id, text := range sessions {
		head, readings, ok := strings.Cut(text, "|")
		if !ok {
			head, readings = "", text
		}
		site := strings.TrimPrefix(id[10:], "-")
		site, _, _ = strings.Cut(site, "--")
		body := ""
		if i := strings.Index(readings, "---"); i >= 0 {
			readings, body = readings[:i], readings[i+3:]
		}
		if !strings.Contains(head, "sampled:") {
			head += "\nsampled: " + id[:10] + "T08:15+02:00"
		}
		put("sessions/"+id+".md", fmt.Sprintf("---\nsite: %s\nby: ines\ninstrument: meter-2\n%s\nreadings:\n%s\n---\n%s\n",
			site, strings.TrimSpace(head), strings.TrimRight(readings, "\n "), body))
	}
	j, err := journal.Load(m, journal.Options{Check: true})
	if err != nil {
		t.Fatal(err)
	}
	return j
}

// one is a journal with one session whose readings are the lines given.
func one(t testing.TB, readings ...string) *journal.Journal {
	t.Helper()
	text := ""
	for _, r := range readings {
		text += "  " + r + "\n"
	}
	if text == "" {
		text = "  pH: 7.0\n"
	}
	return bench(t, map[string]string{"2026-03-04-north-well": text})
}

func mustRun(t testing.TB, j *journal.Journal, q Request) *Result {
	t.Helper()
	if q.Now.IsZero() {
		q.Now = clock
	}
	r, err := Run(j, q)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func mustCompile(t testing.TB, source string) *Expression {
	t.Helper()
	x, err := Compile(source)
	if err != nil {
		t.Fatalf("%s: %v", source, err)
	}
	return x
}

// answer is the verdict on the only session of a journal, in a word.
func answer(t testing.TB, j *journal.Journal, source string) string {
	t.Helper()
	r := mustRun(t, j, Request{Where: mustCompile(t, source)})
	switch {
	case r.Matched == 1:
		return "yes"
	case r.NoReading == 1:
		return "absent"
	case r.Censored == 1:
		return "censored"
	case r.Unreadable == 1:
		return "faulty"
	}
	return "no"
}

func ids(r *Result) string {
	var list []string
	for _, row := range r.Rows {
		list = append(list, row.Session.ID)
	}
	return strings.Join(list, " ")
}

func find(t testing.TB, j *journal.Journal, source string) string {
	t.Helper()
	list := strings.Fields(ids(mustRun(t, j, Request{Where: mustCompile(t, source)})))
	slices.Sort(list)
	return strings.Join(list, " ")
}
