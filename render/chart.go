package render

import (
	"math"
	"strconv"
	"time"
)

// Chart is several values over time on one scale, each with its name at the end of its line. Values are in Unit.
type Chart struct {
	Title, Subtitle, Unit string
	Series                []Series
	Limits                []LimitLine
	Notes                 []string
	expected              []Period // of a control chart: the frame reaches so far
}

// Series is a line of points, drawn in the order of time. A value that is NaN or infinite leaves a gap.
type Series struct {
	Name   string
	Points []Point
}

// Point is one value. Low and High bound its uncertainty; both 0 where it is not known.
type Point struct {
	At        time.Time
	Value     float64
	Low, High float64
	State     State
	Bound     int  // -1: the true value is below, 1: above; such a point is a bound and never on a line
	Apart     bool // no line joins it to the one before: another supply, another plant
}

// LimitLine is a horizontal line.
type LimitLine struct {
	Name  string
	Value float64
}

// Event is something that happened, drawn as a vertical line with a number.
type Event struct {
	At   time.Time
	Name string
}

// frame is the part of the plane that a chart shows.
type frame struct {
	from, to time.Time
	low, top float64
}

// x and y give the position within the frame as a fraction from 0 to 1, y from below. They may lie outside.
func (f frame) x(t time.Time) float64 { return float64(t.Sub(f.from)) / float64(f.to.Sub(f.from)) }
func (f frame) y(v float64) float64   { return (v - f.low) / (f.top - f.low) }

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) && math.Abs(v) < 1e15 }

// frame finds what to show: all points and, unless they are so far off that the line would be flattened to nothing
// (more than four times its own span away), the limits and bands. ok is false when there is no point at all.
func (c Chart) frame() (f frame, ok bool) {
	low, top := math.Inf(1), math.Inf(-1)
	for _, s := range c.Series {
		for _, p := range s.Points {
			if !finite(p.Value) || p.At.IsZero() {
				continue
			}
			if !ok || p.At.Before(f.from) {
				f.from = p.At
			}
			if !ok || p.At.After(f.to) {
				f.to = p.At
			}
			ok = true
			low, top = min(low, p.Value), max(top, p.Value)
			if p.Low < p.High && finite(p.Low) && finite(p.High) {
				low, top = min(low, p.Low), max(top, p.High)
			}
		}
	}
	if !ok {
		return f, false
	}
	reach := 4 * max(top-low, math.Abs(top)/10)
	near := func(v float64) bool { return finite(v) && v >= low-reach && v <= top+reach }
	newLow, newTop := low, top
	for _, l := range c.Limits {
		if near(l.Value) {
			newLow, newTop = min(newLow, l.Value), max(newTop, l.Value)
		}
	}
	for _, p := range c.expected {
		for _, v := range []float64{p.Lower, p.Upper} {
			if p.Lower != p.Upper && near(v) {
				newLow, newTop = min(newLow, v), max(newTop, v)
			}
		}
	}
	low, top = newLow, newTop
	if low == top {
		margin := max(math.Abs(low)/10, 0.5)
		low, top = low-margin, top+margin
	}
	margin := (top - low) / 20
	f.low, f.top = low-margin, top+margin
	if low >= 0 && f.low < 0 {
		f.low = 0
	}
	if !f.from.Before(f.to) {
		f.from, f.to = f.from.Add(-12*time.Hour), f.to.Add(12*time.Hour)
	}
	return f, true
}

// valueTicks gives round values inside the frame, steps of 1, 2 or 5 times a power of ten, and the decimals to print them with.
func (f frame) valueTicks(wanted int) (ticks []float64, decimals int) {
	raw := (f.top - f.low) / float64(max(wanted, 2))
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	step := 10 * power
	for _, m := range []float64{1, 2, 5} {
		if raw <= m*power*1.0001 {
			step = m * power
			break
		}
	}
	decimals = min(max(0, int(-math.Floor(math.Log10(step)+1e-9))), 9)
	first := math.Ceil(f.low/step - 1e-9)
	for i := 0; i < 4*max(wanted, 2); i++ {
		v := (first + float64(i)) * step
		if v > f.top+step*1e-9 {
			break
		}
		ticks = append(ticks, v)
	}
	return ticks, decimals
}

func formatValue(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if v == 0 || s == "-0" {
		return strconv.FormatFloat(0, 'f', decimals, 64)
	}
	return s
}

// shortest writes a value of the caller without trailing zeros.
func shortest(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

// timeSteps are the distances that ticks of a time axis may have, and how they are written (ISO 8601 parts).
var timeSteps = []struct {
	hours, days, months int
	format              string
}{
	{hours: 1, format: "15:04"}, {hours: 3, format: "15:04"}, {hours: 6, format: "15:04"}, {hours: 12, format: "01-02 15h"},
	{days: 1, format: "01-02"}, {days: 2, format: "01-02"}, {days: 7, format: "01-02"}, {days: 14, format: "01-02"},
	{months: 1, format: "2006-01"}, {months: 2, format: "2006-01"}, {months: 3, format: "2006-01"}, {months: 6, format: "2006-01"},
	{months: 12, format: "2006"}, {months: 24, format: "2006"}, {months: 60, format: "2006"}, {months: 120, format: "2006"}, {months: 1200, format: "2006"},
}

// timeTick is a moment on the axis and its label.
type timeTick struct {
	at    time.Time
	label string
}

// timeTicks gives at most wanted round moments inside the frame, in the time zone of the first point.
func (f frame) timeTicks(wanted int) []timeTick {
	wanted = max(wanted, 1)
	for _, step := range timeSteps {
		length := time.Duration(step.hours+24*step.days+730*step.months) * time.Hour
		if f.to.Sub(f.from)/length >= time.Duration(wanted) {
			continue
		}
		y, m, d := f.from.Date()
		at := time.Date(y, m, d, 0, 0, 0, 0, f.from.Location())
		if step.months > 0 {
			n := (y*12 + int(m) - 1) / step.months * step.months
			at = time.Date(n/12, time.Month(n%12+1), 1, 0, 0, 0, 0, f.from.Location())
		}
		var ticks []timeTick
		for at.Compare(f.to) <= 0 && len(ticks) <= wanted {
			if !at.Before(f.from) {
				ticks = append(ticks, timeTick{at, at.Format(step.format)})
			}
			next := at.Add(time.Duration(step.hours)*time.Hour).AddDate(0, step.months, step.days)
			if !next.After(at) {
				break
			}
			at = next
		}
		return ticks
	}
	return nil
}
