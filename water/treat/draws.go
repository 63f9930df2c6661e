package treat

import (
	"math"

	"wj/water"
)

// farOff is by how much the chance that was worked out and the one that was counted may differ before that is said.
const farOff = 0.02

// checkedCubes is over how many hypercubes a chance that is stated is taken: 2,048 points alone scatter by up to 1.1 points.
const checkedCubes = 8

// CheckedChance is Chance over eight times as many points, whose figures for several limits together are corrected by direct draws:
// all sources of error moved at once, through the whole course, at the points of the first hypercube. What the draws find more or
// less there than was worked out there is added (a control variate: Hammersley and Handscomb, Monte Carlo Methods, 1964, section
// 5.5); Drawn says that it is more than two points. A draw without an answer counts as outside. It costs some tens of milliseconds
// where a pH or solids matter, and nothing elsewhere: there the chance is exact but for the points.
func (p *Prediction) CheckedChance(targets []Target) (Chance, error) {
	out, err := p.chanceOver(targets, checkedCubes)
	if err != nil || p.cause != nil || !p.bends(targets) {
		return out, err
	}
	out.All, out.Wide = 1, 1
	for _, e := range out.ends {
		all, wide := p.count(targets, e.at, out.Narrow)
		out.Drawn = out.Drawn || math.Abs(all-e.first) > farOff || math.Abs(wide-e.firstWide) > farOff
		out.All = min(out.All, max(0, min(1, e.all+all-e.first)))
		out.Wide = min(out.Wide, max(0, min(1, e.wide+wide-e.firstWide)))
	}
	return out, nil
}

// bends reports whether a value is not nearly a straight line of the sources. The sources of a mash pH are not those of the water: it
// is left to Chance.
func (p *Prediction) bends(targets []Target) bool {
	curved := p.reached[0].left != (solids{}) || len(p.reached) > 1
	for _, t := range targets {
		if t.Mash {
			return false
		}
		curved = curved || t.pH() || t.ID == water.SulfateChlorideRatio
	}
	return curved
}

// count draws the sources at a corner, and counts how often all limits are kept and all but the narrow ones.
func (p *Prediction) count(targets []Target, at corner, narrow []bool) (all, wide float64) {
	c := p.c
	sources := make([]*source, len(c.sources))
	columns := make([][]int16, len(c.sources))
	for i := range c.sources {
		sources[i], columns[i] = &c.sources[i], hypercube.column(i)
	}
	sizes := make([]float64, len(sources))
	kept, keptWide := 0, 0
	for k := range drawn {
		for i, s := range sources {
			stratum := columns[i][k]
			if sizes[i] = hypercube.normal[stratum]; s.flat {
				sizes[i] = math.Sqrt(3) * (2*(float64(stratum)+0.5)/drawn - 1)
			}
		}
		m, carbon, err := c.shiftAll(sources, p.course, sizes)
		if err != nil {
			continue
		}
		e, err := follow(&m, p.course.celsius, carbon, p.course.pressure, at)
		if err != nil {
			continue
		}
		inside, insideWide := true, true
		for n, t := range targets {
			y := e.closed.PH
			if !t.pH() {
				y, _ = c.evaluate(t.ID, &e.mix)
			}
			if !(y >= t.lowest() && y <= t.highest()) {
				inside = false
				insideWide = insideWide && narrow[n]
			}
		}
		if inside {
			kept++
		}
		if insideWide {
			keptWide++
		}
	}
	return float64(kept) / drawn, float64(keptWide) / drawn
}
