package stats

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
)

// Mean run lengths without any change in the process, reached with the recursions of the package itself, so that a
// mistake in them shows.

const runs = 100000

func cusumRunLength(slack, decision float64) float64 {
	random := rand.New(rand.NewPCG(1, 2))
	c := CUSUM{Target: 0, Slack: slack, Decision: decision}
	points := 0
	for range runs {
		high, low := 0.0, 0.0
		for high <= decision && low <= decision {
			high, low = c.step(high, low, random.NormFloat64())
			points++
		}
	}
	return float64(points) / runs
}

func ewmaRunLength(lambda, width float64) float64 {
	random := rand.New(rand.NewPCG(3, 4))
	e := EWMA{Target: 0, Sigma: 1, Lambda: lambda, Width: width}
	limit := e.halfWidth(0)
	points := 0
	for range runs {
		z := 0.0
		for math.Abs(z) <= limit {
			z = e.step(z, random.NormFloat64())
			points++
		}
	}
	return float64(points) / runs
}

// ruleRunLength is exact. A process without change is a chain whose state is what the rules can remember: the zones
// of the last four points and the length of the run on one side. From each state a sample history is kept; whether
// a further point signals is asked of FindRuns.
func ruleRunLength(rules []string) (float64, error) {
	// One value for each zone between the limits at 0, 1, 2 and 3 standard deviations, on either side.
	zones := []float64{-3.5, -2.5, -1.5, -0.5, 0.5, 1.5, 2.5, 3.5}
	chance := make([]float64, len(zones))
	for i, z := range zones {
		chance[i] = NormalCDF(z+0.5) - NormalCDF(z-0.5)
	}
	chance[0], chance[7] = NormalCDF(-3), NormalCDF(-3)

	type move struct {
		to     int
		chance float64
	}
	histories, moves := [][]float64{nil}, [][]move(nil)
	known := map[string]int{"": 0}
	for i := 0; i < len(histories); i++ {
		var out []move
		for j, z := range zones {
			next := append(append([]float64(nil), histories[i]...), z)
			signals, err := FindRuns(next, 0, 1, rules...)
			if err != nil {
				return 0, err
			}
			if len(signals) > 0 {
				continue
			}
			key := stateOf(next)
			at, ok := known[key]
			if !ok {
				at = len(histories)
				known[key] = at
				histories = append(histories, next[max(0, len(next)-8):])
			}
			out = append(out, move{at, chance[j]})
		}
		moves = append(moves, out)
	}
	// The mean run length is the sum over n of the chance to be without signal after n points.
	now := make([]float64, len(histories))
	now[0] = 1
	length, alive, step := 0.0, 1.0, 0
	for ; alive > 1e-9 && step < 20000; step++ {
		length += alive
		next := make([]float64, len(now))
		alive = 0
		for i, p := range now {
			if p == 0 {
				continue
			}
			for _, m := range moves[i] {
				next[m.to] += p * m.chance
				alive += p * m.chance
			}
		}
		now = next
	}
	if alive > 1e-9 {
		return 0, fmt.Errorf("the chain has not ended after %d points", step)
	}
	return length, nil
}

func stateOf(history []float64) string {
	run := 0
	for i := len(history) - 1; i >= 0 && run < 8 && (history[i] > 0) == (history[len(history)-1] > 0); i-- {
		run++
	}
	var b strings.Builder
	for _, z := range history[max(0, len(history)-4):] {
		fmt.Fprintf(&b, "%v ", z)
	}
	fmt.Fprintf(&b, "run %d", run)
	return b.String()
}
