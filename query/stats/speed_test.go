package stats

import (
	"math/rand/v2"
	"testing"
)

func history(n int) (x, y []float64) {
	random := rand.New(rand.NewPCG(5, 6))
	for i := range n {
		x = append(x, float64(i)/52)
		y = append(y, 118+float64(i)*0.01+3*random.NormFloat64())
	}
	return x, y
}

func BenchmarkTheilSen2000(b *testing.B) {
	x, y := history(2000)
	for b.Loop() {
		if _, err := TheilSen(x, y, 0.95); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkMannKendall2000(b *testing.B) {
	x, y := history(2000)
	for b.Loop() {
		if _, err := MannKendall(x, y); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkModifiedZ200(b *testing.B) {
	_, y := history(200)
	for b.Loop() {
		if _, err := ModifiedZScores(y); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRunRules2000(b *testing.B) {
	_, y := history(2000)
	for b.Loop() {
		if _, err := FindRuns(y, 118, 3); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRepeatabilityRange(b *testing.B) {
	for b.Loop() {
		if _, err := RepeatabilityRange([]float64{21, 22, 24}, 1, 0.95); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkGrubbs20(b *testing.B) {
	_, y := history(20)
	for b.Loop() {
		if _, err := Grubbs(y, EitherEnd, 0.05); err != nil {
			b.Fatal(err)
		}
	}
}
