package render

import (
	"sort"
)

// canvas is a field of braille cells, two dots wide and four high (Unicode Standard, block U+2800).
type canvas struct {
	width, height int
	dots          []rune
}

func newCanvas(width, height int) *canvas {
	return &canvas{width, height, make([]rune, width*height)}
}

// dot sets one dot; x counts from the left, y from above. Outside nothing happens.
func (c *canvas) dot(x, y int) {
	if x < 0 || y < 0 || x >= 2*c.width || y >= 4*c.height {
		return
	}
	bits := [4][2]rune{{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}}
	c.dots[y/4*c.width+x/2] |= bits[y%4][x%2]
}

func seriesLetter(n int) rune { return 'a' + rune(n%26) }

func sorted(points []Point) []Point {
	out := append([]Point(nil), points...)
	sort.SliceStable(out, func(i, j int) bool { return out[i].At.Before(out[j].At) })
	return out
}
