// Package journaltest makes small journals for tests: one of known content, and
// any number of generated ones.
//
//	files := journaltest.Blend()
//	id := journaltest.Sign(t, files, journaltest.BlendChange, "jonas", "2026-06-12T09:40+03:00", "accepted")
//	journaltest.Replace("sessions/2026-06-09-well.md", "278", "279")(files)
//	j := journaltest.Load(t, files)
package journaltest

import (
	"fmt"
	"strings"
	"testing"
	"testing/fstest"

	"wj/journal"
	"wj/journal/evidence"
)

// BlendChange is the change of the Blend.
const BlendChange = "2026-06-11-bitter"

// Blend is a small journal as the contents of its files by path: a blend of a
// well and permeate with gypsum, nothing signed.
func Blend() map[string]string {
	return map[string]string{
		"wj.yaml":                     "format: 1\nname: Quillmarsh Brewery\ntimezone: Europe/Vilnius\n",
		"owners/quillmarsh.md":        "---\nname: Quillmarsh Brewery\nself: true\n---\n",
		"people/ines.md":              "---\nname: Ines Kaldre\nemail: ines@quillmarsh.example\n---\n",
		"people/jonas.md":             "---\nname: Jonas Welk\nemail: jonas@quillmarsh.example\nroles:\n  - {role: reviewer, since: 2023-01-01}\n---\n",
		"people/emil.md":              "---\nname: Emil Sorrel\nemail: emil@quillmarsh.example\nroles:\n  - {role: reviewer, since: 2023-01-01, until: 2024-08-30}\nuntil: 2024-08-30\n---\n",
		"sites/well.md":               "---\nname: Well\nowner: quillmarsh\nstage: intake\nschedule:\n  - {every: 30 d, analytes: [sulfate, calcium]}\n---\n",
		"sites/ro.md":                 "---\nname: RO\nowner: quillmarsh\nstage: ro-permeate\n---\n",
		"sites/tank.md":               "---\nname: Tank\nowner: quillmarsh\nstage: hot-liquor\n---\n",
		"lots/SU-1.md":                "---\nanalyte: sulfate\nexpires: 2026-12\ntests: 50\n---\n",
		"lots/GY-1.md":                "---\nsubstance: gypsum\n---\n",
		"instruments/meter-1.md":      "---\nname: Meter\nmeasures:\n  sulfate: {accuracy: 5 mg/L + 8 %}\n---\n",
		"targets/bitter.md":           "---\nname: Bitter\nranges:\n  sulfate: {min: 180 mg/L, max: 240 mg/L}\n---\n",
		"sessions/2026-06-09-well.md": "---\nsite: well\nsampled: 2026-06-09T08:00+03:00\nby: ines\ninstrument: meter-1\nreadings:\n  sulfate: {value: 278 mg/L, lot: SU-1}\n  calcium: 160 mg/L\n---\n",
		"sessions/2026-06-05-ro.md":   "---\nsite: ro\nsampled: 2026-06-05T08:00+03:00\nby: ines\nreadings:\n  sulfate: <2 mg/L\n  calcium: 1 mg/L\n---\n",
		"changes/2026-06-11-bitter.md": "---\nfor: bitter\nauthor: ines\nproposed: 2026-06-11\nbasis:\n  - {session: 2026-06-09-well, share: 40 %}\n  - {session: 2026-06-05-ro, share: 60 %}\n" +
			"volume: 1500 L\nadd:\n  gypsum: {amount: 210 g, lot: GY-1}\nexpect:\n  sulfate: 190 ± 14 mg/L\n---\n",
	}
}

// FS is the files as a file system.
func FS(files map[string]string) fstest.MapFS {
	fsys := fstest.MapFS{}
	for name, content := range files {
		fsys[name] = &fstest.MapFile{Data: []byte(content)}
	}
	return fsys
}

// Load reads the files with their sessions.
func Load(t testing.TB, files map[string]string) *journal.Journal {
	t.Helper()
	j, err := journal.Load(FS(files), journal.Options{Check: true, Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	return j
}

// Sign adds a person's sign-off of a record with the digests of the files as they
// are, and gives its id.
func Sign(t testing.TB, files map[string]string, of, by, on, decision string) string {
	t.Helper()
	j := Load(t, files)
	found := j.Find(of)
	if len(found) == 0 {
		t.Fatalf("there is no record %s to sign", of)
	}
	_, record, err := j.ReadRecord(found[0])
	if err != nil {
		t.Fatal(err)
	}
	needed, err := evidence.Covers(j, record)
	if err != nil {
		t.Fatal(err)
	}
	text := fmt.Sprintf("---\nof: %s\nby: %s\non: %s\ndecision: %s\ncovers:\n", of, by, on, decision)
	for _, n := range needed {
		text += "  " + n.Path + ": " + journal.Digest([]byte(files[n.Path])) + "\n"
	}
	id := on[:10] + "-" + by + "-" + decision
	files["signoffs/"+id+".md"] = text + "---\n"
	return id
}

// Replace is an edit of one file: the first old becomes new.
func Replace(path, old, new string) func(files map[string]string) {
	return func(files map[string]string) { files[path] = strings.Replace(files[path], old, new, 1) }
}
