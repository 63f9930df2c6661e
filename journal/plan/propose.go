package plan

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/water"
	"wj/water/treat"
)

// basisWindow is how far behind the newest session that tells enough, be it by
// bounds alone, one that tells more may lie; basisLimit is how far back any may
// lie, as with a permeate that the laboratory sees twice a year.
const (
	basisWindow = 30 * 24 * time.Hour
	basisLimit  = 400 * 24 * time.Hour
)

// needed are the readings that a basis should have as numbers.
var needed = []water.ID{water.Calcium, water.Magnesium, water.Chloride, water.Sulfate, water.Alkalinity, water.PHValue}

// BestBasis is the session to rest a change on for a site: of the newest those
// that tell most of what a treatment is computed from, a number more than a
// bound. The error says that the site has no samples.
func (b *Book) BestBasis(site string, at time.Time) (*journal.Session, error) {
	newest, ok := b.Newest(site, at)
	if !ok {
		return nil, fmt.Errorf("find a basis for %s: it has no session before %s", site, journal.FormatDate(at))
	}
	best, most := newest, -1
	limit := newest.Sampled.Add(-basisLimit)
	list := b.samples(site)
	for i := len(list) - 1; i >= 0; i-- {
		s := list[i]
		if s.Sampled.After(at) {
			continue
		}
		if s.Sampled.Before(limit) {
			break
		}
		tells, all := b.tells(s, at)
		if tells > most {
			best, most = s, tells
		}
		if from := s.Sampled.Add(-basisWindow); all && from.After(limit) {
			limit = from
		}
		if most == 2*len(needed) {
			break
		}
	}
	return best, nil
}

// tells counts what a session says of the needed readings: two for a number,
// one for a bound; all says that none is missing.
func (b *Book) tells(s *journal.Session, at time.Time) (n int, all bool) {
	var a water.Analysis
	b.readings(s, at, &a)
	all = true
	for _, id := range needed {
		if !math.IsNaN(a.Number(id)) {
			n += 2
			continue
		}
		bounded := false
		for _, g := range groupOf(id) {
			m, ok := a.Measured(g)
			bounded = bounded || ok && m.Bound == water.Below
		}
		if bounded {
			n++
		}
		all = all && bounded
	}
	return n, all
}

// SourceOf is a session's water by itself, with a name for the blend.
func (b *Book) SourceOf(s *journal.Session) Source { return b.basis(s) }

// Record writes a plan down as a change: basis sessions by the names of the
// plan's waters, shares and amounts as they will be read again, volume and
// strengths as they were spelled.
func Record(target string, sessions map[string]*journal.Session, p treat.Plan, volume water.Quantity, note string) (*journal.Change, error) {
	c := &journal.Change{For: target, Volume: volume, Open: p.Open}
	var err error
	quantity := func(text string) water.Quantity {
		q, e := water.ParseQuantity(text)
		if e != nil && err == nil {
			err = fmt.Errorf("write the change down: %w", e)
		}
		return q
	}
	if !math.IsNaN(p.Temperature) && p.Temperature != 0 {
		c.Temperature = quantity(decimal(round(p.Temperature, 1)) + " degC")
	}
	for _, w := range p.Waters {
		s, ok := sessions[w.Name]
		if !ok {
			return nil, fmt.Errorf("write the change down: %s has no session", w.Name)
		}
		c.Basis = append(c.Basis, journal.Basis{Session: s.ID, Share: quantity(decimal(round(100*w.Share, 6)) + " %")})
	}
	for _, a := range p.Additions {
		if a.Amount == 0 {
			continue
		}
		d := treat.Dose{Addition: a}
		x := journal.Addition{Substance: a.Substance, Amount: quantity(d.AmountText() + " " + a.Unit.String()), Lot: a.Lot, Stage: a.Stage}
		switch entry, found := a.Entry(); {
		case found != nil:
			return nil, found
		case a.Strength != "":
			x.Strength = a.Strength
		case entry.Liquid || a.Unit == water.Millilitre:
			x.Strength = a.StrengthText()
		case !a.Assay.Unit.IsNone():
			x.Assay = a.Assay
		default:
			x.Assay = quantity(fmt.Sprintf("%s ± %s %%", decimal(round(a.Percent, 3)), decimal(round(a.HalfWidth, 3))))
		}
		if treat.Hazard(a.Product) >= 4 {
			x.Note = note
		}
		c.Add = append(c.Add, x)
	}
	return c, err
}

func decimal(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func round(v float64, digits int) float64 {
	p := math.Pow(10, float64(digits))
	return math.Round(v*p) / p
}

// Entries are the fields of a change as its file has them, expectations
// computed. Lists stand on lines of their own: one fact, one line.
func (b *Book) Entries(c *journal.Change, w *Work) []journal.Entry {
	basis := ""
	for _, x := range c.Basis {
		basis += fmt.Sprintf("\n  - {session: %s, share: %s}", x.Session, x.Share)
	}
	out := []journal.Entry{{Key: "for", Value: c.For}, {Key: "author", Value: c.Author}, {Key: "proposed", Value: journal.FormatDate(c.Proposed)}}
	if c.Supersedes != "" {
		out = append(out, journal.Entry{Key: "supersedes", Value: c.Supersedes})
	}
	out = append(out, journal.Entry{Key: "basis", Value: basis}, journal.Entry{Key: "volume", Value: c.Volume.String()})
	if !c.Temperature.Unit.IsNone() {
		out = append(out, journal.Entry{Key: "temperature", Value: c.Temperature.String()})
	}
	if c.Tank != "" {
		out = append(out, journal.Entry{Key: "tank", Value: c.Tank})
	}
	if c.Open {
		out = append(out, journal.Entry{Key: "open", Value: "true"})
	}
	var add []journal.Entry
	for _, a := range c.Add {
		add = append(add, journal.Entry{Key: a.Substance, Value: AdditionText(a)})
	}
	if len(add) > 0 {
		out = append(out, journal.Entry{Key: "add", Below: add})
	}
	if expect := b.Expect(w); len(expect) > 0 {
		out = append(out, journal.Entry{Key: "expect", Below: expect})
	}
	return out
}

// AdditionText is an addition as a flow mapping: "{amount: 210 g, lot: GY-26-02}".
func AdditionText(a journal.Addition) string {
	text := "{amount: " + a.Amount.String()
	if a.Strength != "" {
		text += ", strength: " + flowText(a.Strength)
	}
	if !a.Assay.Unit.IsNone() {
		text += ", assay: " + a.Assay.String()
	}
	if a.Lot != "" {
		text += ", lot: " + a.Lot
	}
	if a.Stage != "" {
		text += ", stage: " + flowText(a.Stage)
	}
	if a.Note != "" {
		text += ", note: " + flowText(a.Note)
	}
	return text + "}"
}

// flowText quotes a text that would end or split a flow mapping.
func flowText(s string) string {
	for _, r := range s {
		switch r {
		case ',', '{', '}', '[', ']', ':', '#', '"', '\'':
			return strconv.Quote(s)
		}
	}
	return frontmatter.Quote(s)
}
