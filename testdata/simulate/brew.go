package main

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"wj/water"
	"wj/water/equilibrium"
)

// brewing is the change that is brewed with, and what is true about it.
type brewing struct {
	change  string
	signed  bool // by another person than its author
	asked   bool // it waits for a sign-off
	chance  float64
	shares  map[string]float64
	doses   map[string]float64 // g or mL into 1200 L
	waters  map[string]equilibrium.Water
	batches int
	number  int
}

// assays are how far the goods are from their label: uniform within what the lots declare.
func (s *sim) assay(substance string) float64 {
	r := dice(s.seed, "assay", substance)
	switch substance {
	case "calcium_chloride_dihydrate":
		return 1 + between(r, -0.1, 0.1)
	case "gypsum":
		return 1 + between(r, -0.01, 0.01)
	}
	return 1 + 0.01*gauss(r)
}

// bias is how far an instrument for amounts is off, as a part; it stays.
func (s *sim) bias(what string, half float64) float64 {
	return half / 2 * gauss(dice(s.seed, "bias", what))
}

// weighed is what really goes in: a scale shows whole grams, a cylinder is read to a millilitre, and both are a little off.
func (s *sim) weighed(substance string, amount float64, r *rand.Rand) float64 {
	read := amount + r.Float64() - 0.5
	if substance == "lactic_acid" {
		return read * (1 + s.bias("cylinder", 0.01))
	}
	return read * (1 + s.bias("scale", 0.002))
}

// stock buys salts and acid.
func (s *sim) stock() error {
	_, err := s.must(s.person("ines"), at(s.day, 7, 5), "new",
		"lot", "GY-1", "substance=gypsum", "expires=2030-01", "received="+date(at(s.day, 0, 0)), "amount=250 kg", "assay=100 ± 1 %", "grade=food grade, certificate in the folder", "price=2.10 EUR/kg", "+",
		"lot", "CC-1", "substance=calcium_chloride_dihydrate", "expires=2030-01", "received="+date(at(s.day, 0, 0)), "amount=250 kg", "assay=100 ± 10 %", "grade=food additive E 509, certificate in the folder", "price=2.60 EUR/kg", "+",
		"lot", "LA-1", "substance=lactic_acid", "expires=2030-01", "received="+date(at(s.day, 0, 0)), "amount=250 L", "strength=80 % w/w", "grade=food additive E 270, certificate in the folder", "price=9.10 EUR/L")
	return err
}

// propose finds a dose and writes it as a change.
func (s *sim) propose() error {
	pia, now := s.person("pia"), at(s.day, 10, 0)
	name := fmt.Sprintf("pale-%d", s.day)
	r, err := s.wj(pia, now, "treat", "--site", "town-main", "--site", "ro-permeate", "--target", "pale-lager", "--volume", "1200 L", "--dechlorinate", "none", "--write", name, "--format", "json")
	if err != nil {
		return err
	}
	if r.Status != 0 {
		s.ledger.refused++
		return nil
	}
	var doc struct {
		Waters []struct {
			Site, Session string
			Share         float64
		}
		Doses []struct {
			Substance string
			Amount    float64
		}
		Result map[string]struct{ Value, Low, High *float64 }
		Chance float64
	}
	if err := json.Unmarshal([]byte(lines(r.Out)[0]), &doc); err != nil {
		return s.fail("wj treat: %v\n%s", err, r.Out)
	}
	b := &s.brewing
	b.change, b.signed, b.asked, b.chance, b.batches = "", false, true, doc.Chance, 0
	if _, after, ok := strings.Cut(r.Talk, "wrote changes/"); ok {
		b.change, _, _ = strings.Cut(after, ".md")
	}
	if b.change == "" {
		return s.fail("wj treat wrote no change: %s%s", r.Out, r.Talk)
	}
	slipped, old := false, false
	b.shares, b.doses, b.waters = map[string]float64{}, map[string]float64{}, map[string]equilibrium.Water{}
	for _, w := range doc.Waters {
		b.shares[w.Site] = w.Share
		t := s.at(w.Site, s.sampledOn(w.Session))
		b.waters[w.Site] = t.water
		slipped = slipped || s.slipped(w.Session)
		for _, m := range s.slips(w.Session) { // what is found of the dose comes of the mistake in its water
			if len(m.keys) > 0 {
				m.spoils = append(m.spoils, b.change)
			}
		}
		old = old || s.day-s.sampledOn(w.Session) > 30
	}
	if old { // the permeate is tested every eight weeks, and she does not take a sample of her own
		s.ledger.mistakes = append(s.ledger.mistakes, &mistake{kind: "proposed on an old water", record: b.change, rules: []string{"change/basis-old"}, day: s.day, within: 2, gross: true, by: "pia"})
	}
	for _, d := range doc.Doses {
		b.doses[d.Substance] = d.Amount
	}
	// what was predicted, against the liquor that exactly this dose would make of the waters as they were sampled
	exact := tap{water: s.liquor(b.waters, b.shares, b.doses, true, nil)}
	for key, v := range doc.Result {
		id, ok := water.Lookup(key)
		if !ok || v.Low == nil || v.High == nil || slipped {
			continue
		}
		if t := exact.truth(id); t == t {
			s.ledger.cover("dose: "+key, *v.Low <= t && t <= *v.High)
		}
	}
	if s.proof {
		return s.sign(pia, now, b.change, "--propose")
	}
	return nil
}

