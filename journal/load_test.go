package journal

import (
	"testing"
	"testing/fstest"

	"wj/water"
)

const formatPageSession = `---
site: north-well
sampled: 2026-03-04T08:15+01:00
tested: 2026-03-04T08:40+01:00
by: ines
instrument: meter-2
place: [54.6872, 25.2797]
readings:
  pH:               {value: 7.42, lot: PH-2509}
  alkalinity:       {value: 118 mg/L CaCO3, lot: AL-2511}
  calcium_hardness: {value: 92 mg/L CaCO3, lot: CH-2510}
  total_hardness:   {value: 138 mg/L CaCO3, lot: TH-2510}
  chloride:         {value: [21 mg/L, 22 mg/L], lot: CL-2511}
  sulfate:          {value: 168 mg/L, dilution: 2, lot: SU-2511}
  temperature:      11.5 degC
---

Second sulfate strip after the first ran past the range; sample cut 1:1 with distilled water.
`

func small() fstest.MapFS {
	m := fstest.MapFS{
		"wj.yaml":                                {Data: []byte("format: 1\nname: Quillmarsh Brewery\ntimezone: Europe/Vilnius\n")},
		"people/ines.md":                         {Data: []byte("---\nname: Ines Kaldre\n---\n")},
		"owners/quillmarsh.md":                   {Data: []byte("---\nname: Quillmarsh Brewery\nself: true\n---\n")},
		"sites/north-well.md":                    {Data: []byte("---\nname: North well\nowner: quillmarsh\nstage: intake\n---\n")},
		"instruments/meter-2.md":                 {Data: []byte("---\nname: Photometer\nmeasures:\n  sulfate: {units: mg/L, range: [2 mg/L, 200 mg/L], resolution: 1 mg/L, accuracy: 5 mg/L + 8 %}\n---\n")},
		"sessions/2026/2026-03-04-north-well.md": {Data: []byte(formatPageSession)},
	}
	for _, l := range []string{"PH-2509", "AL-2511", "CH-2510", "TH-2510", "CL-2511", "SU-2511"} {
		m["lots/"+l+".md"] = &fstest.MapFile{Data: []byte("---\nanalyte: sulfate\nexpires: 2026-11\n---\n")}
	}
	return m
}

// The session of the format page reads as it says, without a problem.
func TestLoadFormatPage(t *testing.T) {
	j, err := Load(small(), Options{Check: true, Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range j.Problems {
		t.Errorf("%s:%d:%d %s: %s", p.Path, p.Line, p.Column, p.Rule, p.Message)
	}
	s, ok := j.Sessions.Get("2026-03-04-north-well")
	if !ok {
		t.Fatal("the session was not read")
	}
	var a water.Analysis
	j.Analysis(s, &a)
	if got := a.Number(water.Sulfate); got != 336 {
		t.Errorf("sulfate = %v, want 336: 168 times the dilution 2", got)
	}
	if got := a.Number(water.Chloride); got != 21.5 {
		t.Errorf("chloride = %v, want 21.5: the mean of the replicates", got)
	}
	m, _ := a.Measured(water.Sulfate)
	// ±(5 + 8 % of 168) mg/L, halved, with the display's step, doubled by the dilution.
	if m.Assumed || m.U < 18.4 || m.U > 18.5 {
		t.Errorf("u(sulfate) = %v (assumed %v), want 18.45 from the meter's accuracy", m.U, m.Assumed)
	}
}
