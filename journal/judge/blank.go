package judge

import (
	"wj/journal"
	"wj/water"
)

// Blank is a value that a meter showed of water with nothing in it.
type Blank struct {
	Reading *journal.Reading
	Holds   water.Quantity // as shown, of one portion
	Most    float64        // what a blank may show, in the analyte's standard unit
}

// Blanks are the values of a blank that are more than their test may err by at
// nothing: 1.5 half-widths of 95 % (see actionLimit), and not below the bottom of the
// meter's range. Nothing for what is no blank, is void, or was not tested on the
// bench. pH and temperature have no blank.
func Blanks(j *journal.Journal, s *journal.Session) []Blank {
	if s.Void != nil || s.Sample != journal.SampleBlank || !Bench(s) {
		return nil
	}
	var out []Blank
	for i := range s.Readings {
		r := &s.Readings[i]
		m := j.Measures(s, r)
		if r.Faulty || m == nil || !m.HasAccuracy || r.Analyte == water.PHValue || r.Analyte == water.SampleTemperature {
			continue
		}
		info := r.Analyte.Info()
		most := actionLimit * 2 * m.Accuracy.Uncertainty(0, 1)
		if m.Low.Set {
			most = max(most, info.Standard(m.Low.Quantity))
		}
		for _, q := range append([]water.Quantity{r.First}, r.More...) {
			if q.Bound == water.Exact && info.Standard(q) > most {
				out = append(out, Blank{r, q, most})
			}
		}
	}
	return out
}
