package stats

import (
	"fmt"
	"math"
	"slices"
)

// SeasonTrend is the test within one season.
type SeasonTrend struct {
	Season int
	Kendall
}

// SeasonalKendall is a trend test that compares each season only with itself, so that a yearly swing, or a supply
// that switches with the season, is not taken for a trend.
type SeasonalKendall struct {
	Seasons []SeasonTrend // in rising order of the season's number; seasons with one reading are not among them
	Skipped []int         // seasons with too few readings
	N       int           // readings in Seasons
	S       int           // sum over seasons
	// Tau is the mean of the seasons' TauA, weighted with their numbers of readings.
	Tau      float64
	Variance float64 // sum over seasons
	Z, P     float64 // with continuity correction; two-sided, normal approximation
	// Slope is the median of all slopes between readings of one season, per unit of x.
	Slope       float64
	SlopeLimits Interval
	// Homogeneity is the chi-square of the seasons' Z about their mean, with HomogeneityDF degrees of freedom. A
	// small HomogeneityP says that the seasons go different ways, and that one trend for all has no meaning.
	Homogeneity   float64
	HomogeneityDF int
	HomogeneityP  float64
}

// SeasonalMannKendall sums S and its variance over seasons (Hirsch, Slack & Smith, Water Resources Research 18
// (1982) 107–121); slope: the same, with the confidence limits of Gilbert, Statistical Methods for Environmental
// Pollution Monitoring (1987), ch. 17. Homogeneity: χ² = Σ Zᵢ² − m Z̄², without continuity correction (van Belle &
// Hughes, Water Resources Research 20 (1984) 127–136). Season numbers each reading's season, of any numbering; x
// is the time, such as the year. Confidence is that of the slope's limits, such as 0.95. Readings of neighbouring
// seasons must be independent; the covariance of Hirsch & Slack (1984) is not applied.
func SeasonalMannKendall(season []int, x, y []float64, confidence float64) (SeasonalKendall, error) {
	const what = "seasonal Kendall test"
	if err := checkPairs(what, x, y, 3); err != nil {
		return SeasonalKendall{}, err
	}
	if len(season) != len(x) {
		return SeasonalKendall{}, fmt.Errorf("%s: %d seasons for %d readings", what, len(season), len(x))
	}
	if err := checkShare(what, "confidence", confidence); err != nil {
		return SeasonalKendall{}, err
	}
	if len(x) > LargestSlopeSeries {
		return SeasonalKendall{}, tooMany(what, len(x))
	}
	xs, ys := map[int][]float64{}, map[int][]float64{}
	for i, s := range season {
		xs[s], ys[s] = append(xs[s], x[i]), append(ys[s], y[i])
	}
	names := make([]int, 0, len(xs))
	for s := range xs {
		names = append(names, s)
	}
	slices.Sort(names)

	var out SeasonalKendall
	var slopes []float64
	sumZ, squareZ := 0.0, 0.0
	for _, s := range names {
		if len(xs[s]) < 2 {
			out.Skipped = append(out.Skipped, s)
			continue
		}
		k := kendall(xs[s], ys[s])
		out.Seasons = append(out.Seasons, SeasonTrend{s, k})
		out.N += k.N
		out.S += k.S
		out.Variance += k.Variance
		out.Tau += k.TauA * float64(k.N)
		if k.Variance > 0 {
			z := float64(k.S) / math.Sqrt(k.Variance)
			sumZ += z
			squareZ += z * z
		}
		slopes = appendSlopes(slopes, xs[s], ys[s])
	}
	m := len(out.Seasons)
	if m == 0 || len(slopes) == 0 {
		return SeasonalKendall{}, fmt.Errorf("%s: %w: no season has two readings at different times", what, ErrTooFew)
	}
	out.Tau /= float64(out.N)
	out.Z = continuityZ(out.S, out.Variance)
	out.P = twoSidedNormal(out.Z)
	out.HomogeneityDF = m - 1
	out.HomogeneityP = 1
	if out.HomogeneityDF > 0 {
		out.Homogeneity = max(0, squareZ-sumZ*sumZ/float64(m))
		out.HomogeneityP = ChiSquareTail(out.Homogeneity, float64(out.HomogeneityDF))
	}
	var err error
	out.Slope, out.SlopeLimits, err = medianSlope(what, slopes, out.Variance, confidence)
	return out, err
}
