package stats

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// LargestSlopeSeries is the most readings that a slope is computed for: the slopes between all pairs are held at
// once, 8 bytes each, so 5,000 readings take 100 MB. Up to 2,000 readings it is a matter of some hundredths of a
// second.
const LargestSlopeSeries = 5000

func tooMany(what string, n int) error {
	return fmt.Errorf("%s: %d readings, at most %d can be paired with each other; take monthly medians first", what, n, LargestSlopeSeries)
}

// Slope is the Theil–Sen line through readings: half of all pairs of readings rise more steeply, half less.
type Slope struct {
	N          int
	Pairs      int     // pairs at different x
	PerUnit    float64 // change of y for one unit of x
	Limits     Interval
	Confidence float64
	Intercept  float64 // y at x = 0: median(y) − slope × median(x)
	// MedianX and MedianY are the point that the line passes through, and that the limits turn about.
	MedianX, MedianY float64
	LastX            float64
}

// TheilSen is the median of (yⱼ − yᵢ)/(xⱼ − xᵢ) over all pairs with different x (Theil 1950; Sen, JASA 63 (1968)
// 1379–1389). X should be real dates (see TimeAxis), so that gaps count for what they are. Confidence limits: the
// slopes at ranks (N ∓ z √Var S)/2, the upper one plus 1, between two ranks in proportion (Gilbert, Statistical
// Methods for Environmental Pollution Monitoring (1987), ch. 16); a rank outside the slopes leaves that limit
// open. Packages that round ranks differ in the last digits. Intercept: Conover, Practical Nonparametric
// Statistics, 3rd ed. (1999), 5.5. It needs three readings and at most LargestSlopeSeries.
func TheilSen(x, y []float64, confidence float64) (Slope, error) {
	const what = "Theil-Sen slope"
	if err := checkPairs(what, x, y, 3); err != nil {
		return Slope{}, err
	}
	if err := checkShare(what, "confidence", confidence); err != nil {
		return Slope{}, err
	}
	if len(x) > LargestSlopeSeries {
		return Slope{}, tooMany(what, len(x))
	}
	slopes := appendSlopes(nil, x, y)
	if len(slopes) == 0 {
		return Slope{}, fmt.Errorf("%s: %w: all readings are at one time", what, ErrNoSpread)
	}
	s := Slope{N: len(x), Pairs: len(slopes), Confidence: confidence, MedianX: median(x), MedianY: median(y), LastX: x[0]}
	for _, v := range x {
		s.LastX = math.Max(s.LastX, v)
	}
	var err error
	s.PerUnit, s.Limits, err = medianSlope(what, slopes, kendall(x, y).Variance, confidence)
	if err != nil {
		return Slope{}, err
	}
	s.Intercept = s.MedianY - s.PerUnit*s.MedianX
	if math.IsInf(s.Intercept, 0) {
		return Slope{}, fmt.Errorf("%s: the line is too steep for a number, x values are too close together", what)
	}
	return s, nil
}

// TheilSenCensored is an interval in which the Theil–Sen slope of the true readings lies, whatever the readings
// behind the limits were: each pair's slope lies in an interval, and the median rises with each of them. Floor is
// as in Value.Bounds. The interval is about what is unknown, not about chance; it is open where too much is
// unknown, and exact where the censored pairs do not reach the middle.
func TheilSenCensored(x []float64, y []Value, floor float64) (Interval, error) {
	const what = "Theil-Sen slope"
	if err := checkCensored(what+", y", y, 2); err != nil {
		return Interval{}, err
	}
	if err := checkFloor(what, floor); err != nil {
		return Interval{}, err
	}
	lows, highs := bounds(y, floor)
	if len(x) != len(y) {
		return Interval{}, fmt.Errorf("%s: %d values of x but %d of y, they must go in pairs", what, len(x), len(y))
	}
	if err := checkValues(what+", x", x, 2); err != nil {
		return Interval{}, err
	}
	if len(x) > LargestSlopeSeries {
		return Interval{}, tooMany(what, len(x))
	}
	pairs := len(x) * (len(x) - 1) / 2
	least, most := make([]float64, 0, pairs), make([]float64, 0, pairs)
	for i := range x {
		for j := range i {
			late, early := i, j
			if x[late] < x[early] {
				late, early = early, late
			}
			if d := x[late] - x[early]; d > 0 {
				least = append(least, (lows[late]-highs[early])/d)
				most = append(most, (highs[late]-lows[early])/d)
			}
		}
	}
	if len(least) == 0 {
		return Interval{}, fmt.Errorf("%s: %w: all readings are at one time", what, ErrNoSpread)
	}
	h := (float64(len(least)) + 1) / 2
	return Interval{selectRank(least, h), selectRank(most, h)}, nil
}

// appendSlopes adds the slopes of all pairs at different x.
func appendSlopes(slopes, x, y []float64) []float64 {
	slopes = slices.Grow(slopes, len(x)*(len(x)-1)/2)
	for i := range x {
		for j := range i {
			if d := x[i] - x[j]; d != 0 {
				slopes = append(slopes, (y[i]-y[j])/d)
			}
		}
	}
	return slopes
}

