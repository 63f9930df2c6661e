package render

import (
	"strings"
	"testing"
)

// A code has the size of its version and the three finder patterns (ISO/IEC 18004:2024, 6.3.3): a row of
// seven dark modules, one and one dark with five light between them. What it holds was read back with
// another program.
func TestQR(t *testing.T) {
	svg, _, err := QR("SU-2604")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`viewBox="0 0 29 29"`, `aria-label="QR code: SU-2604"`, "M4 4h7v1h-7z", "M18 4h7v1h-7z", "M4 24h7v1h-7z", "M4 5h1v1h-1z", "M10 5h1v1h-1z"} {
		if !strings.Contains(svg, want) {
			t.Errorf("%s is not in %s", want, svg)
		}
	}
	if _, _, err := QR(strings.Repeat("x", 3000)); err == nil {
		t.Error("what does not fit is drawn")
	}
	if svg, _, err := QR(`<a "b">`); err != nil || strings.Contains(svg, "<a") {
		t.Error(svg, err)
	}
}
