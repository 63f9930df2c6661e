package report

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"wj/docs/schema"
	"wj/journal"
	"wj/journal/judge"
	"wj/render"
	"wj/water"
)

// Stock is what is left of lots, and how long it lasts.
type Stock struct {
	Schema string       `json:"schema"`
	On     Day          `json:"on"`   // the day that was asked for
	Days   int          `json:"days"` // whose use is the rate of use
	Answer []string     `json:"answer"`
	Groups []StockGroup `json:"groups"` // what ends first comes first

	hidden int // lots left out
}

// StockGroup is lots that stand in for each other, in the order in which they will be used.
type StockGroup struct {
	Journal string     `json:"journal,omitempty"` // of several
	For     string     `json:"for"`
	RunsOut Day        `json:"runs_out"` // null: not known, or nothing is used
	Lots    []StockLot `json:"lots"`

	on time.Time // in the journal's zone
}

// StockLot is one lot. Amounts are tests, or in the lot's own unit.
type StockLot struct {
	Lot     string  `json:"lot"`
	State   string  `json:"state"` // in stock, used up, expired, finished, recalled
	Since   Day     `json:"since"` // of what ended it
	Unit    string  `json:"unit"`  // tests, or the lot's own
	Left    *Number `json:"left"`  // null: not known; below 0 where more was taken than there was
	Of      *Number `json:"of"`
	PerDay  *Number `json:"per_day"` // of all lots that stand in for it
	Opened  Day     `json:"opened"`
	Expires Day     `json:"expires"`
	Until   Day     `json:"lasts_until"`
	Short   bool    `json:"expires_first"` // its last day comes before it is used up

	holding *judge.Holding
}

// NewStock draws up what judge.Stock counts; all takes lots too that are no longer in stock.
func NewStock(j *journal.Journal, groups []*judge.Group, now time.Time, days int, all bool) *Stock {
	s := &Stock{Schema: schema.ID("stock"), On: Day{journal.Day(now.In(j.Settings.Zone))}, Days: days, Groups: []StockGroup{}}
	for _, g := range groups {
		one := StockGroup{For: g.Name, Lots: []StockLot{}, on: s.On.Time}
		if end, known := g.RunsOut(); known {
			one.RunsOut = Day{end}
		}
		for _, h := range g.Lots {
			if h.Gone != judge.InStock && !all {
				s.hidden++
				continue
			}
			lot := StockLot{Lot: h.Lot.ID, State: h.Gone.String(), Since: Day{h.GoneOn}, Unit: unitOfLot(h.Unit), Opened: Day{h.Lot.Opened}, Expires: Day{h.Lot.Expires}, Short: h.Short, holding: h}
			if h.Known {
				lot.Left, lot.Of = number(h.Left), number(h.Of)
			}
			if h.Gone == judge.InStock {
				lot.Until = Day{h.Until}
				if h.PerDay > 0 {
					lot.PerDay = number(h.PerDay)
				}
			}
			one.Lots = append(one.Lots, lot)
		}
		if len(one.Lots) > 0 {
			s.Groups = append(s.Groups, one)
		}
	}
	return s.answer()
}

// answer puts what ends first before the rest, and says what to order.
func (s *Stock) answer() *Stock {
	first := func(g StockGroup) time.Time {
		end := s.On.AddDate(100, 0, 0)
		for _, lot := range g.Lots {
			if until := lot.Until.Time; !until.IsZero() && until.Before(end) {
				end = until
			}
		}
		return end
	}
	slices.SortStableFunc(s.Groups, func(a, b StockGroup) int { return first(a).Compare(first(b)) })
	soon := s.On.AddDate(0, 0, 30)
	var lots int
	var order, ending []string
	for _, g := range s.Groups {
		if end := g.RunsOut.Time; !end.IsZero() && end.Before(soon) {
			order = append(order, strings.TrimPrefix(g.Journal+": ", ": ")+g.words()+" lasts until "+DayText(end)+": order now")
		}
		for _, lot := range g.Lots {
			if lot.State != judge.InStock.String() {
				continue
			}
			lots++
			if end := lot.Expires.Time; !end.IsZero() && end.Before(soon) {
				ending = append(ending, lot.Lot)
			}
		}
	}
	s.Answer = []string{journal.Count(lots, "lot") + " in stock; nothing runs out within 30 days."}
	if len(order) > 0 {
		s.Answer = []string{journal.Count(lots, "lot") + " in stock; " + strings.Join(order, "; ") + "."}
	}
	if len(ending) > 0 {
		s.Answer = append(s.Answer, "Last day within 30 days: "+strings.Join(ending, ", ")+".")
	}
	if s.hidden > 0 {
		s.Answer = append(s.Answer, journal.Count(s.hidden, "lot")+" used up, expired, finished or recalled left out; --all shows them.")
	}
	return s
}

