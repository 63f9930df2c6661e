package equilibrium

import "testing"

func benchWater() Water {
	return Water{
		Temperature: 15, Calcium: 60.0 / 40078, Magnesium: 10.0 / 24305, Sodium: 20.0 / 22990, Potassium: 2.0 / 39098,
		Alkalinity: 150.0 / 50043, Sulfate: 40.0 / 96056, Chloride: 30.0 / 35450, Silica: 10.0 / 60083, Nitrate: 5.0 / 62004,
		InorganicCarbon: 0.0031,
	}
}

func BenchmarkSpeciateAtMeasuredPH(b *testing.B) {
	w := benchWater()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := SpeciateAt(w, 7.6); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSpeciateClosed(b *testing.B) {
	w := benchWater()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Speciate(w); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPrecipitateCalcite(b *testing.B) {
	w := benchWater()
	for b.Loop() {
		if _, err := PrecipitateCalcite(w); err != nil {
			b.Fatal(err)
		}
	}
}
