package water

import "testing"

// fullAnalysis is an invented well water with every major ion.
func fullAnalysis() *Analysis {
	var a Analysis
	for id, m := range map[ID]Measured{
		PHValue: {Value: 7.42, U: 0.05}, Alkalinity: {Value: 118, U: 4}, CalciumHardness: {Value: 92, U: 4}, TotalHardness: {Value: 138, U: 5},
		Chloride: {Value: 21.5, U: 1.2}, Sulfate: {Value: 61, U: 4}, SampleTemperature: {Value: 11.5, U: 0.25}, Nitrate: {Value: 8, U: 0.8},
		Sodium: {Value: 24, U: 1}, Potassium: {Value: 2.1, U: 0.3}, FreeChlorine: {Value: 0.02, U: 0.02}, TotalChlorine: {Value: 0.05, U: 0.02},
	} {
		a.Set(id, m)
	}
	return &a
}

var withoutEquilibria = []ID{Alkalinity, Calcium, CalciumHardness, Magnesium, MagnesiumHardness, TotalHardness, Sodium, ResidualAlkalinity, CarbonateHardness,
	NoncarbonateHardness, SulfateChlorideRatio, CombinedChlorine, CationSum, AnionSum, ChargeBalance, DissolvedSolids}

func BenchmarkDeriveAllWithoutEquilibria(b *testing.B) {
	a := fullAnalysis()
	b.ReportAllocs()
	for b.Loop() {
		a.DeriveAll(withoutEquilibria...)
	}
}

func BenchmarkDeriveAll(b *testing.B) {
	a := fullAnalysis()
	names := DerivedNames()
	b.ReportAllocs()
	for b.Loop() {
		a.DeriveAll(names...)
	}
}

func BenchmarkNumberResidualAlkalinity(b *testing.B) {
	a := fullAnalysis()
	b.ReportAllocs()
	for b.Loop() {
		a.Number(ResidualAlkalinity)
	}
}

func BenchmarkNumberAbsent(b *testing.B) {
	var a Analysis
	b.ReportAllocs()
	for b.Loop() {
		a.Number(ResidualAlkalinity)
	}
}

func BenchmarkNumberBicarbonate(b *testing.B) {
	a := fullAnalysis()
	b.ReportAllocs()
	for b.Loop() {
		a.Number(Bicarbonate)
	}
}
