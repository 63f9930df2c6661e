package lint

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"wj/journal"
	"wj/water"
)

// plantedJournal is a good journal whose newest session faults are planted into.
type plantedJournal struct {
	name  string
	p     *plant
	last  *simSession
	other *simSession // of the bottle that may be taken for it
	j     *journal.Journal
	clean map[string]bool // what is found without a fault
	now   time.Time
	m     Memory
}

// studentT is a draw with four degrees of freedom, of variance 1: errors with heavy tails.
func studentT(r *rand.Rand) float64 {
	chi := 0.0
	for range 4 {
		chi += math.Pow(r.NormFloat64(), 2)
	}
	return r.NormFloat64() / math.Sqrt(chi/4) / math.Sqrt2
}

// plantedJournals have errors and waters of other laws than those that lint/cause assumes.
func plantedJournals(t *testing.T) []*plantedJournal {
	start := time.Date(2025, 6, 16, 0, 0, 0, 0, time.UTC)
	var out []*plantedJournal
	grow := func(name, site, other string, weeks int, shape func(p *plant)) {
		p := newPlant(t, 9000+uint64(len(out)))
		shape(p)
		last := p.season(time.Date(start.Year(), start.Month(), start.Day(), 0, 0, 0, 0, p.zone), weeks, site, other)
		out = append(out, &plantedJournal{name: name, p: p, last: last[site], other: last[other], now: start.AddDate(0, 0, 7*weeks+3)})
	}
	grow("heavy tails", "north-well", "tarrow-bore", 12, func(p *plant) {
		p.noise = func() float64 { return studentT(p.random) }
	})
	grow("shared errors, two supplies", "town-main", "north-well", 31, func(p *plant) {
		common, n := 0.0, 0
		p.noise = func() float64 {
			if n%len(panel) == 0 {
				common = p.random.NormFloat64()
			}
			n++
			return 0.6*common + 0.8*p.random.NormFloat64()
		}
	})
	grow("a season and a step, four sessions", "tarrow-bore", "north-well", 5, func(p *plant) {
		p.drift = func(id water.ID, v float64, day time.Time) float64 {
			if id == water.PHValue {
				return v
			}
			v *= 1 + 0.04*math.Sin(2*math.Pi*float64(day.YearDay())/365)
			if day.After(start.AddDate(0, 0, 14)) {
				v *= 1.03
			}
			return v
		}
	})
	for _, g := range out {
		var err error
		if g.j, err = journal.Load(mapFS(g.p.files), journal.Options{Check: true, Sessions: true}); err != nil {
			t.Fatal(err)
		}
		g.clean = map[string]bool{}
		for _, d := range g.lint(nil) {
			g.clean[d.Rule] = true
		}
	}
	return out
}

func (g *plantedJournal) lint(files map[string]string) []Diagnostic {
	laid := map[string][]byte{g.last.path(): []byte(g.last.text())}
	for name, text := range files {
		laid[name] = []byte(text)
	}
	return Run(g.j.With(laid), Options{Now: g.now, Paths: []string{g.last.path()}, Memory: &g.m}).Diagnostics
}

// edit does to a session what a row of cases.tsv says.
func (g *plantedJournal) edit(t *testing.T, s *simSession, files map[string]string, edits string) {
	t.Helper()
	factor := func(text string) float64 {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatalf("%q: %v", edits, err)
		}
		return v
	}
	for one := range strings.SplitSeq(edits, ";") {
		op, rest, _ := strings.Cut(one, " ")
		name, value, _ := strings.Cut(rest, " ")
		id, known := water.Lookup(name)
		r := s.readings[id]
		if reads := []string{"scale", "text", "sub", "swap", "dilution", "lot", "drop"}; slices.Contains(reads, op) && (!known || r == nil) {
			t.Fatalf("%q: there is no such reading", one)
		}
		switch op {
		case "scale":
			r.typed = typedValue(id, number(r.typed)*factor(value))
		case "text":
			r.typed = value
		case "sub":
			old, now, _ := strings.Cut(value, " ")
			r.typed = strings.TrimSpace(strings.Replace(r.typed, old, now, 1))
		case "swap":
			with, _ := water.Lookup(value)
			o := s.readings[with]
			r.typed, o.typed, r.dilution, o.dilution = o.typed, r.typed, o.dilution, r.dilution
		case "dilution":
			r.dilution = factor(value)
		case "lot":
			r.lot = value
		case "drop":
			s.readings[id] = nil
		case "add":
			s.head["note"] = "planted"
			s.tail = append(s.tail, name+": "+value)
		case "head":
			if name == "site" {
				s.site = value
				break
			}
			s.head[name] = value
		case "sampled", "tested":
			d, err := time.ParseDuration(rest)
			if err != nil {
				t.Fatal(err)
			}
			s.tested = s.sampled.Add(d)
		case "water":
			s.readings, s.order = g.other.copy().readings, g.other.order
		case "cut":
			for _, id := range s.order {
				if r := s.readings[id]; id != water.PHValue {
					r.typed = typedValue(id, number(r.typed)*factor(rest))
				}
			}
		case "file":
			files[name] = strings.ReplaceAll(value, `\n`, "\n")
		default:
			t.Fatalf("%q is no edit", one)
		}
	}
}

// TestPlantedCases: each row of testdata/planted/cases.tsv in each of three journals.
func TestPlantedCases(t *testing.T) {
	src, err := os.ReadFile("testdata/planted/cases.tsv")
	if err != nil {
		t.Fatal(err)
	}
	rows := strings.Split(strings.TrimSpace(string(src)), "\n")[1:]
	var n, found, line, named, others int
	var misses []string
	for _, g := range plantedJournals(t) {
		for _, row := range rows {
			c := strings.Split(row, "\t")
			if len(c) != 4 {
				t.Fatalf("%q has %d columns", row, len(c))
			}
			s, files := g.last.copy(), map[string]string{}
			g.edit(t, s, files, c[1])
			files[g.last.path()] = s.text()
			n++
			var seen []Diagnostic
			for _, d := range g.lint(files) {
				if !g.clean[d.Rule] {
					seen = append(seen, d)
				}
			}
			right, byName := false, false
			for _, d := range seen {
				at := false
				for key := range strings.SplitSeq(c[2], "|") {
					at = at || strings.Contains(d.Source, key+":")
				}
				right = right || at
				for rule := range strings.SplitSeq(c[3], "|") {
					byName = byName || d.Rule == rule
				}
			}
			if len(seen) > 0 {
				found++
				others += len(seen) - 1
			}
			if right {
				line++
			}
			if byName {
				named++
			}
			if !right || !byName || len(seen) > 1 {
				var rules []string
				for _, d := range seen {
					rules = append(rules, fmt.Sprintf("%s at %q", d.Rule, strings.TrimSpace(d.Source)))
				}
				misses = append(misses, fmt.Sprintf("%s, %s: %s", g.name, c[0], strings.Join(rules, ", ")))
			}
		}
	}
	share := func(k int) float64 { return 100 * float64(k) / float64(n) }
	t.Logf("%d cases: found %.1f %%, right line %.1f %%, named %.1f %%, others %.2f each", n, share(found), share(line), share(named), float64(others)/float64(n))
	if n < 150 || share(found) < 98 || share(line) < 97 || share(named) < 95 || float64(others)/float64(n) > 0.3 {
		t.Errorf("too little of %d cases:\n%s", n, strings.Join(misses, "\n"))
	}
}
