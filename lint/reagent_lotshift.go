package lint

import (
	"math"

	"wj/journal"
	"wj/query/stats"
	"wj/water"
)

var reagentLotShift = &Rule{
	Name: "reagent/lot-shift", Severity: Warning, Scope: History, Check: checkLotShift,
	Title: "a site's readings moved on the day the reagent lot changed",
	Settings: []Threshold{
		{"readings", "3", "", "readings of each lot that are needed"},
		{"size", "2", "", "standard uncertainties of a reading that the shift must exceed"},
	},
}

// checkLotShift compares the medians of up to ten readings of one regime before
// and after a change of lot.
func checkLotShift(p *Pass) {
	h, need := p.Site, int(p.Setting("readings"))
	for id := water.ID(0); id < water.NumAnalytes; id++ {
		s := h.Series(id)
		if s == nil {
			continue
		}
		lots, sessions := make([]string, len(s.At)), make([]*journal.Session, len(s.At))
		for k, at := range s.At {
			sessions[k] = h.Own[at]
			if r, ok := sessions[k].Reading(id); ok {
				lots[k] = r.Lot
			}
		}
		for k := 1; k < len(s.At); k++ {
			if lots[k] == lots[k-1] || lots[k] == "" || lots[k-1] == "" || h.Regime[s.At[k]] != h.Regime[s.At[k-1]] {
				continue
			}
			from, to := k, k
			for from > 0 && k-from < 10 && lots[from-1] == lots[k-1] && h.Regime[s.At[from-1]] == h.Regime[s.At[k]] {
				from--
			}
			for to < len(s.At) && to-k < 10 && lots[to] == lots[k] && h.Regime[s.At[to]] == h.Regime[s.At[k]] {
				to++
			}
			if k-from < need || to-k < need {
				continue
			}
			before, _ := stats.Median(s.Value[from:k])
			after, _ := stats.Median(s.Value[k:to])
			r, ok := sessions[k].Reading(id)
			if !ok {
				continue
			}
			u, _ := p.Journal.Uncertainty(sessions[k], r)
			if u == 0 || math.Abs(after-before) <= p.Setting("size")*u || p.eventBetween(h.ID, sessions[k-1], sessions[k]) {
				continue
			}
			p.ReportReading(sessions[k], r, "lot", "with lot %s %s at %s is %s, with %s before it was %s: a shift of %s", lots[k], id, h.ID, show(id, after), lots[k-1], show(id, before), show(id, after-before)).
				Help("run both lots side by side on one sample and on a check standard; until then trust neither")
		}
	}
}

// eventBetween reports whether an event at the site explains a change between
// two sessions.
func (p *Pass) eventBetween(site string, before, after *journal.Session) bool {
	from, to := p.day(before.Sampled), p.day(after.Sampled)
	for _, e := range p.Journal.Events.List {
		if e.Void != nil {
			continue
		}
		day := p.dayOf(e.On)
		if day.Before(from) || day.After(to) {
			continue
		}
		for _, s := range e.Sites {
			if s == site || feeds(p.Journal, s, site, 4) {
				return true
			}
		}
	}
	return false
}

// feeds reports whether water of one site arrives at another.
func feeds(j *journal.Journal, from, to string, depth int) bool {
	site, ok := j.Sites.Get(to)
	if !ok || depth == 0 {
		return false
	}
	for _, f := range site.FedBy {
		if f == from || feeds(j, from, f, depth-1) {
			return true
		}
	}
	return false
}
