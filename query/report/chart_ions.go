package report

import (
	"fmt"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/judge"
	"wj/render"
	"wj/water"
)

// The ions of a water, in the order in which they are drawn.
var (
	cationOrder = []water.ID{water.Calcium, water.Magnesium, water.Sodium, water.Potassium, water.Ammonium, water.Iron, water.Manganese}
	anionOrder  = []water.ID{water.Alkalinity, water.Sulfate, water.Chloride, water.Nitrate, water.Fluoride}
)

// IonsChart is the charge of each ion of one session, in meq/L.
type IonsChart struct {
	Session  string   `json:"session"`
	Sampled  Moment   `json:"sampled"`
	Cations  []Ion    `json:"cations"`
	Anions   []Ion    `json:"anions"`
	Bounds   []string `json:"bounds"` // not drawn: below the range of the method
	Balanced *Balance `json:"balance"`
}

// Ion is one of them.
type Ion struct {
	Ion    string  `json:"ion"`
	Charge *Number `json:"meq_l"`
	// ByDifference says that it was not measured but makes the sums equal.
	ByDifference bool `json:"by_difference,omitempty"`

	name string
}

// Balance is cations less anions, in meq/L and in percent of the sum; null where sodium was not measured and proves nothing.
type Balance struct {
	Difference *Number `json:"difference"`
	U          *Number `json:"u"`
	Percent    *Number `json:"percent"`
	Explained  bool    `json:"explained"` // by the errors of the readings
}

// charge is an ion's charge in meq/L. Alkalinity stands for bicarbonate and carbonate together, those bound in ion pairs too, so
// that the bars add up to the sums of the charge balance.
func charge(v water.Value) float64 {
	info := v.ID.Info()
	if info.MolarMass == 0 {
		return 0
	}
	return v.Value / info.MolarMass * info.Equivalents()
}

// ionsOf are the ions that a water has, and those that are only bounds.
func ionsOf(a *water.Analysis, ids []water.ID) (ions []Ion, bounds []string, missing error) {
	ions = []Ion{}
	for _, id := range ids {
		v, err := a.Value(id)
		switch {
		case err != nil && missing == nil && (id == water.Calcium || id == water.Alkalinity):
			missing = err
		case err != nil:
		case v.Bound != water.Exact:
			bounds = append(bounds, fmt.Sprintf("%s %s%s", id, v.Bound, water.Round(v.Value, 3)))
		case charge(v) > 0.0005:
			one := Ion{Ion: id.String(), Charge: number(charge(v)), ByDifference: id == water.Sodium && v.Derived, name: id.Info().Formula}
			if id == water.Alkalinity {
				one.name = "HCO3+CO3"
			}
			ions = append(ions, one)
		}
	}
	return ions, bounds, missing
}

// ions gathers the ions of one session.
func (c *Chart) ions(j *journal.Journal, q ChartRequest) error {
	s, ok := j.Sessions.Get(q.Ions)
	if !ok {
		return fmt.Errorf("there is no session %q", q.Ions)
	}
	var a water.Analysis
	j.Analysis(s, &a)
	i := &IonsChart{Session: s.ID, Sampled: Moment{s.Sampled}}
	var few, fewer []string
	var err1, err2 error
	i.Cations, few, err1 = ionsOf(&a, cationOrder)
	i.Anions, fewer, err2 = ionsOf(&a, anionOrder)
	if err1 == nil {
		err1 = err2
	}
	if err1 != nil {
		return journal.Hint("such a picture needs calcium (or calcium hardness), alkalinity, and better all ions", "%s cannot be drawn: %w", s.ID, err1)
	}
	if i.Bounds = append(append([]string{}, few...), fewer...); len(i.Bounds) > 0 {
		c.Notes = append(c.Notes, "not drawn, below the range of the method: "+strings.Join(i.Bounds, ", "))
	}
	if _, measured := a.Measured(water.Sodium); !measured {
		c.Notes = append(c.Notes, "sodium was not measured but made up so that the bars are equal: they prove nothing")
	} else if b, err := water.CheckBalance(&a); err == nil {
		i.Balanced = &Balance{number(b.Difference.Value), number(b.Difference.U), number(b.Percent.Value), b.Explained}
		value, half := water.Spread(b.Difference.Value, 2*b.Difference.U)
		verdict := "more than the errors of the readings explain"
		if b.Explained {
			verdict = "the errors of the readings explain it"
		}
		c.Notes = append(c.Notes, fmt.Sprintf("cations less anions %s ± %s meq/L (%.1f %%): %s", value, half, b.Percent.Value, verdict))
	}
	name := s.Site
	if site, ok := j.Sites.Get(s.Site); ok {
		name = site.Name
	}
	c.Kind, c.Title, c.Subtitle, c.Ions = "ions", "Ions of "+name, longDay(s.Sampled)+", "+s.Source, i
	return nil
}

