package plan

import (
	"math"
	"slices"
	"strconv"
	"time"

	"wj/water"
	"wj/water/treat"
)

// Answer is a treatment as every screen and format draws it; its fields are those
// of the JSON. Values are in the standard unit of their name, low and high the 95 %
// range over all that solids may do.
type Answer struct {
	Version    string                 `json:"version"`
	Target     string                 `json:"target,omitempty"`
	Change     string                 `json:"change,omitempty"`
	Volume     float64                `json:"volume"`
	VolumeUnit string                 `json:"volume_unit"`
	Waters     []AnswerWater          `json:"waters"`
	Doses      []AnswerDose           `json:"doses"`
	Result     map[string]AnswerValue `json:"result"`
	// Kept says whether all limits are kept as asked; Chance how likely all are
	// kept together. Both are null without a target, and Chance where a range is
	// not judged; Kept is null there unless another limit is not kept.
	Kept      *bool       `json:"kept"`
	Chance    *float64    `json:"chance"`
	NotJudged []NotJudged `json:"not_judged,omitempty"`
	// ChanceBut leaves out what is not judged, and the narrow limits, which no
	// dose keeps surely; Asked is compared with it.
	ChanceBut *float64           `json:"chance_of_the_rest,omitempty"`
	Narrow    []string           `json:"narrow,omitempty"`
	Asked     float64            `json:"chance_asked,omitempty"`
	Chances   map[string]float64 `json:"chances"`
	Doubts    []AnswerDoubt      `json:"doubts,omitempty"`
	Equal     [][]string         `json:"equally_good,omitempty"`
	Missed    []string           `json:"missed,omitempty"`
	Binds     []string           `json:"binds,omitempty"`
	Solids    *AnswerSolids      `json:"solids,omitempty"`
	Chlorine  *AnswerChlorine    `json:"chlorine,omitempty"`
	InRange   *bool              `json:"in_range"`
	// Temperature of the liquor in degC, and whether it stands open to the air.
	Temperature *float64        `json:"temperature"`
	Open        bool            `json:"open"`
	Cautions    []AnswerCaution `json:"cautions"`
	Notes       []string        `json:"notes,omitempty"`
	Tank        string          `json:"tank,omitempty"`
	Sparge      *Answer         `json:"sparge,omitempty"`
	Basis       []string        `json:"basis_doubts,omitempty"`
	Assumes     []string        `json:"assumes"`
	Cost        *float64        `json:"cost"`
	Currency    string          `json:"currency,omitempty"`
}

// AnswerWater is one water of the blend.
type AnswerWater struct {
	Site    string  `json:"site"`
	Session string  `json:"session"`
	Share   float64 `json:"share"`
	Litres  float64 `json:"litres"`
	// Capacity is how much there is in a day, Reject what a membrane throws away
	// for it, Passage the part of its feed's salt that it lets through now.
	Capacity *float64 `json:"capacity,omitempty"`
	Reject   *float64 `json:"reject_litres,omitempty"`
	Passage  *float64 `json:"salt_passage,omitempty"`
	Cost     *float64 `json:"cost,omitempty"`
}

// AnswerDose is one weighed or measured amount.
type AnswerDose struct {
	Substance string  `json:"substance"`
	Amount    float64 `json:"amount"`
	Unit      string  `json:"unit"`
	Strength  string  `json:"strength"`
	Volume    float64 `json:"volume"`
	Litres    string  `json:"volume_unit"`
	Most      float64 `json:"most"`
	Why       string  `json:"why"`
	Lot       string  `json:"lot,omitempty"`
	Stage     string  `json:"stage,omitempty"`
}

// AnswerValue is one value of the treated water. None and Full are it at the ends
// of what solids may do, where they differ.
type AnswerValue struct {
	Value  *float64 `json:"value"`
	Low    *float64 `json:"low"`
	High   *float64 `json:"high"`
	Unit   string   `json:"unit"`
	U      *float64 `json:"u"`
	Blend  *float64 `json:"blend,omitempty"`
	Min    *float64 `json:"min,omitempty"`
	Max    *float64 `json:"max,omitempty"`
	Inside *bool    `json:"inside,omitempty"`
	Margin *float64 `json:"margin,omitempty"`
	None   *float64 `json:"none,omitempty"`
	Full   *float64 `json:"equilibrium,omitempty"`
}

// AnswerDoubt is a source of error with its part of the doubt.
type AnswerDoubt struct {
	Source string  `json:"source"`
	Part   float64 `json:"part"`
}

// AnswerSolids is what falls out or stays undissolved, g in the whole volume but
// for the potential.
type AnswerSolids struct {
	// Potential is mg/L of calcium carbonate that would fall out to equilibrium;
	// negative would dissolve.
	Potential   *float64           `json:"potential"`
	Formed      float64            `json:"formed"`
	FormedMost  float64            `json:"formed_most"`
	Magnesium   float64            `json:"magnesium_hydroxide"`
	Undissolved map[string]float64 `json:"undissolved,omitempty"`
}

