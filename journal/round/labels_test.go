package round

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// The codes on every sheet can be read from paper: a square is wide enough, four of them are white around it, and an id that is too long
// is refused with a larger sheet.
func TestLabelCodes(t *testing.T) {
	box := regexp.MustCompile(`svg \{ flex: none; width: ([0-9.]+)mm`)
	view := regexp.MustCompile(`viewBox="0 0 (\d+) `)
	for labels, sheet := range LabelSheets {
		for _, id := range []string{"SU-2604", "hot-liquor-tank", "mill-lane-hot-liquor-tank-behind-the-wall"} {
			page, err := LabelPage("Labels", sheet, []Label{{Code: id, ID: id}}, 0)
			if err != nil {
				t.Fatalf("%d labels, %s: %v", labels, id, err)
			}
			mm, _ := strconv.ParseFloat(box.FindStringSubmatch(page)[1], 64)
			modules, _ := strconv.ParseFloat(view.FindStringSubmatch(page)[1], 64)
			if mm/modules < 0.35 || mm > sheet.Height || mm > sheet.Width/2 {
				t.Errorf("%d labels, %s: %.1f mm for %g squares", labels, id, mm, modules)
			}
			if !strings.Contains(page, "M4 4h7v1") { // the corner, behind four white squares (ISO/IEC 18004:2024, 5.3.8)
				t.Errorf("%d labels, %s: no quiet zone of four", labels, id)
			}
		}
	}
	if _, err := LabelPage("Labels", LabelSheets[65], []Label{{Code: strings.Repeat("long-", 40)}}, 0); err == nil || !strings.Contains(fmt.Sprint(err), "0.2") {
		t.Errorf("a code of 200 letters on the smallest label: %v", err)
	}
}