// medianSlope takes the median and the confidence limits from slopes, which it reorders.
func medianSlope(what string, slopes []float64, variance, confidence float64) (float64, Interval, error) {
	n := float64(len(slopes))
	middle := selectRank(slopes, (n+1)/2)
	if math.IsInf(middle, 0) || math.Abs(middle) > largest {
		return 0, Interval{}, fmt.Errorf("%s: the line is too steep for a number, x values are too close together", what)
	}
	reach := NormalQuantile(0.5+confidence/2) * math.Sqrt(variance)
	limits := Interval{math.Inf(-1), math.Inf(1)}
	if h := (n - reach) / 2; h >= 1 {
		limits.Low = selectRank(slopes, math.Min(h, (n+1)/2))
	}
	if h := (n+reach)/2 + 1; h <= n {
		limits.High = selectRank(slopes, math.Max(h, (n+1)/2))
	}
	return middle, limits, nil
}

// selectRank reads a series at a 1-based rank as atRank does, ordering no more of it than it needs.
func selectRank(a []float64, h float64) float64 {
	below := int(math.Floor(h))
	low := selectIndex(a, below-1)
	if h == float64(below) || below == len(a) {
		return low
	}
	high := a[below]
	for _, v := range a[below:] {
		high = math.Min(high, v)
	}
	return between(low, high, h-float64(below))
}

// selectIndex puts the value that an ordered a has at index k there, with nothing greater before it and nothing
// smaller after it (Hoare, Communications of the ACM 4 (1961) 321, algorithm 65 "Find"; the pivot is the middle of
// three, and equal values stop both scans, so that ordered and tied series stay fast).
func selectIndex(a []float64, k int) float64 {
	low, high := 0, len(a)-1
	for low < high {
		p, q, r := a[low], a[low+(high-low)/2], a[high]
		pivot := math.Max(math.Min(p, q), math.Min(math.Max(p, q), r))
		i, j := low, high
		for i <= j {
			for a[i] < pivot {
				i++
			}
			for a[j] > pivot {
				j--
			}
			if i <= j {
				a[i], a[j] = a[j], a[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			high = j
		case k >= i:
			low = i
		default:
			return a[k]
		}
	}
	return a[k]
}

// At is y on the line at x.
func (s Slope) At(x float64) float64 { return s.MedianY + s.PerUnit*(x-s.MedianX) }

// Crossing is when a trend line comes to a limit, in units of x.
type Crossing struct {
	// Now is y on the line at the last reading. Ask it first: whether the limit is passed already.
	Now float64
	// Estimate is where the line comes to the limit from where its middle is, not before the last reading; +Inf is
	// never. Earliest and Latest are the same with the slope at its confidence limits.
	Estimate         float64
	Earliest, Latest float64
}

// Passes reports when the line comes to a limit of y if it goes on as it did: x = median(x) + (limit −
// median(y))/slope, with the estimate and with both confidence limits of the slope, the line turned about the
// medians. The range knows only the slope's uncertainty, not that of a single reading, nor that trends end; it is
// an extrapolation and should be shown as one.
func (s Slope) Passes(limit float64) (Crossing, error) {
	if err := checkNumber("projection", "limit", limit); err != nil {
		return Crossing{}, err
	}
	distance := limit - s.MedianY
	steep, flat := s.Limits.High, s.Limits.Low
	if distance < 0 {
		steep, flat = flat, steep
	}
	return Crossing{s.At(s.LastX), s.reach(distance, s.PerUnit), s.reach(distance, steep), s.reach(distance, flat)}, nil
}

// reach is the x, not before the last reading, at which a line of one slope has come the distance from the medians;
// +Inf if it goes the other way.
func (s Slope) reach(distance, slope float64) float64 {
	if distance == 0 {
		return s.LastX
	}
	if slope == 0 || (slope > 0) != (distance > 0) {
		return math.Inf(1)
	}
	return math.Max(s.LastX, s.MedianX+distance/slope)
}

// daysPerYear is the mean year of the Gregorian calendar, 146,097 days in 400 years.
const daysPerYear = 365.2425

// TimeAxis turns moments into years since an origin, so that slopes are per year, and back.
type TimeAxis struct {
	Origin time.Time
}

// Years are the years, of 365.2425 days of 24 hours, from the origin to each moment.
func (a TimeAxis) Years(moments []time.Time) []float64 {
	out := make([]float64, len(moments))
	for i, t := range moments {
		// Unix seconds, since a time.Duration ends after 292 years.
		seconds := float64(t.Unix()-a.Origin.Unix()) + float64(t.Nanosecond()-a.Origin.Nanosecond())/1e9
		out[i] = seconds / (daysPerYear * 86400)
	}
	return out
}

// Moment is the time so many years after the origin. It is false for what lies further off than a thousand years,
// never included, where a date would say nothing.
func (a TimeAxis) Moment(years float64) (time.Time, bool) {
	if math.IsNaN(years) || math.Abs(years) > 1000 {
		return time.Time{}, false
	}
	whole, part := math.Modf(years * daysPerYear * 86400)
	return time.Unix(a.Origin.Unix()+int64(whole), int64(a.Origin.Nanosecond())+int64(part*1e9)).In(a.Origin.Location()), true
}
