package lint

import (
	"fmt"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
)

// The engine leaves out what goes up and down from day to day. A number that is far from all
// that was ever read at its site is questioned all the same.

// fewBefore is from how many earlier readings on a tenth or ten times of them is a slip; own choice.
const fewBefore = 8

// farKelvin is how far from all temperatures before a sample of a few, and of many, may be; own choice.
const farKelvin, farKelvinOfFew = 10.0, 15.0

// extremes are the lowest and highest result of a test at a site so far.
type extremes struct {
	n         int
	low, high float64
	odd       bool // the newest one was far from them
}

func (e *extremes) add(v float64) {
	if e.n == 0 {
		e.low, e.high = v, v
	}
	e.low, e.high = min(e.low, v), max(e.high, v)
	e.n++
	e.odd = false
}

// eachSwinging calls do for each reading of the analytes, with what was read before it at its site;
// what do finds odd does not count with the others until it comes twice in a row.
func (p *Pass) eachSwinging(ids []water.ID, do func(h *SiteHistory, s *journal.Session, r *journal.Reading, v float64, before extremes) bool) {
	for _, h := range p.run.facts.histories() {
		if judge.Made(h.Site) {
			continue
		}
		so := make([]extremes, len(ids))
		for _, s := range h.Own {
			for k, id := range ids {
				r, ok := s.Reading(id)
				if !ok || r.Faulty || r.First.Bound != water.Exact {
					continue
				}
				value, bound := r.Result()
				v := id.Info().Standard(water.Quantity{Value: value, Unit: r.First.Unit})
				if bound != water.Exact {
					continue
				}
				if e := &so[k]; !e.odd && do(h, s, r, v, *e) {
					e.odd = true
				} else {
					e.add(v)
				}
			}
		}
	}
}

// slippedPoint reports chlorine and turbidity that are a tenth, or ten times, of all that was read
// before, where the point moved by one place gives what is usual.
func slippedPoint(p *Pass) {
	p.eachSwinging([]water.ID{water.FreeChlorine, water.TotalChlorine, water.TurbidityValue}, func(h *SiteHistory, s *journal.Session, r *journal.Reading, v float64, b extremes) bool {
		if b.n < fewBefore || v <= 3*b.high && 3*v >= b.low {
			return false
		}
		for _, f := range []float64{10, 0.1} {
			if v*f >= b.low/1.2 && v*f <= b.high*1.2 {
				p.ReportReading(s, r, "value", "%s at %s: %s to %s in %d sessions before, so the decimal point probably slipped by one place", reads(journal.TypedReading(r), r.Analyte), h.ID, plain(b.low), show(r.Analyte, b.high), b.n).
					Help("look at the slip, or repeat it: about %s again confirms it; if it is right, write the event, such as a shock dose", show(r.Analyte, v*f))
				return true
			}
		}
		return false
	})
}

// warmSample reports temperatures far from all that were read of water that nobody heats.
func warmSample(p *Pass) {
	p.eachSwinging([]water.ID{water.SampleTemperature}, func(h *SiteHistory, s *journal.Session, r *journal.Reading, v float64, b extremes) bool {
		far := farKelvin
		if b.n < fewBefore {
			far = farKelvinOfFew
		}
		if h.Site == nil || !journal.StageNamed(h.Site.Stage).Cold || b.n == 0 || v >= b.low-far && v <= b.high+far {
			return false
		}
		span := fmt.Sprintf("%s to %s in %d sessions before", plain(b.low), show(r.Analyte, b.high), b.n)
		if b.n == 1 {
			span = show(r.Analyte, b.low) + " the time before"
		}
		p.ReportReading(s, r, "value", "%s at %s: %s, so it is probably mistyped, or of a sample that stood", reads(journal.TypedReading(r), r.Analyte), h.ID, span).
			Help("measure it at the tap, at once; the temperature of the bottle in the room shows nothing of the water")
		return true
	})
}
