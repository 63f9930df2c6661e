package exchange

import (
	"testing"
	"testing/fstest"
	"time"

	"wj/journal"
)

// record makes a file of a test journal.
func record(text string) *fstest.MapFile { return &fstest.MapFile{Data: []byte(text)} }

// smallJournal is an invented journal of two owners.
func smallJournal(t testing.TB, more map[string]string) *journal.Journal {
	t.Helper()
	return loaded(t, smallFiles(more))
}

func smallFiles(more map[string]string) fstest.MapFS {
	files := fstest.MapFS{
		"wj.yaml":               record("format: 1\nname: Quillmarsh Brewery\ntimezone: Europe/Vilnius\n"),
		"people/ines.md":        record("---\nname: Ines Kaldre\nemail: ines@quillmarsh.example\n---\n"),
		"owners/quillmarsh.md":  record("---\nname: Quillmarsh Brewery\nself: true\n---\n"),
		"owners/tarrow-lane.md": record("---\nname: Tarrow Lane\nemail: tove@tarrow-lane.example\nunits: {alkalinity: gpg}\n---\n"),
		"sites/north-well.md":   record("---\nname: North well\nowner: quillmarsh\nstage: intake\nplace: [55.7231, 19.0387]\nschedule:\n  - {every: 30 d, analytes: [sulfate, chloride]}\n---\n"),
		"sites/tarrow-bore.md":  record("---\nname: Tarrow Lane, bore\nowner: tarrow-lane\nstage: intake\n---\n"),
		"sessions/2026/2026-03-04-north-well.md": record("---\nsite: north-well\nsampled: 2026-03-04T08:15+02:00\ntested: 2026-03-04T08:25+02:00\nby: ines\nreadings:\n" +
			"  pH:         7.40\n  alkalinity: 118 mg/L CaCO3\n  chloride:   <5 mg/L\n  sulfate:    {value: [84 mg/L, 86 mg/L], dilution: 2}\n---\n"),
		"sessions/2026/2026-03-05-tarrow-bore.md": record("---\nsite: tarrow-bore\nsampled: 2026-03-05T23:30-05:00\nby: ines\nsource: lab\nlaboratory: \"=cmd|'/C calc'!A0\"\nreadings:\n  alkalinity: 15.2 gpg\n---\n"),
	}
	for name, text := range more {
		files[name] = record(text)
	}
	return files
}

func loaded(t testing.TB, files fstest.MapFS) *journal.Journal {
	t.Helper()
	j, err := journal.Load(files, journal.Options{Sessions: true, Check: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range j.Problems {
		if p.Warning { // a view has no true values of check standards
			continue
		}
		t.Fatalf("the test journal is wrong: %s:%d: %s", p.Path, p.Line, p.Message)
	}
	return j
}

var testNow = time.Date(2026, 4, 1, 12, 0, 0, 0, time.UTC)
