package plan

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"wj/journal"
	"wj/water"
	"wj/water/substance"
)

// Slip is one line of a change that, written otherwise, would give all that the change expects.
type Slip struct {
	Keys  []string // of the line
	Words string   // "the expectation fits volume: 1500 L"
	Dose  bool     // the line decides the dose; else it is one of the expectation
}

// Slip looks for the one line that is mistyped in a change whose expectation is not what it
// computes to: a decimal point or a thousand in the volume or in an amount, another form of a
// salt, another water, two expectations exchanged. ok is false where no one line explains it.
func (b *Book) Slip(c *journal.Change) (slip Slip, ok bool) {
	if len(c.Expect) < 2 {
		return Slip{}, false // anything would fit one value
	}
	for _, try := range b.slips(c) {
		other := *c
		other.Basis, other.Add, other.Expect = slices.Clone(c.Basis), slices.Clone(c.Add), slices.Clone(c.Expect)
		words := try.write(&other)
		w, err := b.OnBasis(&other)
		if err != nil || slices.ContainsFunc(b.Recompute(w), func(d Difference) bool { return !d.Spread }) {
			continue
		}
		return Slip{Keys: try.keys, Words: "the expectation fits " + words, Dose: try.keys[0] != "expect"}, true
	}
	return Slip{}, false
}

// otherwise is a change with one line written otherwise.
type otherwise struct {
	keys  []string
	write func(c *journal.Change) (words string)
}

func (b *Book) slips(c *journal.Change) (out []otherwise) {
	add := func(write func(c *journal.Change) string, keys ...string) { out = append(out, otherwise{keys, write}) }
	for i := range c.Expect {
		for k := range i {
			add(func(c *journal.Change) string {
				c.Expect[i].Value, c.Expect[k].Value = c.Expect[k].Value, c.Expect[i].Value
				return fmt.Sprintf("with %s and %s exchanged", c.Expect[k].Name, c.Expect[i].Name)
			}, "expect", c.Expect[k].Name.String())
		}
	}
	for _, f := range []float64{10, 0.1, 1000, 0.001, 100, 0.01} {
		add(func(c *journal.Change) string {
			c.Volume = scaled(c.Volume, f)
			return "volume: " + c.Volume.String()
		}, "volume")
	}
	for _, u := range otherUnits(c.Volume.Unit) {
		add(func(c *journal.Change) string {
			c.Volume.Unit = u
			return "volume: " + c.Volume.String()
		}, "volume")
	}
	for i := range c.Add {
		for _, u := range otherUnits(c.Add[i].Amount.Unit) {
			add(func(c *journal.Change) string {
				c.Add[i].Amount.Unit = u
				return c.Add[i].Substance + ": " + c.Add[i].Amount.String()
			}, "add", c.Add[i].Substance)
		}
		for _, f := range []float64{10, 0.1, 1000, 0.001, 100, 0.01} {
			add(func(c *journal.Change) string {
				c.Add[i].Amount = scaled(c.Add[i].Amount, f)
				return c.Add[i].Substance + ": " + c.Add[i].Amount.String()
			}, "add", c.Add[i].Substance)
		}
		for _, form := range forms(c.Add[i].Substance) {
			add(func(c *journal.Change) string {
				c.Add[i].Substance = form
				return form
			}, "add", c.Add[i].Substance)
		}
	}
	for i, basis := range c.Basis {
		for _, site := range b.j.Sites.List {
			if s, ok := b.Newest(site.ID, c.Proposed.AddDate(0, 0, 1)); ok && s.ID != basis.Session && !slices.ContainsFunc(c.Basis, func(x journal.Basis) bool { return x.Session == s.ID }) {
				add(func(c *journal.Change) string {
					c.Basis[i].Session = s.ID
					return "session: " + s.ID
				}, "basis", strconv.Itoa(i), "session")
			}
		}
	}
	return out
}

// thousand is the unit a thousand times a smaller one.
var thousand = func() map[water.Unit]water.Unit {
	kilogram, _ := water.ParseUnit("kg")
	return map[water.Unit]water.Unit{water.Gram: kilogram, water.Millilitre: water.Litre}
}()

// otherUnits are those that one weight, or one volume, may have been written in instead.
func otherUnits(own water.Unit) (out []water.Unit) {
	for _, list := range [][]string{{"g", "kg", "oz", "lb"}, {"mL", "L", "hL", "gal_us", "bbl_us"}} {
		var of []water.Unit
		for _, name := range list {
			if u, ok := water.ParseUnit(name); ok {
				of = append(of, u)
			}
		}
		if slices.Contains(of, own) {
			out = slices.DeleteFunc(of, func(u water.Unit) bool { return u == own })
		}
	}
	return out
}

// scaled is a quantity with its decimal point moved, or by a factor of a thousand in another unit.
func scaled(q water.Quantity, f float64) water.Quantity {
	for small, large := range thousand {
		if f == 1000 && q.Unit == small {
			q.Unit = large
			return q
		} else if f == 0.001 && q.Unit == large {
			q.Unit = small
			return q
		}
	}
	q.Value *= f
	for q.Decimals = 0; q.Decimals < 6 && math.Abs(q.Value-math.Round(q.Value*math.Pow10(int(q.Decimals)))/math.Pow10(int(q.Decimals))) > 1e-9*math.Abs(q.Value); {
		q.Decimals++
	}
	return q
}

// forms are the other forms of the substance that are sold: hydrates, and what is without water.
func forms(key string) (out []string) {
	own, ok := substance.ByKey(key)
	if !ok || own.Kind != substance.Salt {
		return nil
	}
	for _, s := range substance.All() {
		if s.Key != own.Key && s.Kind == own.Kind && slices.Equal(s.Ions, own.Ions) {
			out = append(out, s.Key)
		}
	}
	return out
}
