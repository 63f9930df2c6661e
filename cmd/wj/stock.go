package main

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/query/report"
	"wj/render"
	"wj/water"
)

type stockCmd struct {
	All    bool   `help:"Lots that are used up, finished, expired or recalled too."`
	Days   int    `default:"90" placeholder:"N" help:"The rate of use is that of the last N days."`
	Format string `enum:"table,csv,json,jsonl,markdown" default:"table" help:"${enum}."`

	asOf
}

func (c *stockCmd) Help() string {
	return "Reagents count tests: each reading and each replicate took one, and so did a first strip that ran past the range (tests: in the reading). Salts and acids count what batches weighed. " +
		"Lots of one kind are taken to be used one after another, the open one first; a lot ends when it is used up or on its last day, whichever is sooner."
}

func (c *stockCmd) Run(a *app) error {
	if c.Days < 1 {
		return withHint("such as --days 90", "a rate of use needs at least one day")
	}
	j, _, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	if err := c.set(a, j.Settings.Zone); err != nil {
		return err
	}
	now := a.now().In(j.Settings.Zone)
	today := journal.Day(now)
	stock := judge.Stock(j, now, c.Days)
	if c.Format == "json" {
		return a.showJSON(report.NewStock(j, stock, now, c.Days, c.All))
	}
	l := listing{columns: heads("lot", "for", "left#", "of#", "use in 30 d#", "expires", "lasts until", "remark")}
	var notes []string
	hidden := 0
	for _, g := range stock {
		for _, h := range g.Lots {
			if h.Gone != judge.InStock && !c.All {
				hidden++
				continue
			}
			remark, state := stockRemark(h, today)
			if remark != "" && (!h.Short || state == render.Dim || today.AddDate(0, 0, 180).After(h.Lot.Expires)) {
				notes = append(notes, h.Lot.ID+": "+remark)
			}
			use, until, left, of := "", "", "", ""
			if h.PerDay > 0 {
				use = water.Round(30*h.PerDay, 2) + unitAfter(h)
			}
			if !h.Until.IsZero() && h.Gone == judge.InStock {
				until = day(h.Until)
			}
			if h.Known {
				left, of = amountText(h, h.Left), amountText(h, h.Of)
				if !h.Unit.IsNone() {
					of = h.Lot.Amount.String()
				}
			}
			l.add(h.Lot.ID, g.Name, left, of, use, day(h.Lot.Expires), until, remark)
			row := l.rows[len(l.rows)-1]
			for i := range row {
				row[i].State = state
			}
		}
	}
	if len(l.rows) == 0 {
		a.say("no lots in stock")
		return errFindings
	}
	if c.Format == "table" {
		err = a.print(a.out.Table(narrow(l, notes)))
	} else {
		err = l.print(a, c.Format)
	}
	if err != nil {
		return err
	}
	if hidden > 0 {
		a.say("%s used up, expired, finished or recalled left out; --all shows them", count(hidden, "lot"))
	}
	for _, g := range stock {
		if end, known := g.RunsOut(); known && end.Before(today.AddDate(0, 0, 30)) {
			a.say("%s lasts until %s: order now", g.Name, day(end))
		}
	}
	return nil
}

// stockRemark is what should be known of a lot.
func stockRemark(h *judge.Holding, today time.Time) (string, render.State) {
	switch h.Gone {
	case judge.UsedUp:
		return "used up", render.Dim
	case judge.Expired:
		return "expired " + day(h.GoneOn), render.Dim
	case judge.Finished:
		return "finished " + day(h.GoneOn), render.Dim
	case judge.Recalled:
		return "recalled " + day(h.GoneOn), render.Dim
	}
	switch {
	case h.OtherUnit:
		return "weighed in other units than the lot is kept in", render.Plain
	case !h.Lot.Expires.IsZero() && today.AddDate(0, 0, 30).After(h.Lot.Expires):
		return "last day in " + dayCount(h.Lot.Expires.Sub(today)), render.Plain
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

// narrow is the listing as it fits a terminal: what is left beside what there
// was, remarks below.
func narrow(l listing, notes []string) render.Table {
	t := render.Table{Columns: heads("lot", "for", "left#", "use in 30 d#", "expires", "lasts until"), Notes: notes}
	for _, r := range l.rows {
		left := r[2]
		if r[3].Text != "" {
			left.Text = strings.TrimSuffix(left.Text, unitOf(r[3].Text)) + " of " + r[3].Text
		}
		what := r[1]
		what.Text, _, _ = strings.Cut(what.Text, ":")
		t.Rows = append(t.Rows, []render.Cell{r[0], what, left, r[4], r[5], r[6]})
	}
	return t
}

// unitOf is the unit behind a number, with its blank.
func unitOf(s string) string {
	if i := strings.IndexByte(s, ' '); i >= 0 {
		return s[i:]
	}
	return "\x00"
}

func dayCount(d time.Duration) string {
	n := int(d.Hours() / 24)
	if n == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%d days", n)
}
