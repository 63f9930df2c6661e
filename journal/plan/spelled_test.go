package plan

import (
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"wj/water/treat"
)

// noise is a number that a computer made: more digits than anybody types.
var noise = regexp.MustCompile(`[1-9][0-9]*\.[0-9]{7,}|[1-9][0-9.]{10,}`)

// Volumes, amounts and strengths of any spelling are written as they were typed, read back the same, and are printed nowhere with
// the digits of a conversion.
func TestSpellingsAreKept(t *testing.T) {
	j := story(t, nil)
	b := Open(j)
	now := at(t, "2026-06-11T12:00+03:00")
	volumes := []string{"7 bbl_us", "300 gal_us", "12.34 hL", "821.43 L", "1.3 m3", "33.3 gal_br", "0.1 m3", "1234567 mL", "4.9 bbl_br", "1500 L"}
	acids := []string{"lactic_acid=75.5 mL, 12.34 % w/w", "lactic_acid=33.3 mL, 33.3 % w/w", "phosphoric_acid=0.07 L, 10 % w/w", "hydrochloric_acid=40.1 mL, 30.1 % w/v", "lactic_acid=0.1 gal_us, 80 % w/w", "lactic_acid=0.2 L, 88 % w/w"}
	salts := []string{"gypsum=0.3 lb", "gypsum=210 g", "calcium_chloride_dihydrate=4.7 oz, 77.7 %", "gypsum=0.1 kg"}
	tried := 0
	for i, volume := range volumes {
		for k, acid := range acids {
			if k != i%len(acids) {
				continue // each volume with one: a journal is read for each
			}
			q := Question{Waters: []string{"north-well=40%", "ro-permeate=60%"}, Target: "wicket-bitter", Volume: volume, Add: []string{acid, salts[(i+k)%len(salts)]}, MaxAdditions: -1, Now: now, Change: true, Trained: "ines"}
			found, err := b.Ask(q)
			if err != nil {
				if strings.Contains(err.Error(), "not a known unit") {
					continue // a spelling that is refused with its reason
				}
				t.Fatalf("%s, %s: %v", volume, acid, err)
			}
			tried++
			c := found.Change
			c.ID, c.Author = "2026-06-11-spelled", "ines"
			src := b.Compose(c, found.Work, found.Told(treat.DefaultLimits()), "")
			if !strings.Contains(string(src), "volume: "+found.Volume.String()+"\n") {
				t.Errorf("%s is written otherwise:\n%s", volume, src)
			}
			again := story(t, map[string]func(string) string{"changes/2026-06-11-spelled.md": func(string) string { return string(src) }})
			read, ok := again.Changes.Get("2026-06-11-spelled")
			if !ok {
				t.Fatalf("%s, %s: it cannot be read:\n%s", volume, acid, src)
			}
			second, err := Open(again).OnBasis(read)
			if err != nil {
				t.Fatalf("%s, %s: %v\n%s", volume, acid, err, src)
			}
			for n, d := range found.Work.Prediction.Doses {
				if got := second.Prediction.Doses[n]; got.Amount != d.Amount || got.Percent != d.Percent || got.StrengthText() != d.StrengthText() || got.Volume != d.Volume {
					t.Errorf("%s: %v, read back %v", acid, d, got)
				}
			}
			if d := Open(again).Recompute(second); len(d) > 0 {
				t.Errorf("%s, %s: %v", volume, acid, d)
			}
			answer, err := json.Marshal(b.Judged(second, now, treat.DefaultLimits()))
			if err != nil {
				t.Fatal(err)
			}
			texts := []string{string(src), string(answer), batchCommand(c, c.Volume), fmt.Sprint(found.Notes), fmt.Sprint(b.Shortages(second.Prediction, now))}
			for _, s := range treat.Steps(second.Prediction) {
				texts = append(texts, s.Do, stepText(s), sheetStep(s).Text)
			}
			for _, text := range texts {
				if m := noise.FindString(text); m != "" {
					t.Errorf("%s, %s: %q in %.300s", volume, acid, m, text)
				}
			}
		}
	}
	if tried < len(volumes) {
		t.Errorf("only %d spellings were tried", tried)
	}
}

// The volumes of a target's usual batch are the default, each in its own unit and none rounded away.
func TestUsualVolumes(t *testing.T) {
	for _, x := range []struct{ liquor, mash, sparge string }{
		{"15 bbl_us", "300 gal_us", "5.323 bbl_us"}, {"600 gal_us", "180 gal_us", "420 gal_us"}, {"12.5 hL", "510 L", "7.4 hL"},
	} {
		target := "---\nname: Pale\nranges: {mash_pH: {min: 5.2, max: 5.6}}\ngrist: [{malt: pale, mass: 200 kg}]\nliquor: " + x.liquor + "\nmash_liquor: " + x.mash + "\n---\n"
		b := Open(story(t, map[string]func(string) string{"targets/usual.md": func(string) string { return target }}))
		q := Question{Target: "usual"}
		if b.usual(&q); q.Mash != x.mash || q.Sparge != x.sparge || q.Volume != "" {
			t.Errorf("%s and %s: mash %q, sparge %q, volume %q", x.liquor, x.mash, q.Mash, q.Sparge, q.Volume)
		}
		q = Question{Target: "usual", Add: []string{"gypsum=1 g"}}
		if b.usual(&q); q.Volume != x.liquor || q.Mash != "" {
			t.Errorf("a named dose: %q, %q", q.Volume, q.Mash)
		}
	}
}

// What a target asks and nothing can be held against is named with its reason, and nothing is said to be kept without it.
func TestNotJudged(t *testing.T) {
	target := "---\nname: Dark\nranges: {sulfate: {max: 400 mg/L}, mash_pH: {min: 5.3, max: 5.5}}\ngrist: [{malt: crystal 60, mass: 20 kg}]\n---\n"
	b := Open(story(t, map[string]func(string) string{"targets/dark.md": func(string) string { return target }}))
	q := Question{Target: "dark", Sites: []string{"north-well"}, Volume: "100 L", MaxAdditions: 0, Chance: 0.95, Now: at(t, "2026-06-11T18:00+03:00")}
	found, err := b.Ask(q)
	if err != nil {
		t.Fatal(err)
	}
	a := found.Told(treat.DefaultLimits())
	if a.Kept != nil || a.Chance != nil || a.ChanceBut == nil || len(a.NotJudged) != 1 || a.NotJudged[0].Name != "mash_pH" || a.NotJudged[0].Indication == nil {
		t.Errorf("kept %v, chance %v, of the rest %v, not judged %+v", a.Kept, a.Chance, a.ChanceBut, a.NotJudged)
	}
	if lines := strings.Join(a.Headline(), " "); !strings.Contains(lines, "All limits but mash pH are kept") || !strings.Contains(lines, "Mash pH is NOT judged: the target dark: crystal 60 needs its distilled_pH") {
		t.Error(lines)
	}
	if g := b.Judgement(found.Target, tankSparge, q.Now); len(g.NotJudged) != 0 || len(g.Targets) != 2 || g.Targets[0].Min != leastSpargePH {
		t.Errorf("a sparge is asked for %+v, not judged %+v", g.Targets, g.NotJudged)
	}
}
