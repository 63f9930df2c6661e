package exchange

import (
	"encoding/xml"
	"strings"
	"testing"
)

// XML of a hostile text has no character that a screen acts on, in whatever pieces it is
// written, and is read as the same text.
func TestReferences(t *testing.T) {
	const text = "a\u009b31m\u202eb\u200f ü 🍺 \u2028c"
	for size := 1; size < 6; size++ {
		var b strings.Builder
		w := &references{to: &b}
		src := "<a>" + text + "</a>\n"
		for len(src) > 0 {
			n := min(size, len(src))
			if _, err := w.Write([]byte(src[:n])); err != nil {
				t.Fatal(err)
			}
			src = src[n:]
		}
		if strings.ContainsAny(b.String(), "\u009b\u202e\u200f\u2028") {
			t.Errorf("pieces of %d: %q", size, b.String())
		}
		var back string
		if err := xml.Unmarshal([]byte(b.String()), &back); err != nil || back != text {
			t.Errorf("pieces of %d: %q, %v", size, back, err)
		}
	}
}
