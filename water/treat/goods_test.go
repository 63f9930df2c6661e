package treat

import (
	"math"
	"strings"
	"testing"

	"wj/water"
	"wj/water/substance"
)

func TestParseStrength(t *testing.T) {
	for text, want := range map[string]ParsedStrength{
		"80 % w/w":             {substance.Strength{Percent: 80, Basis: substance.WeightByWeight}, 0, 0},
		"80%w/w":               {substance.Strength{Percent: 80, Basis: substance.WeightByWeight}, 0, 0},
		"10 % w/v":             {substance.Strength{Percent: 10, Basis: substance.WeightByVolume}, 0, 0},
		"10 % M/V":             {substance.Strength{Percent: 10, Basis: substance.WeightByVolume}, 0, 0},
		"80 ± 1 % w/w":         {substance.Strength{Percent: 80, Basis: substance.WeightByWeight}, 1, 0},
		"75 % w/w, 1.579 g/mL": {substance.Strength{Percent: 75, Basis: substance.WeightByWeight}, 0, 1.579},
	} {
		if got, err := ParseStrength(text); err != nil || got != want {
			t.Errorf("%q: %+v, %v", text, got, err)
		}
	}
	for text, word := range map[string]string{
		"80 %": "per cent of what", "80": "no % sign", "80 w/w": "no % sign", "": "no % sign", "80,5 % w/w": "80.5", "<80 % w/w": "bound",
		"0 % w/w": "not a possible", "101 % w/w": "not a possible", "10 % v/v": "volume by volume", "10 % by hand": "not a basis", "x % w/w": "number",
		"75 % w/w, 1.5": "density", "75 % w/w, 15 g/mL": "outside",
	} {
		if _, err := ParseStrength(text); err == nil || !strings.Contains(err.Error(), word) {
			t.Errorf("%q: %v, want an error with %q", text, err, word)
		}
	}
}

func FuzzParseStrength(f *testing.F) {
	for _, s := range []string{"80 % w/w", "10 % w/v", "75 ± 1 % w/w, 1.579 g/mL", "80 %", "%", "± % w/w", "1e9 % w/w", "80 % w/w,"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		p, err := ParseStrength(text)
		if err != nil {
			if err.Error() == "" {
				t.Fatal("empty message")
			}
			return
		}
		if !(p.Percent > 0) || p.Percent > 200 || p.Basis != substance.WeightByWeight && p.Basis != substance.WeightByVolume || p.HalfWidth < 0 || p.Density < 0 {
			t.Fatalf("%q: %+v", text, p)
		}
	})
}

func TestProduct(t *testing.T) {
	// Molarities of the handbooks: lactic 80 % w/w at 1.185 g/mL is 10.5 mol/L, phosphoric 10 % w/w 1.075 and w/v 1.020 (CRC Handbook
	// densities).
	for _, c := range []struct {
		key, strength string
		want          float64
	}{{"lactic_acid", "80 % w/w", 10.52}, {"phosphoric_acid", "10 % w/w", 1.075}, {"phosphoric_acid", "10 % w/v", 1.020}, {"phosphoric_acid", "75 % w/w, 1.579 g/mL", 12.08}} {
		g := goods(t, c.key, "", c.strength)
		if moles, err := g.molesPerUnit(g.Percent); err != nil || math.Abs(1000*moles-c.want) > 0.002*c.want || g.Unit != water.Millilitre {
			t.Errorf("%s %s: %.4f mol/L, %v, want %g", c.key, c.strength, 1000*moles, err, c.want)
		}
	}
	// A weighed and a measured dose of one liquid are the same amount: 100 mL of 80 % lactic acid weigh 118.48 g.
	g := goods(t, "lactic_acid", "", "80 % w/w")
	volume, err1 := NewAddition(g, quantity(t, "100 mL"))
	mass, err2 := NewAddition(g, quantity(t, "118.48 g"))
	if err1 != nil || err2 != nil {
		t.Fatal(err1, err2)
	}
	a, _ := volume.molesPerUnit(80)
	b, _ := mass.molesPerUnit(80)
	if math.Abs(a*volume.Amount-b*mass.Amount) > 1e-5 {
		t.Errorf("%g mol by volume, %g by mass", a*volume.Amount, b*mass.Amount)
	}
	if kilo, err := NewAddition(goods(t, "gypsum", "98 %", ""), quantity(t, "0.18 kg")); err != nil || math.Abs(kilo.Amount-180) > 1e-9 {
		t.Errorf("%v, %v", kilo, err)
	}
	if g, err := NewProduct("gypsum", water.Quantity{}, ""); err != nil || g.Assumed == "" || g.Percent != 98 {
		t.Errorf("%+v, %v", g, err)
	}
	for _, c := range []struct{ key, assay, strength, word string }{
		{"lactic_acid", "", "", "no strength"}, {"lactic_acid", "", "80 %", "per cent of what"}, {"calcium_chloride", "", "", "calcium_chloride_dihydrate"},
		{"gypsum", "98 %", "98 % w/w", "both"}, {"gypsum", "150 %", "", "not between"}, {"gypsum", "10 ± 20 %", "", "half-width"},
	} {
		var q water.Quantity
		if c.assay != "" {
			q = quantity(t, c.assay)
		}
		if _, err := NewProduct(c.key, q, c.strength); err == nil || !strings.Contains(err.Error(), c.word) {
			t.Errorf("%v: %v", c, err)
		}
	}
	for _, text := range []string{"98 %", "100 ± 10 %", "99.5 % w/w"} {
		if _, err := ParseAssay(text); err != nil {
			t.Error(err)
		}
	}
	for _, text := range []string{"98", "<98 %", "0 %", "98 g", ""} {
		if _, err := ParseAssay(text); err == nil {
			t.Errorf("assay %q was read", text)
		}
	}
	for _, text := range []string{"5 mg/L", "5", "<5 g"} {
		if _, err := NewAddition(g, quantity(t, text)); err == nil {
			t.Errorf("addition of %q was accepted", text)
		}
	}
	if _, err := NewAddition(goods(t, "gypsum", "98 %", ""), quantity(t, "5 mL")); err == nil {
		t.Error("a spoon of powder was accepted")
	}
}

func quantity(t testing.TB, text string) water.Quantity {
	t.Helper()
	q, err := water.ParseQuantity(text)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

func TestRoundTo(t *testing.T) {
	for _, c := range []struct{ amount, step, want float64 }{{207.2, 1, 207}, {0.29, 0.1, 0.3}, {118.4, 5, 120}, {0.3, 5, 0.3}, {7, 0, 7}, {0, 1, 0}} {
		if got := RoundTo(c.amount, c.step); got != c.want {
			t.Errorf("%g to %g: %v, want %v", c.amount, c.step, got, c.want)
		}
	}
}
