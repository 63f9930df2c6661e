package query

import (
	"math"
	"testing"
	"testing/fstest"

	"wj/journal"
)

// membrane is a journal with a main, a membrane behind it and a carbon filter behind the main.
func membrane(t *testing.T) *journal.Journal {
	t.Helper()
	m := fstest.MapFS{}
	put := func(name, text string) { m[name] = &fstest.MapFile{Data: []byte("---\n" + text + "\n---\n")} }
	m["wj.yaml"] = &fstest.MapFile{Data: []byte("format: 1\nname: Kestrel Yard\ntimezone: Europe/Vilnius\n")}
	put("owners/yard.md", "name: Kestrel Yard\nself: true")
	put("people/ines.md", "name: Ines Kaldre")
	put("sites/main.md", "name: Main\nowner: yard\nstage: intake")
	put("sites/ro.md", "name: Membrane\nowner: yard\nstage: ro-permeate\nfed_by: main")
	put("sites/carbon.md", "name: Carbon\nowner: yard\nstage: carbon-outlet\nfed_by: main")
	put("instruments/meter-1.md", "name: Meter\nmeasures:\n  conductivity: {units: uS/cm, range: [1 uS/cm, 3000 uS/cm], resolution: 1 uS/cm, accuracy: 4 %}\n"+
		"  sulfate: {units: mg/L, range: [2 mg/L, 200 mg/L], resolution: 1 mg/L, accuracy: 0 mg/L + 10 %}\n  free_chlorine: {units: mg/L, range: [0.02 mg/L, 2 mg/L], resolution: 0.01 mg/L, accuracy: 0 mg/L + 10 %}")
	session := func(day, site, head, readings string) {
		put("sessions/2026-"+day+"-"+site+".md", "site: "+site+"\nsampled: 2026-"+day+"T08:15+02:00\nby: ines\ninstrument: meter-1\n"+head+"readings:\n"+readings)
	}
	session("03-02", "main", "", "  conductivity: 500 uS/cm\n  sulfate: 50 mg/L\n  free_chlorine: 0.40 mg/L")
	session("03-02", "ro", "", "  conductivity: 20 uS/cm\n  sulfate: <2 mg/L")
	session("03-02", "carbon", "", "  free_chlorine: <0.02 mg/L")
	session("03-09", "main", "", "  conductivity: 500 uS/cm")
	session("03-09", "ro", "", "  conductivity: <1 uS/cm")
	session("03-16", "ro", "", "  conductivity: 30 uS/cm") // the feed was not tested
	session("03-23", "main", "source: lab\nlaboratory: Tarrow Laboratory\n", "  conductivity: 500 uS/cm")
	session("03-23", "ro", "", "  conductivity: 30 uS/cm") // a laboratory's feed is no pair of a bench's permeate
	session("03-30", "main", "", "  conductivity: 30 uS/cm")
	session("03-30", "ro", "", "  conductivity: 2 uS/cm") // says nothing of a membrane
	j, err := journal.Load(m, journal.Options{Check: true})
	if err != nil || len(j.Problems) > 0 {
		t.Fatal(err, j.Problems)
	}
	return j
}

func TestPairValues(t *testing.T) {
	j := membrane(t)
	for source, want := range map[string]string{
		"salt_passage > 3.9 && salt_passage < 4.1":  "2026-03-02-ro",
		"salt_passage < 1":                          "2026-03-09-ro",
		"below(salt_passage)":                       "2026-03-09-ro",
		"removal > 99 && site == \"ro\"":            "2026-03-09-ro",
		"removal > 90 && site == \"carbon\"":        "2026-03-02-carbon",
		"above(removal(sulfate))":                   "2026-03-02-ro",
		"removal(sulfate) > 96.5":                   "", // more than 96 % is all that is known
		"surely(salt_passage > 3.5)":                "2026-03-02-ro",
		"surely(salt_passage > 3.9)":                "",
		"maybe(salt_passage > 4.1)":                 "2026-03-02-ro",
		"u(salt_passage) > 0":                       "2026-03-02-ro",
		"salt_passage > \"3 %\" && known(removal)":  "2026-03-02-ro",
		"salt_passage + removal == 100":             "2026-03-02-ro",
		"known(salt_passage) && site == \"carbon\"": "",
	} {
		if got := find(t, j, source); got != want {
			t.Errorf("%s: %q, want %q", source, got, want)
		}
	}
	// Of a quotient the relative uncertainties add in quadrature (JCGM 100:2008, 5.1.6): 2 % and 2 %, and the rounding to 1 uS/cm.
	s, err := History(j, "ro", "salt_passage", SeriesRequest{})
	if err != nil || len(s.Points) != 2 || s.NoReading != 3 || s.Unit.String() != "%" {
		t.Fatal(s, err)
	}
	round := 1 / math.Sqrt(12)
	want := 4 * math.Sqrt(0.02*0.02+math.Pow(round/20, 2)+0.02*0.02+math.Pow(round/500, 2))
	if p := s.Points[0]; math.Abs(p.Value-4) > 1e-9 || math.Abs(p.U-want) > 0.01*want || !p.Derived {
		t.Errorf("%+v, want 4 with u %.4f", p, want)
	}
	if p := s.Points[1]; p.Bound.String() != "<" || math.Abs(p.Value-0.2) > 1e-9 {
		t.Errorf("%+v, want <0.2", p)
	}
}
