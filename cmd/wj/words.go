package main

import (
	"math"
	"strconv"
	"strings"
	"time"

	"wj/render"
	"wj/water"
)

// What the commands share that still write their own Markdown and JSON.

// cell writes a text so that it stays one cell of a Markdown table.
func cell(s string) string {
	return strings.NewReplacer("\\", "\\\\", "|", "\\|", "\n", " ", "\t", " ", "&", "&amp;", "[", "\\[", "*", "\\*", "_", "\\_", "<", "\\<", "`", "\\`").Replace(s)
}

// plain writes a text from a record so that Markdown leaves it alone.
func plain(s string) string { return cell(s) }

func mdTable(b *strings.Builder, head []string, right []bool, rows [][]string) {
	if len(rows) == 0 {
		return
	}
	for _, h := range head {
		b.WriteString("| " + h + " ")
	}
	b.WriteString("|\n")
	for i := range head {
		if right[i] {
			b.WriteString("|---:")
		} else {
			b.WriteString("|---")
		}
	}
	b.WriteString("|\n")
	for _, row := range rows {
		for _, c := range row {
			b.WriteString("| " + cell(c) + " ")
		}
		b.WriteString("|\n")
	}
	b.WriteString("\n")
}

func longTime(t time.Time) string { return t.Format("2 January 2006, 15:04 -07:00") }

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

func valueJSON(bound water.Bound, v, u float64, id water.ID) render.Object {
	unit := id.Info().Unit.String()
	if bound != water.Exact {
		return render.Object{{Name: "value", Value: nil}, {Name: "bound", Value: bound.String()}, {Name: "limit", Value: rounded(v)}, {Name: "unit", Value: unit}, {Name: "u", Value: nil}}
	}
	return render.Object{{Name: "value", Value: rounded(v)}, {Name: "unit", Value: unit}, {Name: "u", Value: rounded(u)}}
}

// finite is a number, or nothing where there is none.
func finite(v float64) any {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return rounded(v)
}