// sampledOn is the day of a session.
func (s *sim) sampledOn(session string) int {
	for _, f := range s.ledger.facts {
		if f.record == session {
			return f.sampledDay
		}
	}
	return s.day
}

// liquor is what is really made: shares and weights err, and the goods are not what their labels say.
func (s *sim) liquor(waters map[string]equilibrium.Water, shares, doses map[string]float64, assay bool, r *rand.Rand) equilibrium.Water {
	var parts []equilibrium.Part
	names := []string{"town-main", "ro-permeate"}
	off, litres := 0.0, 1200.0
	if r != nil {
		off = 0.02*r.Float64() - 0.01
		litres *= 1 + s.bias("tank meter", 0.003)
	}
	for i, name := range names {
		parts = append(parts, equilibrium.Part{Water: waters[name], Volume: max(0, shares[name]+off*float64(1-2*i))})
	}
	w, err := equilibrium.Blend(parts...)
	if err != nil {
		return w
	}
	for _, name := range []string{"gypsum", "calcium_chloride_dihydrate", "lactic_acid"} {
		amount := doses[name]
		if amount == 0 {
			continue
		}
		if r != nil {
			amount = s.weighed(name, amount, r)
		}
		if assay {
			amount *= s.assay(name)
		}
		switch name {
		case "gypsum":
			w = w.Plus(equilibrium.ReagentCalciumSulfate.PerMole(), amount/172.17/litres)
		case "calcium_chloride_dihydrate":
			w = w.Plus(equilibrium.ReagentCalciumChloride.PerMole(), amount/147.01/litres)
		case "lactic_acid": // 80 % w/w has 1.19 g/mL at 20 degC (CRC Handbook, from memory)
			w = w.Plus(equilibrium.ReagentLacticAcid.PerMole(), amount*1.19*0.8/90.08/litres)
		}
	}
	return w
}

// sign looks at a record and signs it.
func (s *sim) sign(who *person, now time.Time, id string, more ...string) error {
	r, err := s.must(who, now, "review", id)
	if err != nil {
		return err
	}
	digest := ""
	for _, word := range strings.Fields(r.Out) {
		if shortDigest(strings.TrimRight(word, ".,;")) {
			digest = strings.TrimRight(word, ".,;")
		}
	}
	if digest == "" {
		return s.fail("wj review %s prints no digest:\n%s", id, r.Out)
	}
	_, err = s.must(who, now.Add(5*time.Minute), append([]string{"sign", id, "--digest", digest, "--meaning", "reviewed calculation and limits"}, more...)...)
	return err
}

func shortDigest(word string) bool {
	parts := strings.Split(word, "-")
	return len(parts) >= 3 && !slices.ContainsFunc(parts, func(p string) bool { return len(p) != 4 || strings.Trim(p, "0123456789abcdefABCDEF") != "" })
}

// approve is the second person's look.
func (s *sim) approve() error {
	b := &s.brewing
	b.asked = false
	jonas := s.person("jonas")
	if err := s.sync(jonas, at(s.day, 8, 0)); err != nil {
		return err
	}
	if err := s.sign(jonas, at(s.day, 8, 10), b.change); err != nil {
		return err
	}
	b.signed = true
	return s.sync(jonas, at(s.day, 8, 20))
}

