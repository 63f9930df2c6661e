package plan

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"wj/journal"
	"wj/water"
	"wj/water/treat"
)

// Move is one value of a change that is no longer what was approved.
type Move struct {
	ID        water.ID
	Then, Now water.Value
	Left      bool // it left the target; else it moved by more than chance
	Words     string
}

// Moved compares what a change makes of the water at a moment with what it made
// of the water that a sign-off covers: what moved by more than chance does in a
// year (see chance), of the values that are expected (all, where it expects none),
// and what left the target and is outside by the newest three samples. A value that
// was outside when it was signed was accepted so, and only its movement counts.
func (b *Book) Moved(c *journal.Change, signed *journal.Signoff, at time.Time) ([]Move, error) {
	covered, err := b.watersOf(c, b.ofSignoff(signed))
	if err != nil {
		return nil, err
	}
	newest, err := b.watersOf(c, b.ofDay(at))
	if err != nil {
		return nil, err
	}
	if SameWaters(covered, newest) {
		_, err := b.workSettled(c, at, b.ofDay(at), treat.Settled{}) // nothing moved, if it can be worked out at all
		return nil, err
	}
	then, err := b.OnSignoff(c, signed)
	if err != nil {
		return nil, err
	}
	now, err := b.OnDay(c, at)
	if err != nil {
		return nil, err
	}
	return b.moves(then, now), nil
}

// stillYear is what share of approvals may end in a year on water that does not move.
const stillYear = 0.05

// ownPart is how much of the uncertainty that is declared two readings of one bench do not share:
// what the meter itself is off by is in both (own choice; a bench's part of 0.6 leaves 0.8).
const ownPart = 0.8

// running is how many samples in a row put a value outside of its target before that counts, where
// each by itself may be chance (own choice, held against still water).
const running = 3

// chance is how many standard uncertainties of their difference (GUM 5.1.2) two readings of one
// water may be apart: so many that one of all the values, at one of all the samples of a year, is
// farther in one year of twenty at most (Bonferroni's inequality over values and looks; Lan and
// DeMets 1983, Biometrika 70, 659-663, for looks at one hypothesis in the course of time; from
// memory). TestStillWater holds it against simulated meters.
func (b *Book) chance(now *Work, values int) float64 {
	looks := 0
	for i := range now.Sources {
		for _, s := range b.samples(now.Sources[i].Site) {
			if age := now.At.Sub(s.Sampled); age >= 0 && age < 365*24*time.Hour {
				looks++
			}
		}
	}
	return -ownPart * distuv.UnitNormal.Quantile(stillYear/2/float64(max(values, 1)*max(looks, 1)))
}

// before is the work of the samples before the newest ones of a work; nil where those are
// the ones that were signed.
func (b *Book) before(then, now *Work) *Work {
	newest := now.Sources[0].Session().Sampled
	for i := range now.Sources {
		if at := now.Sources[i].Session().Sampled; at.After(newest) {
			newest = at
		}
	}
	w, err := b.OnDay(now.Change, newest.Add(-time.Second))
	if err != nil || SameWaters(then.Sources, w.Sources) || w.At.Before(then.At) {
		return nil
	}
	return w
}

// moves compares two states of one change.
func (b *Book) moves(then, now *Work) []Move {
	if SameWaters(then.Sources, now.Sources) {
		return nil
	}
	var out []Move
	compared := 0
	for _, id := range b.Values(now.Change) {
		if !equilibrium[id] && expects(now.Change, id) {
			compared++
		}
	}
	bound := b.chance(now, compared)
	var earlier []*Work // by the samples before the newest
	for _, id := range b.Values(now.Change) {
		if equilibrium[id] {
			continue
		}
		was, is := b.Verdict(then, id), b.Verdict(now, id)
		if !was.Known || !is.Known {
			continue
		}
		m := Move{ID: id, Then: was.Value, Now: is.Value}
		before, after := water.Round(was.Value.Value, 3), water.Round(is.Value.Value, 3)
		apart := math.Abs(is.Value.Value-was.Value.Value) > bound*math.Hypot(was.Value.U, is.Value.U)
		left := was.Inside() && !is.Inside()
		if left && !apart {
			for w := now; len(earlier) < running-1 && w != nil; {
				w = b.before(then, w)
				earlier = append(earlier, w)
			}
			left = !slices.ContainsFunc(earlier, func(w *Work) bool { return w == nil || b.Verdict(w, id).Inside() })
		}
		switch {
		case left:
			m.Left = true
			side, limit := "over", is.Max
			if is.Value.Value < is.Min {
				side, limit = "under", is.Min
			}
			m.Words = fmt.Sprintf("%s would be %s, %s the %s of the target (%s when signed)", id, after, side, number(limit), before)
		case expects(now.Change, id) && apart:
			m.Words = fmt.Sprintf("%s would be %s ± %s, and was %s when signed: beyond the uncertainty of the difference", id, after, water.Round(is.Value.Expanded(), 2), before)
		default:
			continue
		}
		out = append(out, m)
	}
	return out
}

