package journal

import "testing"

func TestCapital(t *testing.T) {
	for in, want := range map[string]string{"": "", "pH is high": "pH is high", "dKH": "dKH", "ünal's tap": "Ünal's tap", "nitrate": "Nitrate", "3 taps": "3 taps", "é": "É", "x": "X"} {
		if got := Capital(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}
