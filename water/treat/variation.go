package treat

import (
	"math"
	"math/rand/v2"
	"slices"
	"sync"
)

// variation is how a row of values moves with the sources of error. Each source is moved to both sides; the parabola through
// the three points keeps what a straight line loses where a value bends, as pH does without alkalinity (Julier & Uhlmann,
// Proc. IEEE 92 (2004) 401, for the points at the square root of three).
type variation struct {
	at          []float64
	slope, bend [][]float64 // by source and value, per standard uncertainty and its square
	flat        []bool      // rectangular sources
}

// points in standard uncertainties at which a source is tried.
const (
	normalPoint = 1.7320508075688772
	flatPoint   = 1.5
)

// vary moves each of n sources; f writes the values with a source moved by so many standard uncertainties, source -1 for none.
// A side without an answer is taken as the mirror of the other; a source without any answer is an error.
func vary(flat []bool, rows int, f func(source int, size float64, out []float64) error) (*variation, error) {
	v := &variation{at: make([]float64, rows), flat: flat}
	if err := f(-1, 0, v.at); err != nil {
		return nil, err
	}
	up, down := make([]float64, rows), make([]float64, rows)
	for i := range flat {
		size := normalPoint
		if flat[i] {
			size = flatPoint
		}
		errUp, errDown := f(i, size, up), f(i, -size, down)
		slope, bend := make([]float64, rows), make([]float64, rows)
		switch {
		case errUp != nil && errDown != nil:
			return nil, errUp
		case errUp != nil:
			for k := range rows {
				slope[k] = (v.at[k] - down[k]) / size
			}
		case errDown != nil:
			for k := range rows {
				slope[k] = (up[k] - v.at[k]) / size
			}
		default:
			for k := range rows {
				slope[k], bend[k] = (up[k]-down[k])/(2*size), (up[k]+down[k]-2*v.at[k])/(2*size*size)
			}
		}
		for k := range rows {
			if math.IsNaN(slope[k]) || math.IsInf(slope[k], 0) {
				slope[k] = 0
			}
			if math.IsNaN(bend[k]) || math.IsInf(bend[k], 0) {
				bend[k] = 0
			}
		}
		v.slope, v.bend = append(v.slope, slope), append(v.bend, bend)
	}
	return v, nil
}

// drawn is how many points of a Latin hypercube stand for all (McKay et al., Technometrics 21 (1979) 239). They are the same
// in every run, so that the same records give the same figures.
const drawn = 2048

// draw gives one value at every point of so many hypercubes.
func (v *variation) draw(row, cubes int) []float64 {
	all := make([]float64, cubes*drawn)
	for k := range all {
		all[k] = v.at[row]
	}
	for i := range v.slope {
		a, b := v.slope[i][row], v.bend[i][row]
		if a == 0 && b == 0 {
			continue
		}
		for n := range cubes {
			out := all[n*drawn : (n+1)*drawn]
			for k, stratum := range hypercube.column(n*len(v.slope) + i) {
				d := hypercube.normal[stratum]
				if v.flat[i] {
					d = math.Sqrt(3) * (2*(float64(stratum)+0.5)/drawn - 1)
				}
				out[k] += a*d + b*d*d
			}
		}
	}
	return all
}

// interval is the middle 95 % of the values at the points.
func interval(points []float64) (low, high float64) {
	sorted := slices.Clone(points)
	slices.Sort(sorted)
	quantile := func(p float64) float64 {
		at := p*float64(len(sorted)) - 0.5
		k := int(math.Floor(at))
		k = max(0, min(k, len(sorted)-2))
		return sorted[k] + (at-float64(k))*(sorted[k+1]-sorted[k])
	}
	return quantile(0.025), quantile(0.975)
}

// hypercube holds the strata of each source: a permutation for each column, and the middle of each stratum of a normal
// distribution.
var hypercube = &latin{}

type latin struct {
	mutex   sync.Mutex
	columns [][]int16
	normal  []float64
}

func (l *latin) column(i int) []int16 {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	if l.normal == nil {
		l.normal = make([]float64, drawn)
		for k := range l.normal {
			l.normal[k] = math.Sqrt2 * math.Erfinv(2*(float64(k)+0.5)/drawn-1)
		}
	}
	for len(l.columns) <= i {
		order := rand.New(rand.NewPCG(2048, uint64(len(l.columns)))).Perm(drawn)
		column := make([]int16, drawn)
		for k, stratum := range order {
			column[k] = int16(stratum)
		}
		l.columns = append(l.columns, column)
	}
	return l.columns[i]
}
