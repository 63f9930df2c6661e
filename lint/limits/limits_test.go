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