// AnswerChlorine is what a metabisulfite takes out.
type AnswerChlorine struct {
	Total          *float64 `json:"total"`
	U              *float64 `json:"u"`
	Free           *float64 `json:"free"`
	Need           *float64 `json:"need"`
	Sulfate        *float64 `json:"sulfate"`
	Chloride       *float64 `json:"chloride"`
	Sodium         *float64 `json:"sodium"`
	Potassium      *float64 `json:"potassium"`
	Ammonium       *float64 `json:"ammonium"`
	AlkalinityUsed *float64 `json:"alkalinity_used"`
	ChlorineLeft   *float64 `json:"chlorine_left"`
	SulfiteLeft    *float64 `json:"sulfite_left"`
}

// AnswerCaution is one thing to know before dosing.
type AnswerCaution struct {
	Severity string `json:"severity"`
	Rule     string `json:"rule"`
	Message  string `json:"message"`
	Help     string `json:"help"`
	Source   string `json:"source"`
}

// figure is a number with six digits, nil where there is none.
func figure(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	v, _ = strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
	if v == 0 {
		v = 0 // not -0
	}
	return &v
}

func plainFigure(v float64) float64 {
	if p := figure(v); p != nil {
		return *p
	}
	return 0
}

// Worked is the answer that a work gives, without what a search found.
func (b *Book) Worked(w *Work, limits treat.Limits) *Answer {
	p := w.Prediction
	a := &Answer{Version: Version, Target: w.Change.For, Volume: plainFigure(p.Plan.Volume), VolumeUnit: "L", Result: map[string]AnswerValue{}, Chances: map[string]float64{},
		Waters: []AnswerWater{}, Doses: []AnswerDose{}, Cautions: []AnswerCaution{}, Open: p.Plan.Open, Currency: w.Currency,
		Assumes: append(append([]string{}, p.Assumptions...), Version)}
	for i := range w.Sources {
		s := &w.Sources[i]
		a.Waters = append(a.Waters, b.waterOf(w, s))
	}
	for _, d := range p.Doses {
		a.Doses = append(a.Doses, AnswerDose{Substance: d.Substance, Amount: plainFigure(d.Amount), Unit: d.Unit.String(), Strength: d.StrengthText(), Volume: plainFigure(d.Volume), Litres: "L",
			Most: plainFigure(d.Most), Why: d.Why, Lot: d.Lot, Stage: d.Stage})
	}
	if cost, ok := w.Cost(); ok {
		a.Cost = figure(math.Round(cost*100) / 100)
	}
	b.values(a, w)
	balance, err := p.Equilibrate()
	if err != nil {
		balance = nil
	} else {
		a.equilibrium(balance)
		a.solids(p, balance)
	}
	for _, c := range limits.Check(p, balance) {
		a.Cautions = append(a.Cautions, AnswerCaution{string(c.Severity), c.Rule, c.Message, c.Help, c.Source})
	}
	a.Cautions = append(a.Cautions, b.unfit(w, a.Cautions)...)
	if r := p.Removal(); r != nil {
		a.Chlorine = &AnswerChlorine{figure(r.Chlorine.Total), figure(r.Chlorine.UTotal), figure(r.Chlorine.Free), figure(r.Theory), figure(r.Sulfate), figure(r.Chloride), figure(r.Sodium),
			figure(r.Potassium), figure(r.Ammonium), figure(r.AlkalinityUsed), figure(r.ChlorineLeft), figure(r.SulfiteLeft)}
	}
	return a
}

// values are the usual ones, those of the target, and what else the doses bring.
func (b *Book) values(a *Answer, w *Work) {
	for _, id := range append(b.Values(w.Change), water.Potassium, water.Nitrate, water.CalciumHardness, water.TotalHardness) {
		v := b.Verdict(w, id)
		if _, told := a.Result[id.String()]; told || !v.Known {
			continue
		}
		r := v.Range
		x := AnswerValue{Value: figure(r.Value.Value), Low: figure(r.Low), High: figure(r.High), Unit: id.Info().Unit.String(), U: figure(r.U), Min: figure(v.Min), Max: figure(v.Max)}
		if blend, err := w.Prediction.Blend(id); err == nil {
			x.Blend = figure(blend.Value)
		}
		if v.Limited() {
			inside := v.Inside()
			x.Inside, x.Margin = &inside, figure(v.Margin)
		}
		if r.Solids() {
			x.None, x.Full = figure(r.None), figure(r.Full)
		}
		a.Result[id.String()] = x
	}
}

