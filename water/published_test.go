package water

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"wj/water/equilibrium"
)

// Each row of testdata/published/water.tsv is a check against something outside
// the project; its source is in the row. A row marked "disagrees" is kept,
// with the reason in its remark, and the test holds that it still disagrees.

type publishedRow struct {
	id, unit, source, status, remark string
	in                               map[string]string
	expected, tolerance              float64
}

func publishedRows(t testing.TB) []publishedRow {
	t.Helper()
	const name = "water.tsv"
	data, err := os.ReadFile(filepath.Join("..", "testdata", "published", name))
	if err != nil {
		t.Fatal(err)
	}
	var rows []publishedRow
	for n, line := range strings.Split(strings.TrimRight(string(data), "\n"), "\n") {
		if n == 0 {
			continue
		}
		c := strings.Split(line, "\t")
		if len(c) != 8 {
			t.Fatalf("%s:%d: %d columns, want 8", name, n+1, len(c))
		}
		r := publishedRow{id: c[0], unit: c[3], source: c[5], status: c[6], remark: c[7], in: map[string]string{}}
		if r.expected, err = strconv.ParseFloat(c[2], 64); err != nil {
			t.Fatalf("%s:%d: %v", name, n+1, err)
		}
		if r.source == "" {
			t.Errorf("%s:%d: no source", name, n+1)
		}
		for _, part := range strings.Split(c[1], "; ") {
			k, v, _ := strings.Cut(part, "=")
			r.in[k] = v
		}
		word := strings.TrimPrefix(strings.Fields(c[4])[0], "±")
		percent, relative := strings.CutSuffix(word, "%")
		switch {
		case word == "exact":
		case relative:
			p, err := strconv.ParseFloat(percent, 64)
			if err != nil {
				t.Fatalf("%s:%d: %v", name, n+1, err)
			}
			r.tolerance = p / 100 * math.Abs(r.expected)
		default:
			if r.tolerance, err = strconv.ParseFloat(word, 64); err != nil {
				t.Fatalf("%s:%d: %v", name, n+1, err)
			}
		}
		rows = append(rows, r)
	}
	return rows
}

func TestPublishedValues(t *testing.T) {
	rows := publishedRows(t)
	if len(rows) < 120 {
		t.Fatalf("only %d rows", len(rows))
	}
	seen := map[string]bool{}
	for _, r := range rows {
		t.Run(r.id, func(t *testing.T) {
			if seen[r.id] {
				t.Fatal("this id occurs twice")
			}
			seen[r.id] = true
			got, err := r.compute()
			if err != nil {
				t.Fatal(err)
			}
			within := math.Abs(got-r.expected) <= r.tolerance*(1+1e-9)
			switch {
			case r.status == "disagrees" && r.remark == "":
				t.Error("a row that disagrees needs its reason")
			case r.status == "disagrees" && within:
				t.Errorf("%.6g %s agrees by now: mark it so", got, r.unit)
			case r.status != "disagrees" && !within:
				t.Errorf("%.6g %s, published %g ± %g (%s)", got, r.unit, r.expected, r.tolerance, r.source)
			}
		})
	}
}

// compute does what a row asks for.
func (r publishedRow) compute() (float64, error) {
	switch r.in["do"] {
	case "mass":
		return looseBases[strings.ToLower(r.in["basis"])].MolarMass(), nil
	case "convert":
		id, ok := LookupAnalyte(r.in["analyte"])
		if !ok {
			return 0, fmt.Errorf("no analyte %q", r.in["analyte"])
		}
		q, to, err := r.quantities()
		if err != nil {
			return 0, err
		}
		return id.Info().Convert(q.Value, q.Unit, to)
	case "in":
		q, to, err := r.quantities()
		if err != nil {
			return 0, err
		}
		return q.In(to)
	case "dose": // mg/L of a mass in a volume
		m, err := ParseQuantity(r.in["mass"])
		if err != nil {
			return 0, err
		}
		v, err := ParseQuantity(r.in["volume"])
		if err != nil {
			return 0, err
		}
		g, err := m.In(Gram)
		if err != nil {
			return 0, err
		}
		l, err := v.In(Litre)
		return 1000 * g / l, err
	case "band":
		an, err := strconv.ParseFloat(r.in["anions"], 64)
		if err != nil {
			return 0, err
		}
		b, ok := BalanceBand(an)
		if !ok || b.Unit != r.unit || b.Low != -b.High {
			return 0, fmt.Errorf("band %+v", b)
		}
		return b.High, nil
	case "derive":
		return r.derive()
	case "solids":
		a, err := r.analysis()
		if err != nil {
			return 0, err
		}
		s, _, err := a.Speciation()
		if err != nil {
			return 0, err
		}
		return s.DissolvedSolids(equilibrium.SolidsConstituents) + a.heavier(), nil
	}
	return 0, fmt.Errorf("what is do=%s", r.in["do"])
}

func (r publishedRow) quantities() (Quantity, Unit, error) {
	q, err := ParseQuantity(r.in["value"])
	if err != nil {
		return q, None, err
	}
	to, ok := ParseUnit(r.in["to"])
	if !ok {
		return q, to, fmt.Errorf("no unit %q", r.in["to"])
	}
	return q, to, nil
}

// analysis takes the readings of a row; u.NAME is a standard uncertainty and r
// a correlation between all of them.
func (r publishedRow) analysis() (*Analysis, error) {
	var a Analysis
	for k, v := range r.in {
		id, ok := LookupAnalyte(k)
		if !ok {
			continue
		}
		q, err := ParseQuantity(v)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", k, err)
		}
		if err := id.Info().Fit(q); err != nil {
			return nil, err
		}
		m := Measured{Value: id.Info().Standard(q)}
		if u := r.in["u."+k]; u != "" {
			if m.U, err = strconv.ParseFloat(u, 64); err != nil {
				return nil, err
			}
		}
		if s := r.in["r"]; s != "" {
			c, err := strconv.ParseFloat(s, 64)
			if err != nil {
				return nil, err
			}
			m.Shared, m.SharedU = "meter", m.U*math.Sqrt(c)
		}
		a.Set(id, m)
	}
	return &a, nil
}

func (r publishedRow) derive() (float64, error) {
	a, err := r.analysis()
	if err != nil {
		return 0, err
	}
	id, ok := Lookup(r.in["want"])
	if !ok {
		return 0, fmt.Errorf("no name %q", r.in["want"])
	}
	v, err := a.Derive(id)
	if err != nil {
		return 0, err
	}
	if n := a.Number(id); !a.Has(id) && n != v.Value {
		return 0, fmt.Errorf("Number gives %g and Derive %g", n, v.Value)
	}
	if r.in["part"] == "u" { // of the readings alone
		return math.Sqrt(v.U*v.U - math.Pow(a.modelUncertainty(id, v.Value), 2)), nil
	}
	if to := r.in["to"]; to != "" {
		u, ok := ParseUnit(to)
		if !ok {
			return 0, fmt.Errorf("no unit %q", to)
		}
		return id.Info().Convert(v.Value, id.Info().Unit, u)
	}
	return v.Value, nil
}
