package main

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"wj/water"
	"wj/water/substance"
)

// dose is one addition of a change.
type dose struct {
	substance string
	amount    float64 // g, or mL of a liquid
	lot       string
	more      string // strength or assay, as the record has it
}

type share struct {
	session string
	percent float64
}

// change is a water change before its expectation is computed.
type change struct {
	id, target, author string
	supersedes         string
	emergency          string
	basis              []share
	volume             float64 // L
	add                []dose
	body               string
}

func (c *change) path() string { return "changes/" + c.id + ".md" }

func (d dose) unit() string {
	if s, ok := substance.ByKey(d.substance); ok && s.Liquid {
		return "mL"
	}
	return "g"
}

func changeNamed(id string) *change {
	for i := range changes {
		if changes[i].id == id {
			return &changes[i]
		}
	}
	return nil
}

// added is what a dose brings into each litre: mg/L of ions and meq/L of acid.
type added struct{ calcium, chloride, sulfate, acid float64 }

// lacticShare is the part of lactic acid that has given its proton away at
// pH 5.4: 1/(1 + 10^(pKa − pH)), pKa 3.86 at 25 degC (CRC Handbook, from memory).
// The readings of the story's tank were drawn with it, and a reading is never
// edited: they lie some 3 mg/L CaCO3 below a perfect titration.
var lacticShare = 1 / (1 + math.Pow(10, 3.86-5.4))

// titratedShare is the same where a titration ends, at pH 4.5; pKa is less 0.07
// there for the activities in a liquor of 10 mmol/L.
var titratedShare = 1 / (1 + math.Pow(10, 3.79-4.5))

func (d dose) in(litres float64) (added, error) {
	s, ok := substance.ByKey(d.substance)
	if !ok {
		return added{}, fmt.Errorf("dose %s: no such substance", d.substance)
	}
	if s.Kind == substance.Acid {
		density, err := s.Density(80)
		if err != nil {
			return added{}, err
		}
		return added{acid: d.amount * density * 0.80 / s.MolarMass() * 1000 / litres * lacticShare}, nil
	}
	perLitre := 1000 * d.amount / litres // mg of salt; the lots declare 100 % of the formula
	return added{calcium: perLitre * s.GramsOf("calcium"), chloride: perLitre * s.GramsOf("chloride"), sulfate: perLitre * s.GramsOf("sulfate")}, nil
}

func (c *change) added() (added, error) {
	var sum added
	for _, d := range c.add {
		a, err := d.in(c.volume)
		if err != nil {
			return sum, fmt.Errorf("change %s: %w", c.id, err)
		}
		sum.calcium += a.calcium
		sum.chloride += a.chloride
		sum.sulfate += a.sulfate
		sum.acid += a.acid
	}
	return sum, nil
}

// meqCaCO3 is mg of CaCO3 per milliequivalent: 100.086/2 (IUPAC weights).
const meqCaCO3 = 50.043

// liquorOn is what a change's blend and dose make of that day's water.
func liquorOn(id string, at time.Time) composition {
	out := composition{}
	c := changeNamed(id)
	if c == nil {
		return out
	}
	for _, b := range c.basis {
		for key, v := range waterOf(b.session, at) {
			out[key] += v * b.percent / 100
		}
	}
	a, err := c.added()
	if err != nil {
		return composition{}
	}
	out["calcium_hardness"] += 2.4973 * a.calcium
	out["total_hardness"] += 2.4973 * a.calcium
	out["chloride"] += a.chloride
	out["sulfate"] += a.sulfate
	out["alkalinity"] -= meqCaCO3 * a.acid
	out["pH"] = 6.6
	return out
}

func waterOf(session string, at time.Time) composition { return source(session[11:], at) }

// analysis turns a session's readings into numbers with their uncertainty.
func analysis(s *session) (water.Analysis, error) {
	var a water.Analysis
	for _, r := range s.readings {
		id, ok := water.LookupAnalyte(r.key)
		if !ok {
			return a, fmt.Errorf("read %s: no analyte %s", s.id, r.key)
		}
		info := id.Info()
		m := water.Measured{}
		d := float64(max(r.dilution, 1))
		for _, shown := range r.shown {
			q, err := water.ParseQuantity(shown)
			if err != nil {
				return a, fmt.Errorf("read %s of %s: %w", r.key, s.id, err)
			}
			if err := info.Fit(q); err != nil {
				return a, fmt.Errorf("read %s of %s: %w", r.key, s.id, err)
			}
			m.Bound = q.Bound
			m.Value += info.Standard(q) * d / float64(len(r.shown))
			if q.Expanded > 0 {
				q.Value = q.Expanded
				m.U = info.Standard(q) / 2
			}
		}
		if s.source == "" {
			t := testOf(r.key)
			m.U = d * (t.absolute + t.relative*m.Value/d) / 2
		}
		a.Set(id, m)
	}
	return a, nil
}

