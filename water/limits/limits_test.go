package limits

import (
	"math"
	"os"
	"strings"
	"testing"

	"wj/water"
)

// The limits are those of the published texts named in each row of
// testdata/published/limits.tsv.
func TestPublishedLimits(t *testing.T) {
	src, err := os.ReadFile("../../testdata/published/limits.tsv")
	if err != nil {
		t.Fatal(err)
	}
	rows := strings.Split(strings.TrimSpace(string(src)), "\n")[1:]
	if len(rows) < 8 {
		t.Fatalf("only %d rows", len(rows))
	}
	for _, row := range rows {
		f := strings.Split(row, "\t")
		var jurisdiction, analyte string
		for _, part := range strings.Split(f[1], "; ") {
			switch key, value, _ := strings.Cut(part, "="); key {
			case "jurisdiction":
				jurisdiction = value
			case "analyte":
				analyte = value
			}
		}
		want, err := water.ParseQuantity(f[2] + " " + f[3])
		if err != nil {
			t.Fatal(err)
		}
		id, ok := water.Lookup(analyte)
		if !ok {
			t.Fatalf("%s: no analyte %q", f[0], analyte)
		}
		found := false
		for _, l := range All {
			if l.Jurisdiction == jurisdiction && l.Analyte == id {
				found = found || math.Abs(l.Max-id.Info().Standard(want)) < 1e-9
			}
		}
		if !found {
			t.Errorf("%s: no limit of %s for %s in %s (%s)", f[0], want, analyte, jurisdiction, f[5])
		}
	}
}

// TestLimits: each limit has a source, and the numbers in the standard unit are
// those that the source writes.
func TestLimits(t *testing.T) {
	for _, l := range All {
		if l.Source == "" || l.Written == "" || l.Max <= l.Min {
			t.Errorf("%+v", l)
		}
		// A figure is read in a public text, or it says that it was not.
		if unread := strings.Contains(l.Source, "from memory") || strings.HasPrefix(l.Source, "opinion"); unread == (l.Read != "") {
			t.Errorf("%s of %s: source %q, read %q", l.Written, l.Analyte, l.Source, l.Read)
		}
		q, err := water.ParseQuantity(l.Written)
		if err != nil {
			continue // "6.5 to 9.5" and the like
		}
		if l.Analyte.Info().Fit(q) != nil {
			t.Errorf("%s of %s does not fit", l.Written, l.Analyte)
			continue
		}
		if v := l.Analyte.Info().Standard(q); math.Abs(v/l.Max-1) > 1e-4 {
			t.Errorf("%s of %s is %g, the table has %g", l.Written, l.Analyte, v, l.Max)
		}
	}
	if len(Of(Health)) == 0 || len(Of(Indicator)) != 0 {
		t.Error("without a jurisdiction the limits of health are WHO's, and none are told for taste")
	}
	// 10 mg/L as N is 44.3 mg/L as NO3 (40 CFR 141.62 with Hem 1985).
	for _, l := range Of(Health, "us") {
		if l.Analyte == water.Nitrate && math.Abs(l.Max-44.3) > 0.05 {
			t.Errorf("nitrate in the US is %g", l.Max)
		}
	}
}
