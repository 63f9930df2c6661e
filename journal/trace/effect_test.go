package trace

import (
	"math"
	"slices"
	"strings"
	"testing"

	"wj/journal"
	"wj/journal/journaltest"
)

const changeID = journaltest.BlendChange

func TestGraph(t *testing.T) {
	m := journaltest.Blend()
	m["batches/2026-118.md"] = "---\nbeer: bitter\nbrewed: 2026-06-16\nchange: " + changeID + "\nweighed: {gypsum: {amount: 207 g, lot: GY-1}}\n---\n"
	m["reports/2026-06-17-x.md"] = "---\nowner: quillmarsh\nto: a@b.example\nsent: 2026-06-17T10:00+03:00\nfiles: {}\nrests_on:\n  sessions/2026-06-09-well.md: " + strings.Repeat("0", 64) + "\n---\n"
	journaltest.Sign(t, m, changeID, "jonas", "2026-06-12T09:40+03:00", "accepted")
	// A circle: the basis session verifies the change that depends on it.
	journaltest.Replace("sessions/2026-06-05-ro.md", "readings", "sample: verification\nchange: "+changeID+"\nreadings")(m)
	j := journaltest.Load(t, m)
	g := NewGraph(j)
	ids := func(list []journal.File) string {
		var out []string
		for _, f := range list {
			out = append(out, f.ID)
		}
		return strings.Join(out, " ")
	}
	down := g.Walk(journal.File{Kind: journal.KindLot, ID: "SU-1"}, true)
	if got := ids(down.Reached()); got != "2026-06-09-well 2026-06-11-bitter 2026-06-12-jonas-accepted 2026-118 2026-06-17-x" {
		t.Errorf("down from the lot: %s", got)
	}
	// What refers to a record without depending on it is shown where the walk starts, and beside it elsewhere.
	change := journal.File{Kind: journal.KindChange, ID: changeID}
	if got := ids(g.Walk(change, true).Reached()); got != "2026-06-05-ro 2026-06-12-jonas-accepted 2026-118" || g.Aside(change) != "verified by 2026-06-05-ro" {
		t.Errorf("down from the change: %s; %s", got, g.Aside(change))
	}
	up := g.Walk(journal.File{Kind: journal.KindBatch, ID: "2026-118"}, false)
	if got := ids(up.Reached()); got != "ro well GY-1 SU-1 meter-1 2026-06-05-ro 2026-06-09-well bitter 2026-06-11-bitter" {
		t.Errorf("up from the batch: %s", got)
	}
	// What does not exist keeps its place in the walk.
	journaltest.Replace("changes/2026-06-11-bitter.md", "session: 2026-06-09-well", "session: 2026-06-10-well")(m)
	links := NewGraph(journaltest.Load(t, m)).Up(journal.File{Kind: journal.KindChange, ID: changeID})
	if !slices.ContainsFunc(links, func(l Link) bool { return l.To.ID == "2026-06-10-well" && l.To.Path == "" }) {
		t.Errorf("missing record: %+v", links)
	}
}

// The demo scenario's recall: a lot that reads 18 % low makes 278 of a well
// 228; 40 % of it with 60 % permeate moves the liquor by 0.4 × 50 = 20 mg/L.
func TestIf(t *testing.T) {
	m := journaltest.Blend()
	journaltest.Replace("sessions/2026-06-09-well.md", "278 mg/L", "228 mg/L")(m)
	m["batches/2026-118.md"] = "---\nbeer: bitter\nbrewed: 2026-06-16\nchange: " + changeID + "\nvolume: 1480 L\nweighed: {gypsum: 207 g}\n---\n"
	j := journaltest.Load(t, m)
	off := func(s *journal.Session, r *journal.Reading) float64 {
		if r.Lot == "SU-1" {
			return -0.18
		}
		return 0
	}
	c, _ := j.Changes.Get(changeID)
	effects, err := OnChange(j, c, off)
	if err != nil || len(effects) != 1 {
		t.Fatalf("%v %+v", err, effects)
	}
	e := effects[0]
	shift := 0.4 * (228/0.82 - 228)
	if e.Before != 190 || math.Abs(e.After-190-shift) > 1e-9 || math.Abs(shift-20) > 0.1 || !e.Halved || e.U != 14 {
		t.Errorf("%+v, shift %g", e, shift)
	}
	if inside, known := e.Inside(e.After); !inside || !known {
		t.Error("210 lies in 180 to 240")
	}
	b, _ := j.Batches.Get("2026-118")
	effects, err = OnBatch(j, b, off)
	if err != nil || len(effects) != 1 {
		t.Fatalf("%v %+v", err, effects)
	}
	// Gypsum is 55.79 % sulfate: 96.06 of 172.17 g/mol (IUPAC atomic weights); the permeate's <2 counts as 1.
	want := 0.4*228 + 0.6*1 + 207*0.55794*1000/1480
	if math.Abs(effects[0].Before-want) > 0.05 || math.Abs(effects[0].After-want-shift) > 0.05 {
		t.Errorf("%+v, want %g", effects[0], want)
	}
}