func (a *Answer) equilibrium(e *treat.Equilibrium) {
	set := func(name string, v water.Value, low, high float64) {
		old := a.Result[name]
		a.Result[name] = AnswerValue{Value: figure(v.Value), Low: figure(low), High: figure(high), Unit: v.ID.Info().Unit.String(), U: figure(v.U), Min: old.Min, Max: old.Max, Inside: old.Inside, Margin: old.Margin}
	}
	even := func(name string, v water.Value) { set(name, v, v.Value-v.Expanded(), v.Value+v.Expanded()) }
	set("pH", e.PH, e.PHRange.Low, e.PHRange.High)
	set("pH_open", e.PHDegassed, e.PHDegassedRange.Low, e.PHDegassedRange.High)
	if e.InRange { // of sea water and the like the model knows too little
		set("saturation_index", e.Calcite, e.CalciteRange.Low, e.CalciteRange.High)
	}
	even("conductivity", e.Conductivity)
	even("carbon_dioxide", e.CarbonDioxide)
	a.InRange, a.Temperature = &e.InRange, figure(e.Temperature)
}

func (a *Answer) solids(p *treat.Prediction, e *treat.Equilibrium) {
	litres := p.Plan.Volume / 1000 // mg/L to g
	a.Solids = &AnswerSolids{Formed: plainFigure(e.Formed * litres), FormedMost: plainFigure(e.FormedMost * litres), Magnesium: plainFigure(e.Brucite * litres)}
	if e.InRange {
		a.Solids.Potential = figure(e.Precipitation)
	}
	for _, u := range e.Undissolved {
		if a.Solids.Undissolved == nil {
			a.Solids.Undissolved = map[string]float64{}
		}
		a.Solids.Undissolved[u.Substance] += plainFigure(u.Grams)
	}
}

// Told is the answer to a question.
func (t *Treatment) Told(limits treat.Limits) *Answer {
	a := t.book.Worked(t.Work, limits)
	a.Notes, a.Tank = t.Notes, t.tank
	if t.Sparge != nil {
		a.Sparge = t.Sparge.Told(limits)
	}
	a.judge(t.Targets, t.NotJudged, t.Chance, t.Question.Chance)
	if t.Target != nil {
		a.Basis = t.book.Doubts(t.Work, t.Question.Now)
	}
	if s := t.Answer; s != nil {
		a.Equal = s.Equal
		for _, r := range s.Results {
			if r.Missed != 0 {
				a.Missed = append(a.Missed, r.Words)
			}
		}
		if a.Kept == nil || !*a.Kept { // where all limits are kept, nothing holds the answer back
			for _, x := range s.Bindings {
				a.Binds = append(a.Binds, x.Words)
			}
		}
	}
	return a
}

// judge writes down how likely targets are kept.
func (a *Answer) judge(targets []treat.Target, left []NotJudged, c *treat.Chance, asked float64) {
	if a.NotJudged = left; c == nil {
		return
	}
	all, but, kept := plainFigure(c.All), plainFigure(c.Wide), c.Wide >= asked
	for k, t := range targets {
		name := t.Name()
		r := c.Ranges[k]
		inside := true
		for _, v := range []float64{r.None, r.Tank, r.Value.Value} {
			inside = inside && !(v < t.Min) && !(v > t.Max)
		}
		kept = kept && inside
		a.Chances[name] = plainFigure(c.Of[k])
		if c.Narrow[k] {
			a.Narrow = append(a.Narrow, name)
		}
		x := a.Result[name]
		if x.Value == nil {
			x = AnswerValue{Value: figure(r.Value.Value), U: figure(r.U), Unit: t.ID.Info().Unit.String()}
		}
		x.Low, x.High, x.Min, x.Max, x.Inside = figure(r.Low), figure(r.High), figure(t.Min), figure(t.Max), &inside
		a.Result[name] = x
	}
	a.Kept, a.Chance, a.Asked = &kept, &all, asked
	if len(a.Narrow)+len(left) > 0 {
		a.ChanceBut = &but
	}
	if len(left) > 0 { // what was not judged may be anywhere
		if a.Chance = nil; kept {
			a.Kept = nil
		}
	}
	for _, d := range c.Doubts[:min(len(c.Doubts), 3)] {
		a.Doubts = append(a.Doubts, AnswerDoubt{d.Source, plainFigure(math.Round(d.Part*1000) / 1000)})
	}
}

// Fails reports an answer that nobody should dose as it is: a caution forbids
// it, or limits that were searched for are not kept.
func (a *Answer) Fails(searched bool) bool {
	return searched && a.Kept != nil && !*a.Kept || slices.ContainsFunc(a.Cautions, func(c AnswerCaution) bool { return c.Severity == string(treat.Error) })
}

// Judged is the answer of a change that is worked out, held against its target.
func (b *Book) Judged(w *Work, at time.Time, limits treat.Limits) *Answer {
	g := b.judgementOf(w, at)
	a := b.Worked(w, limits)
	a.Change = w.Change.ID
	if len(g.Targets)+len(g.NotJudged) == 0 {
		return a
	}
	var chance *treat.Chance
	if len(g.Targets) > 0 {
		if c, err := w.Prediction.Chance(g.Targets); err == nil {
			chance = &c
		} else {
			for _, t := range g.Targets {
				g.leave(t, err)
			}
		}
	}
	a.judge(g.Targets, g.NotJudged, chance, treat.AskedChance)
	return a
}