func expects(c *journal.Change, id water.ID) bool {
	for _, x := range c.Expect {
		if x.Name == id {
			return true
		}
	}
	return len(c.Expect) == 0
}

// SameWaters reports whether two states of one change stand on the same sessions.
func SameWaters(a, b []Source) bool {
	for i := range a {
		if a[i].Session() != b[i].Session() {
			return false
		}
	}
	return true
}

// number writes a limit as short as it is.
func number(v float64) string {
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.3f", v), "0"), ".")
}

// MovedSince says in one line in what way the water moved since a change was
// last approved; "" where it did not, or nobody approved it by then. The error
// says why it cannot be recomputed.
func (b *Book) MovedSince(c *journal.Change, at time.Time) (string, error) {
	var last *journal.Signoff
	for _, s := range b.j.Signoffs.List {
		if s.Of == c.ID && s.Void == nil && s.Decision == journal.DecidedAccepted && !s.On.After(at) && (last == nil || s.On.After(last.On)) {
			last = s
		}
	}
	if last == nil {
		return "", nil
	}
	moves, err := b.Moved(c, last, at)
	if err != nil {
		return "", err
	}
	words := make([]string, len(moves))
	for i, m := range moves {
		words[i] = m.Words
	}
	return strings.Join(words, "; "), nil
}

// MovedWords is MovedSince for evidence.Facts.Moved: what cannot be recomputed is
// not approved either. A movement is looked at again by the known sessions alone.
func (b *Book) MovedWords(c *journal.Change, at time.Time, known func(*journal.Session) bool) string {
	words, err := b.MovedSince(c, at)
	if (words != "" || err != nil) && known != nil {
		words, err = b.part(known).MovedSince(c, at)
	}
	if err != nil {
		return fmt.Sprintf("it cannot be recomputed: %v", err)
	}
	return words
}

// part is the book of the known sessions alone, for one goroutine.
func (b *Book) part(known func(*journal.Session) bool) *Book {
	return &Book{j: b.j, mashes: map[string][]mash{}, bySite: map[string][]*journal.Session{}, all: b, known: known}
}

// Bound is how far one measured value of one basis water may go before the
// result leaves its target.
type Bound struct {
	Site      string
	ID        water.ID
	Low, High float64 // NaN where there is none
	Now       float64
	Margin    float64 // of the result, in standard uncertainties
}

// Bounds finds for each conserved value with a range the water that carries
// most of it, and the range of that water's reading, all else equal, that keeps
// the result inside: (limit − result) / share away from the reading. The tightest
// comes first.
func (b *Book) Bounds(w *Work) []Bound {
	var out []Bound
	for _, id := range []water.ID{water.Sulfate, water.Chloride, water.Calcium, water.Alkalinity, water.Magnesium} {
		v := b.Verdict(w, id)
		if !v.Known || !v.Limited() || math.IsNaN(v.Margin) {
			continue
		}
		most, carried := -1, -1.0
		for i := range w.Sources {
			if part := w.Sources[i].Share * w.Sources[i].Analysis.Number(id); part > carried {
				most, carried = i, part
			}
		}
		if most < 0 || !(w.Sources[most].Share > 0) {
			continue
		}
		src := &w.Sources[most]
		now := src.Analysis.Number(id)
		bound := Bound{Site: src.Site, ID: id, Now: now, Margin: v.Margin, Low: now + (v.Min-v.Value.Value)/src.Share, High: now + (v.Max-v.Value.Value)/src.Share}
		if bound.Low <= 0 {
			bound.Low = math.NaN()
		}
		if math.IsNaN(bound.Low) && math.IsNaN(bound.High) {
			continue
		}
		at := len(out)
		for at > 0 && out[at-1].Margin > bound.Margin {
			at--
		}
		out = append(out[:at], append([]Bound{bound}, out[at:]...)...)
	}
	return out
}
