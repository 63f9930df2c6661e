package treat

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"wj/testdata/raced"
	"wj/water"
)

// randomCurved adds a target of pH, and now and then of a ratio, to a random problem.
func randomCurved(t testing.TB, r *rand.Rand) Problem {
	p := randomProblem(t, r)
	var keep []Target
	for _, x := range p.Targets {
		if x.ID != water.Alkalinity && x.ID != water.ResidualAlkalinity || r.IntN(3) == 0 {
			keep = append(keep, x)
		}
	}
	lo := 5.2 + 2*r.Float64()
	if r.IntN(3) == 0 {
		keep = append(keep, Target{ID: water.SulfateChlorideRatio, Min: 0.5 + r.Float64(), Max: 2 + 2*r.Float64(), Aim: unset})
	}
	x := Target{ID: water.PHValue, Min: lo, Max: lo + 0.3, Aim: unset}
	switch r.IntN(4) {
	case 0:
		x.Min = unset
	case 1:
		x = Target{ID: water.PHValue, Min: unset, Max: unset, Aim: lo}
	}
	p.Targets = append(keep, x)
	return p
}

// With targets of pH and of a ratio the answer is a resting point of the renewed rows. Where every limit is met it is as good
// as can be; where a curved limit is missed, the scale of its miss moves a little with the dose, and a small step, measured by
// the full equilibrium, may do better by a few per cent, never by more.
func TestCurvedTargetsRest(t *testing.T) {
	r := rand.New(rand.NewPCG(99, 7))
	worse, tried := 0, 0
	var slow time.Duration
	cases := 100
	if raced.On() {
		cases = 15
	}
	for n := range cases {
		p := randomCurved(t, r)
		begin := time.Now()
		if _, err := Solve(p); err != nil {
			t.Fatalf("case %d: %v", n, err)
		}
		slow = max(slow, time.Since(begin))
		m, err := newModel(&p)
		if err != nil {
			t.Fatal(err)
		}
		got, families, err := m.solve()
		if err != nil {
			t.Fatal(err)
		}
		cost := func(x []float64) float64 {
			rows, err := m.rowsAt(x)
			if err != nil {
				return math.Inf(1)
			}
			if len(families[got.family].rows) > len(rows) {
				rows = m.guarded(rows)
			}
			outside, inside := m.costs(rows, x)
			return outside + insideWeight*inside
		}
		here := cost(got.x)
		if math.Abs(here-got.cost) > 1e-6*(1+here) {
			t.Errorf("case %d: cost %.8g is %.8g with rows made there", n, got.cost, here)
		}
		for range 20 {
			x := append([]float64(nil), got.x...)
			size := math.Pow(10, -1-2*r.Float64())
			for j := range m.shelf {
				i := len(m.waters) + j
				if got.set&(1<<j) != 0 && m.most[j] > 0 {
					x[i] = math.Max(0, math.Min(1, x[i]+size*(2*r.Float64()-1)))
				}
			}
			if len(m.waters) > 1 {
				d := size * (2*r.Float64() - 1)
				a, b := x[0]+d, x[1]-d
				if a >= m.least[0] && a <= m.largest[0] && b >= m.least[1] && b <= m.largest[1] {
					x[0], x[1] = a, b
				}
			}
			tried++
			gain := here - cost(x)
			if gain > 1e-3*(1+here) {
				worse++
			}
			if gain > 0.05*(1+here) || here < 1e-4 && gain > 1e-5 {
				t.Errorf("case %d: cost %.6g, a step away %.6g, targets %+v", n, here, here-gain, p.Targets)
			}
		}
	}
	t.Logf("%d of %d steps did better; slowest %v", worse, tried, slow)
}
