package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"wj/journal"
	"wj/query/profile"
	"wj/query/stats"
	"wj/water"
)

// quality is how far the tests agree with each other.
func (s *statsPage) quality() {
	p := s.p
	lab := p.Laboratory
	if n := len(lab.Pairs); n > 0 {
		text := ""
		switch {
		case lab.Lack == "":
			text = fmt.Sprintf("bench less laboratory %s%s on average (95 %%: %s; t-test, p %s), median %s, n %d", signed(lab.Test.MeanDifference), s.unit(), interval95(lab.Test.Limits), probability(lab.Test.P), signed(lab.Test.MedianDifference), n)
		default:
			text = fmt.Sprintf("bench less laboratory: %s; the newest %s%s", shortLack(lab.Lack), signed(lab.Pairs[n-1].Bench.Value-lab.Pairs[n-1].Lab.Value), s.unit())
		}
		if w := lab.Worst; w != nil {
			agree := "agree"
			if math.Abs(w.En) > 1 {
				agree = "do not agree"
			}
			text += fmt.Sprintf("; worst E_n %s, %s and %s %s", strings.Replace(water.Round(w.En, 2), "-", "−", 1), w.Bench.Session, w.Lab.Session, agree)
		}
		s.out.Fact("laboratory", "%s", text+boundPairs(lab.Bounds))
	} else if lab.Bounds > 0 {
		s.out.Fact("laboratory", "no pair of numbers%s", boundPairs(lab.Bounds))
	} else if lab.Alone > 0 {
		s.out.Fact("laboratory", "%s, none with a bench sample within %.0f h", journal.Count(lab.Alone, "result"), profile.PairedWithin.Hours())
	}
	s.replicates("replicates", p.Replicates)
	s.replicates("duplicates", p.Duplicates)
	for i, d := range p.Standards {
		unit, what, label := " %", "recovery", "standards"
		write := func(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) }
		if !d.Percent {
			unit, what, write = s.standardUnit(), "found less made", signed
		}
		if i > 0 {
			label = ""
		}
		spread := ""
		if !math.IsNaN(d.Deviation) {
			spread = ", standard deviation " + water.Round(d.Deviation, 2)
		}
		s.out.Fact(label, "%s: %s %s%s (%s to %s)%s, n %d, last %s", d.Instrument, what, write(d.Mean), unit, write(d.Low), write(d.High), spread, d.N, d.LastTested.Format("2006-01-02"))
	}
	if b := p.Blanks; b.Measured+b.Bounds > 0 {
		text := fmt.Sprintf("n %d, highest %s%s", b.Measured+b.Bounds, reportedText(b.Highest), s.unit())
		if d := b.Limit; d != nil {
			text += fmt.Sprintf("; detection limit %s%s (40 CFR 136 App. B, n %d)", water.Round(d.Limit, 2), s.unit(), d.N)
			if d.Shaky {
				text += ", shaky: 7 needed"
			}
		}
		s.out.Fact("blanks", "%s", text)
	}
}

func boundPairs(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("; %s with a bound left out", journal.Count(n, "pair"))
}

func reportedText(v stats.Value) string {
	return strings.TrimSuffix(v.String(), strconv.FormatFloat(v.Number, 'g', -1, 64)) + fewDigits(v.Number)
}

func (s *statsPage) replicates(label string, r profile.Replicates) {
	if len(r.People) == 0 {
		return
	}
	unit := " %"
	if !r.Percent {
		unit = s.unit()
	}
	var parts []string
	for i, b := range r.People {
		if i > most {
			parts = append(parts, fmt.Sprintf("%d more people", len(r.People)-i))
			break
		}
		top := fmt.Sprintf("worst %s", water.Round(b.Worst, 2))
		if !math.IsNaN(b.Top) {
			top = fmt.Sprintf("95 %% %s", water.Round(b.Top, 2))
		}
		name := ""
		if b.By != "" {
			name = b.By + " "
		}
		parts = append(parts, fmt.Sprintf("%smedian %s, %s%s, n %d", name, water.Round(b.Median, 2), top, unit, b.N))
	}
	text := strings.Join(parts, "; ")
	if r.Percent {
		text = "relative difference " + text
	} else {
		text = "difference " + text
	}
	if r.Judged > 0 {
		text += fmt.Sprintf("; %d of %d further apart than the declared repeatability allows", r.Exceeded, r.Judged)
	}
	s.out.Fact(label, "%s", text)
}

// standardUnit is the unit of what is said of check standards.
func (s *statsPage) standardUnit() string {
	if u := s.p.Series.Analyte.Info().Unit.String(); u != "" {
		return " " + u
	}
	return ""
}
