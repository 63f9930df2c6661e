package main

import (
	"math"
	"strconv"
	"strings"
	"time"

	"wj/query/report"
	"wj/render"
	"wj/water"
)

// What the commands share that still write their own Markdown and JSON.

// number is a float as JSON writes it, with no more digits than it carries.
func number(v float64) render.Number {
	return render.Number(strconv.FormatFloat(v, 'f', -1, 64))
}

// rounded is a computed value to six significant digits: more than any
// measurement carries, and the same on every machine.
func rounded(v float64) render.Number {
	if v == 0 {
		return "0"
	}
	return number(trim(v))
}

func trim(v float64) float64 {
	x, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
	return x
}

// finite is a number, or nothing where there is none.
func finite(v float64) any {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return rounded(v)
}

func day(t time.Time) string { return report.DayText(t) }

func names(ids []water.ID) string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = id.String()
	}
	return strings.Join(out, ", ")
}