// words is what a group is for, as people say it.
func (g StockGroup) words() string {
	what, _, _ := strings.Cut(g.For, ":")
	return strings.ReplaceAll(what, "_", " ")
}

// UniteStocks is the lots of several journals, each counted by its own.
func UniteStocks(journals []string, list []*Stock) *Stock {
	s := &Stock{Schema: list[0].Schema, On: list[0].On, Days: list[0].Days, Groups: []StockGroup{}}
	for i, one := range list {
		s.hidden += one.hidden
		for _, g := range one.Groups {
			g.Journal = journals[i]
			s.Groups = append(s.Groups, g)
		}
	}
	return s.answer()
}

// Document is the stock on a screen.
func (s *Stock) Document() render.Document {
	d := render.Document{Title: "Stock on " + DayText(s.On.Time)}
	for _, line := range s.Answer {
		d.Answer("%s", line)
	}
	d.Table("", s.Table(true))
	return d
}

func unitOfLot(u water.Unit) string {
	if u.IsNone() {
		return "tests"
	}
	return u.String()
}

// Table lists the lots. The narrow one writes what is left beside what there was,
// and the remarks below; the other is for programs too, with numbers and units apart.
func (s *Stock) Table(narrow bool) render.Table {
	t := render.Table{Columns: render.Heads("lot", "for", "left#", "of#", "use in 30 d#", "unit", "expires", "lasts until", "remark")}
	if narrow {
		t.Columns = render.Heads("lot", "for", "left#", "use in 30 d#", "expires", "lasts until")
	}
	var journals []string
	for _, g := range s.Groups {
		for _, lot := range g.Lots {
			h, use, left, of := lot.holding, "", "", ""
			remark, state := stockRemark(h, g.on)
			if h.PerDay > 0 {
				use = water.Round(30*h.PerDay, 2) + unitAfter(h)
			}
			if h.Known {
				left, of = amountText(h, h.Left), amountText(h, h.Of)
				if narrow && !h.Unit.IsNone() {
					of = h.Lot.Amount.String()
				}
			}
			bare := func(text string) string { return strings.TrimSuffix(text, " "+lot.Unit) }
			texts := []string{lot.Lot, g.For, bare(left), bare(of), bare(use), lot.Unit, DayText(h.Lot.Expires), DayText(lot.Until.Time), remark}
			if narrow {
				if of != "" {
					_, unit, _ := strings.Cut(of, " ")
					left = strings.TrimSuffix(left, " "+unit) + " of " + of
				}
				texts = []string{lot.Lot, g.words(), left, use, texts[6], texts[7]}
				if remark != "" && (!h.Short || state == render.Dim || g.on.AddDate(0, 0, 180).After(h.Lot.Expires)) {
					t.Notes = append(t.Notes, lot.Lot+": "+remark)
				}
			}
			row := make([]render.Cell, len(texts))
			for i, text := range texts {
				row[i] = render.Cell{Text: text, State: state}
			}
			t.Rows, journals = append(t.Rows, row), append(journals, g.Journal)
		}
	}
	return withJournals(t, func(i int) string { return journals[i] })
}

// stockRemark is what should be known of a lot.
func stockRemark(h *judge.Holding, today time.Time) (string, render.State) {
	switch h.Gone {
	case judge.UsedUp:
		return "used up", render.Dim
	case judge.Expired:
		return "expired " + DayText(h.GoneOn), render.Dim
	case judge.Finished:
		return "finished " + DayText(h.GoneOn), render.Dim
	case judge.Recalled:
		return "recalled " + DayText(h.GoneOn), render.Dim
	}
	switch {
	case h.OtherUnit:
		return "weighed in other units than the lot is kept in", render.Plain
	case !h.Lot.Expires.IsZero() && today.AddDate(0, 0, 30).After(h.Lot.Expires):
		return "last day in " + journal.Count(int(h.Lot.Expires.Sub(today).Hours()/24), "day"), render.Plain
	case h.Short:
		return "will not be used up before its last day", render.Plain
	}
	return "", render.Plain
}

func unitAfter(h *judge.Holding) string {
	if h.Unit.IsNone() || h.OtherUnit {
		return ""
	}
	return " " + h.Unit.String()
}

// amountText writes tests as whole numbers, weights with three digits.
func amountText(h *judge.Holding, v float64) string {
	if h.Unit.IsNone() {
		return strconv.Itoa(int(v))
	}
	return water.Round(v, 3) + unitAfter(h)
}
