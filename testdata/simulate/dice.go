package main

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
)

// dice are drawn for one thing that happens: of the seed and its name, so that leaving an act out changes no other's luck.
func dice(seed uint64, about ...any) *rand.Rand {
	h := fnv.New64a()
	fmt.Fprintln(h, about...)
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// gauss is a standard normal draw, cut at 3.5 so that no honest reading is a wonder.
func gauss(r *rand.Rand) float64 {
	for {
		if g := r.NormFloat64(); math.Abs(g) < 3.5 {
			return g
		}
	}
}

// chance is true with a probability p.
func chance(r *rand.Rand, p float64) bool { return r.Float64() < p }

// between is uniform in an interval.
func between(r *rand.Rand, low, high float64) float64 { return low + (high-low)*r.Float64() }
