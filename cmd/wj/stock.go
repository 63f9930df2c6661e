package main

import (
	"fmt"
	"sort"
	"strings"
	"time"

	"wj/journal"
	"wj/render"
	"wj/water"
)

type stockCmd struct {
	All    bool   `help:"Lots that are used up, finished, expired or recalled too."`
	Days   int    `default:"90" placeholder:"N" help:"The rate of use is that of the last N days."`
	Format string `enum:"table,csv,jsonl,markdown" default:"table" help:"${enum}."`

	asOf
}

func (c *stockCmd) Help() string {
	return "Reagents count tests: each reading and each replicate took one. Salts and acids count what batches weighed. " +
		"Lots of one kind are taken to be used one after another, the open one first; a lot ends when it is used up or on its last day, whichever is sooner."
}

// kept is one lot in stock.
type kept struct {
	lot          *journal.Lot
	what         string
	left, of     string
	remaining    float64 // tests, or the lot's own unit; negative is not known
	unit         string
	perDay       float64
	until        time.Time
	short        bool // it will outlive its last day with something left
	gone         string
	doubtfulUnit bool
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
	groups := c.groups(j, now)
	l := listing{columns: heads("lot", "for", "left#", "of#", "use in 30 d#", "expires", "lasts until", "remark")}
	var notes []string
	hidden := 0
	for _, g := range groups {
		for _, k := range g {
			if k.gone != "" && !c.All {
				hidden++
				continue
			}
			use, until, remark := "", "", k.gone
			if k.perDay > 0 {
				use = water.Round(30*k.perDay, 2) + k.unit
			}
			state := render.Plain
			switch {
			case k.gone != "":
				state = render.Dim
			case k.doubtfulUnit:
				remark = "weighed in other units than the lot is kept in"
			case !k.lot.Expires.IsZero() && journal.Day(now).AddDate(0, 0, 30).After(k.lot.Expires):
				remark = "last day in " + dayCount(k.lot.Expires.Sub(journal.Day(now)))
			case k.short:
				remark = "will not be used up before its last day"
			}
			if remark != "" && (!k.short || state == render.Dim || journal.Day(now).AddDate(0, 0, 180).After(k.lot.Expires)) {
				notes = append(notes, k.lot.ID+": "+remark)
			}
			if !k.until.IsZero() && k.gone == "" {
				until = day(k.until)
			}
			l.add(k.lot.ID, k.what, k.left, k.of, use, day(k.lot.Expires), until, remark)
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
	for _, g := range groups {
		if name, end := runsOut(g); name != "" && end.Before(journal.Day(now).AddDate(0, 0, 30)) {
			a.say("%s lasts until %s: order now", name, day(end))
		}
	}
	return nil
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

// runsOut is the day on which the last lot of a group ends; the name is empty
// where nothing is used.
func runsOut(g []*kept) (name string, end time.Time) {
	for _, k := range g {
		if k.gone == "" && k.until.IsZero() {
			return "", end
		}
		if k.gone == "" && k.perDay > 0 {
			name = k.what
			if k.until.After(end) {
				end = k.until
			}
		}
	}
	return name, end
}

// groups gathers the lots that stand in for each other, in the order in which
// they will be used.
func (c *stockCmd) groups(j *journal.Journal, now time.Time) [][]*kept {
	used := j.TestsUsed()
	since := now.AddDate(0, 0, -c.Days)
	recent := map[string]float64{} // by lot
	for _, s := range j.Sessions.List {
		if s.Sampled.Before(since) || s.Sampled.After(now) {
			continue
		}
		for i := range s.Readings {
			recent[s.Readings[i].Lot] += float64(s.Readings[i].Replicates())
		}
	}
	by := map[string][]*kept{}
	var order []string
	rate := map[string]float64{}
	for _, lot := range j.Lots.List {
		if lot.Void != nil || !lot.Received.IsZero() && lot.Received.After(journal.Day(now)) {
			continue
		}
		k := &kept{lot: lot, remaining: -1}
		key := ""
		switch {
		case len(lot.Analytes) > 0:
			k.what, key = names(lot.Analytes), names(lot.Analytes)
			rate[key] += recent[lot.ID] / float64(c.Days)
			if lot.Tests > 0 {
				taken := used[lot.ID] + lot.Losses
				k.remaining = float64(max(lot.Tests-taken, 0))
				k.left, k.of = fmt.Sprint(lot.Tests-taken), fmt.Sprint(lot.Tests)
			}
		case lot.Substance != "":
			k.what, key = strings.ReplaceAll(lot.Substance, "_", " "), lot.Substance
			rate[key] += c.weighed(j, k, since, now)
		case len(lot.Standard) > 0:
			var ids []water.ID
			for id := range lot.Standard {
				ids = append(ids, id)
			}
			sort.Slice(ids, func(a, b int) bool { return ids[a] < ids[b] })
			k.what, key = "check standard: "+names(ids), "standard "+names(ids)
		default:
			continue
		}
		switch {
		case lot.Recalled != nil:
			k.gone = "recalled " + day(lot.Recalled.On)
		case !lot.Finished.IsZero() && !lot.Finished.After(journal.Day(now)):
			k.gone = "finished " + day(lot.Finished)
		case lot.ExpiredOn(now):
			k.gone = "expired " + day(lot.Expires)
		case k.remaining == 0:
			k.gone = "used up"
		}
		if by[key] == nil {
			order = append(order, key)
		}
		by[key] = append(by[key], k)
	}
	var out [][]*kept
	for _, key := range order {
		spend(by[key], rate[key], now)
		out = append(out, by[key])
	}
	return out
}

// weighed sets what is left of an additive and gives its use a day in the
// lot's own unit.
func (c *stockCmd) weighed(j *journal.Journal, k *kept, since, now time.Time) float64 {
	unit := k.lot.Amount.Unit
	k.unit = " " + unit.String()
	total, lately := 0.0, 0.0
	for _, b := range j.Batches.List {
		if b.Void != nil || b.Brewed.After(now) {
			continue
		}
		for _, w := range b.Weighed {
			if w.Lot != k.lot.ID {
				continue
			}
			v, err := w.Amount.In(unit)
			if err != nil {
				k.doubtfulUnit = true
				continue
			}
			total += v
			if !b.Brewed.Before(since) {
				lately += v
			}
		}
	}
	if unit.IsNone() || k.doubtfulUnit {
		k.unit = ""
		return 0
	}
	k.remaining = max(k.lot.Amount.Value-total, 0)
	k.left, k.of = water.Round(k.lot.Amount.Value-total, 3)+k.unit, k.lot.Amount.String()
	return lately / float64(c.Days)
}

// spend sets when each lot of a group ends: they are used one after another.
func spend(g []*kept, perDay float64, now time.Time) {
	sort.SliceStable(g, func(a, b int) bool {
		x, y := g[a].lot, g[b].lot
		if ox, oy := !x.Opened.IsZero(), !y.Opened.IsZero(); ox != oy {
			return ox
		}
		return !x.Expires.IsZero() && (y.Expires.IsZero() || x.Expires.Before(y.Expires))
	})
	at := journal.Day(now)
	for _, k := range g {
		if k.gone != "" {
			continue
		}
		k.perDay = perDay
		if perDay <= 0 || k.remaining < 0 {
			k.until = k.lot.Expires
			continue
		}
		end := at.Add(time.Duration(min(k.remaining/perDay, 36500) * 24 * float64(time.Hour)))
		if x := k.lot.Expires; !x.IsZero() && x.Before(end) {
			end, k.short = x, true
		}
		k.until = journal.Day(end)
		if end.After(at) {
			at = end
		}
	}
}
