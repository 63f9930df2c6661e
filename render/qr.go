package render

import (
	"fmt"
	"strings"

	"github.com/boombuler/barcode/qr"
)

// quiet is the white margin of a QR code, in modules (ISO/IEC 18004:2024, 5.3.8).
const quiet = 4

// QR draws a text as a QR code that fills its box: black on white, with its margin. A sixth of it
// may be lost (level M, 15 %). The box is so many modules wide, margin included.
func QR(text string) (svg string, modules int, err error) {
	code, err := qr.Encode(text, qr.M, qr.Auto)
	if err != nil {
		return "", 0, fmt.Errorf("draw %q as a code: %w", text, err)
	}
	size := code.Bounds().Dx()
	var path strings.Builder
	for y := range size {
		for x := 0; x < size; {
			from := x
			for x < size {
				if r, _, _, _ := code.At(x, y).RGBA(); r != 0 {
					break
				}
				x++
			}
			if x > from {
				fmt.Fprintf(&path, "M%d %dh%dv1h-%dz", from+quiet, y+quiet, x-from, x-from)
			}
			x++
		}
	}
	return fmt.Sprintf("<svg viewBox=\"0 0 %d %d\" role=\"img\" aria-label=\"%s\" shape-rendering=\"crispEdges\"><path fill=\"#fff\" d=\"M0 0h%dv%dH0z\"/><path fill=\"#000\" d=\"%s\"/></svg>",
		size+2*quiet, size+2*quiet, escapeXML("QR code: "+text), size+2*quiet, size+2*quiet, path.String()), size + 2*quiet, nil
}