// brew doses a liquor by the sheet, where there is one.
func (s *sim) brew() error {
	b := &s.brewing
	if b.change == "" {
		return nil
	}
	pia, now := s.person("pia"), at(s.day, 13, 0)
	r := dice(s.seed, "brew", s.day)
	sheet, err := s.wj(pia, now, "sheet", b.change, "--volume", "1200 L")
	if err != nil {
		return err
	}
	if sheet.Status == 0 {
		s.ledger.sheets++
		if !b.signed {
			return s.fail("a sheet was printed from %s, which nobody has signed:\n%s", b.change, sheet.Out)
		}
	} else {
		s.ledger.refused++
		if !chance(r, 0.3*(1.2-pia.care)) { // she waits
			return nil
		}
	}
	unsigned := sheet.Status != 0
	b.number++
	id := fmt.Sprintf("%d-%03d", at(s.day, 0, 0).Year(), b.number)
	waters := map[string]equilibrium.Water{}
	for name := range b.shares {
		t := s.at(name, s.day)
		waters[name] = t.water
	}
	weighed := map[string]float64{}
	args := []string{"new", "batch", id, "change=" + b.change, "brewed=" + date(now), "volume=1200 L", "dosed_by=pia", "witnessed_by=ines"}
	var over *mistake
	for _, name := range []string{"gypsum", "calcium_chloride_dihydrate", "lactic_acid"} {
		if b.doses[name] == 0 {
			continue
		}
		weighed[name] = b.doses[name]
		if over == nil && chance(r, 0.04) {
			weighed[name] = math.Round(weighed[name] * 1.6)
			over = &mistake{kind: "weighed too much", record: id, rules: []string{"batch/weighed", "change/verification-miss"}, follow: []string{"action/"}, within: 2, gross: true, by: "pia"}
		}
		unit := "g"
		if name == "lactic_acid" {
			unit = "mL"
		}
		args = append(args, fmt.Sprintf("%s=%.0f %s", name, weighed[name], unit))
	}
	liquor := tap{water: s.liquor(waters, b.shares, weighed, true, r)}
	if over == nil {
		then := tap{water: s.liquor(b.waters, b.shares, b.doses, true, r)}
		s.ledger.doses = append(s.ledger.doses, dosed{b.chance, s.inside(&then), s.inside(&liquor), s.day})
	}
	s.fill(liquor.water, 0.02)
	mash := 5.55 + 0.0017*liquor.truth(water.ResidualAlkalinity) + 0.03*gauss(r)
	args = append(args, fmt.Sprintf("mash_pH=%.2f", mash), "mash_pH.temperature=20 degC", "mash_pH.after=15 min")
	if _, err := s.must(pia, at(s.day, 14, 0), args...); err != nil {
		return err
	}
	b.batches++
	if !s.inside(&liquor) && over == nil {
		s.ledger.mistakes = append(s.ledger.mistakes, &mistake{kind: "liquor outside of its target", site: "hot-liquor-tank", record: date(now) + "-hot-liquor-tank", rules: []string{"change/verification-miss", "cause/"}, follow: []string{"action/"}, day: s.day, until: s.day + 40, within: 1000, by: "the plant"})
	}
	if over != nil {
		over.day = s.day
		s.ledger.mistakes = append(s.ledger.mistakes, over)
	}
	switch {
	case unsigned && strings.Contains(sheet.Talk, "the change is missed"): // it is approved, and not to be dosed again before somebody has looked
		s.ledger.mistakes = append(s.ledger.mistakes, &mistake{kind: "brewed after a miss", record: id, rules: []string{"change/verification-miss", "batch/", "change/unsigned-use"}, day: s.day, within: 2, gross: true, by: "pia"})
	case unsigned:
		s.tamper("brewed without an approval", id, "pia", "change/unsigned-use", "batch/unplanned", "change/lapsed")
	}
	if b.batches == 1 || chance(r, 0.3) {
		x := s.take(siteOf("hot-liquor-tank"), at(s.day, 14, 20), full)
		if over != nil {
			x.slip = &mistake{kind: "the liquor is not the change's", site: "hot-liquor-tank", rules: []string{"change/verification-miss", "cause/"}, within: 2, by: "pia"}
		}
		return s.typed(pia, &x, at(s.day, 14, 30), []string{"sample=verification", "change=" + b.change, "batch=" + id})
	}
	return nil
}

// inside reports whether a liquor keeps its target.
func (s *sim) inside(t *tap) bool {
	in := func(id water.ID, low, high float64) bool { v := t.truth(id); return v >= low && v <= high }
	return in(water.Calcium, 60, 72) && in(water.Magnesium, 0, 20) && in(water.Chloride, 55, 70) && in(water.Sulfate, 50, 65) && in(water.ResidualAlkalinity, -12, 8)
}