// expectation is the computed result with its 95 % half-widths.
type expectation struct{ key, text string }

var expected = []struct {
	key  string
	id   water.ID
	unit string
}{
	{"calcium", water.Calcium, "mg/L"}, {"sulfate", water.Sulfate, "mg/L"},
	{"chloride", water.Chloride, "mg/L"}, {"residual_alkalinity", water.ResidualAlkalinity, "mg/L CaCO3"},
}

// expect blends the basis and adds the dose. Half-widths: those of the basis by
// its shares, a share's ±1 % on the difference of two waters, and the ±10 %
// (rectangular) of calcium chloride, added in quadrature (GUM 5.1.2).
func (c *change) expect(sessions map[string]*session) (map[string]float64, []expectation, error) {
	a, err := c.added()
	if err != nil {
		return nil, nil, err
	}
	values := map[string]float64{}
	var out []expectation
	for _, e := range expected {
		sum, variance, first := 0.0, 0.0, math.NaN()
		for _, b := range c.basis {
			s := sessions[b.session]
			if s == nil {
				return nil, nil, fmt.Errorf("change %s: no session %s", c.id, b.session)
			}
			w, err := analysis(s)
			if err != nil {
				return nil, nil, err
			}
			v, err := w.Value(e.id)
			if err != nil {
				return nil, nil, fmt.Errorf("change %s, basis %s: %w", c.id, b.session, err)
			}
			sum += v.Value * b.percent / 100
			variance += math.Pow(v.U*b.percent/100, 2)
			if math.IsNaN(first) {
				first = v.Value
			} else {
				variance += math.Pow(0.01/2*(first-v.Value), 2)
			}
		}
		chloride, calcium := 0.0, 0.0
		for _, d := range c.add {
			if d.substance == "calcium_chloride_dihydrate" {
				b, err := d.in(c.volume)
				if err != nil {
					return nil, nil, err
				}
				chloride, calcium = b.chloride*0.1/math.Sqrt(3), b.calcium*0.1/math.Sqrt(3)
			}
		}
		switch e.key {
		case "calcium":
			sum, variance = sum+a.calcium, variance+calcium*calcium
		case "sulfate":
			sum += a.sulfate
		case "chloride":
			sum, variance = sum+a.chloride, variance+chloride*chloride
		case "residual_alkalinity":
			// Kolbach 1953: calcium counts 1/3.5.
			sum -= meqCaCO3*a.acid*titratedShare/lacticShare + 2.4973*a.calcium/3.5
			variance += math.Pow(2.4973*calcium/3.5, 2)
		}
		values[e.key] = sum
		v, half := water.Spread(sum, 2*math.Sqrt(variance))
		out = append(out, expectation{e.key, v + " ± " + half + " " + e.unit})
	}
	return values, out, nil
}

func plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// text writes the change's record.
func (c *change) text(expect []expectation, ignore []pair) string {
	var b strings.Builder
	fmt.Fprintf(&b, "---\nfor: %s\nauthor: %s\nproposed: %s\n", c.target, c.author, c.id[:10])
	if c.supersedes != "" {
		fmt.Fprintf(&b, "supersedes: %s\n", c.supersedes)
	}
	b.WriteString("basis:\n")
	for _, s := range c.basis {
		fmt.Fprintf(&b, "  - {session: %s, share: %s %%}\n", s.session, plain(s.percent))
	}
	fmt.Fprintf(&b, "volume: %s L\nadd:\n", plain(c.volume))
	width := 0
	for _, d := range c.add {
		width = max(width, len(d.substance)+1)
	}
	for _, d := range c.add {
		fmt.Fprintf(&b, "  %-*s {amount: %s %s", width, d.substance+":", plain(d.amount), d.unit())
		if d.more != "" {
			fmt.Fprintf(&b, ", %s", d.more)
		}
		fmt.Fprintf(&b, ", lot: %s}\n", d.lot)
	}
	b.WriteString("expect:\n")
	for _, e := range expect {
		fmt.Fprintf(&b, "  %s: %s\n", e.key, e.text)
	}
	b.WriteString(c.emergency)
	ignored(&b, ignore)
	b.WriteString("---\n\n" + strings.TrimSpace(c.body) + "\n")
	return b.String()
}