func (c *Chart) ionBars(columns int) render.Drawing {
	parts := func(list []Ion) (out []render.IonPart) {
		for _, i := range list {
			note := ""
			if i.ByDifference {
				note = "by difference, with potassium and every error"
			}
			out = append(out, render.IonPart{Name: i.name, Charge: float64(*i.Charge), Note: note})
		}
		return out
	}
	return render.IonBars(c.Title, c.Subtitle, parts(c.Ions.Cations), parts(c.Ions.Anions), columns, c.Notes)
}

// WaterShares are the shares of the ions of one water, of its cations and of its anions in meq/L; each three add up to 1. Sodium
// stands for sodium and potassium, bicarbonate for bicarbonate and carbonate.
type WaterShares struct {
	Session     string  `json:"session"`
	Site        string  `json:"site"`
	Sampled     Moment  `json:"sampled"`
	Calcium     *Number `json:"calcium"`
	Magnesium   *Number `json:"magnesium"`
	Sodium      *Number `json:"sodium"`
	Bicarbonate *Number `json:"bicarbonate"`
	Sulfate     *Number `json:"sulfate"`
	Chloride    *Number `json:"chloride"`
	// ByDifference says that sodium was not measured.
	ByDifference bool `json:"sodium_by_difference"`
}

// waters gathers the shares of the ions of all waters asked for.
func (c *Chart) waters(j *journal.Journal, q ChartRequest) error {
	sites, err := q.sites(j)
	if err != nil {
		return err
	}
	c.Kind, c.Title, c.Subtitle = "waters", "Shares of the ions", "after Piper 1944"
	derived := false
	for _, site := range sites {
		for _, s := range j.Sessions.List {
			if s.Site != site || !judge.InSeries(s) || !q.From.IsZero() && s.Sampled.Before(q.From) || !q.To.IsZero() && s.Sampled.After(q.To) || len(q.Sources) > 0 && !slices.Contains(q.Sources, s.Source) {
				continue
			}
			w, why := sharesOf(j, s)
			if why != "" {
				c.LeftOut[why]++
				continue
			}
			derived = derived || w.ByDifference
			c.Waters = append(c.Waters, w)
		}
	}
	if len(c.Waters) == 0 {
		return c.none("no water has all the ions")
	}
	c.Notes = append(c.Notes, journal.Count(len(c.Waters), "water")+", in percent of meq/L; nitrate has no place in the diagram")
	if derived {
		c.Notes = append(c.Notes, "where sodium was not measured it is by difference, with potassium and every error")
	}
	if left := c.leftOut(); left != "" {
		c.Notes = append(c.Notes, left)
	}
	return nil
}

func sharesOf(j *journal.Journal, s *journal.Session) (w WaterShares, why string) {
	w = WaterShares{Session: s.ID, Site: s.Site, Sampled: Moment{s.Sampled}}
	var a water.Analysis
	j.Analysis(s, &a)
	get := func(ids ...water.ID) (sum float64) {
		for i, id := range ids {
			v, err := a.Value(id)
			switch {
			case err != nil && i > 0: // potassium adds to what is there
			case err != nil:
				why = "without " + id.String()
			case v.Bound != water.Exact && i == 0:
				why = "with " + id.String() + " below the range"
			case v.Bound == water.Exact:
				sum += max(charge(v), 0)
				w.ByDifference = w.ByDifference || id == water.Sodium && v.Derived
			}
		}
		return sum
	}
	ca, mg, na := get(water.Calcium), get(water.Magnesium), get(water.Sodium, water.Potassium)
	hco3, so4, cl := get(water.Alkalinity), get(water.Sulfate), get(water.Chloride)
	cations, anions := ca+mg+na, hco3+so4+cl
	if why == "" && (cations <= 0 || anions <= 0) {
		why = "without ions"
	}
	w.Calcium, w.Magnesium, w.Sodium = number(ca/cations), number(mg/cations), number(na/cations)
	w.Bicarbonate, w.Sulfate, w.Chloride = number(hco3/anions), number(so4/anions), number(cl/anions)
	return w, why
}

func (c *Chart) piper() render.Drawing {
	var points []render.PiperPoint
	for _, w := range c.Waters {
		points = append(points, render.PiperPoint{Name: w.Site, Calcium: float64(*w.Calcium), Magnesium: float64(*w.Magnesium), Sodium: float64(*w.Sodium),
			Bicarbonate: float64(*w.Bicarbonate), Sulfate: float64(*w.Sulfate), Chloride: float64(*w.Chloride)})
	}
	return render.Piper(c.Title, c.Subtitle, points, c.Notes)
}
