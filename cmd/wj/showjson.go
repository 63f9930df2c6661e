package main

import (
	"strconv"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/lint"
	"wj/render"
	"wj/water"
)

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

// sessionJSON is the machine's form of wj show: readings and derived values by
// name, each with value, unit, u (standard uncertainty) and from. Bounds have
// bound and limit instead of value.
func sessionJSON(j *journal.Journal, s *journal.Session, ds []lint.Diagnostic) render.Object {
	var a water.Analysis
	j.Analysis(s, &a)
	readings, derived := render.Object{}, render.Object{}
	for i := range s.Readings {
		r := &s.Readings[i]
		o := render.Object{}
		if m, ok := a.Measured(r.Analyte); ok {
			o = append(valueJSON(m.Bound, m.Value, m.U, r.Analyte), render.Member{Name: "from", Value: []any{r.Analyte.String()}},
				render.Member{Name: "typed", Value: journal.TypedReading(r)}, render.Member{Name: "assumed_accuracy", Value: m.Assumed})
		} else {
			o = append(o, render.Member{Name: "error", Value: "cannot be read"})
		}
		if r.Lot != "" {
			o = append(o, render.Member{Name: "lot", Value: r.Lot})
		}
		readings = append(readings, render.Member{Name: r.Analyte.String(), Value: o})
	}
	ids := water.DerivedNames()
	for i, v := range a.DeriveAll(ids...) {
		id := ids[i]
		if v.Err != nil {
			continue
		}
		from := []any{}
		for _, f := range v.From {
			from = append(from, f.String())
		}
		o := append(valueJSON(v.Bound, v.Value.Value, v.U, id), render.Member{Name: "from", Value: from})
		if v.Note != "" {
			o = append(o, render.Member{Name: "note", Value: v.Note})
		}
		derived = append(derived, render.Member{Name: id.String(), Value: o})
	}
	o := render.Object{{Name: "kind", Value: "session"}, {Name: "id", Value: s.ID}, {Name: "path", Value: s.Path}, {Name: "site", Value: s.Site},
		{Name: "sampled", Value: journal.FormatTime(s.Sampled)}}
	if !s.Tested.IsZero() {
		o = append(o, render.Member{Name: "tested", Value: journal.FormatTime(s.Tested)})
	}
	return append(o, render.Member{Name: "by", Value: s.By}, render.Member{Name: "source", Value: s.Source}, render.Member{Name: "sample", Value: s.Sample},
		render.Member{Name: "void", Value: s.Void != nil}, render.Member{Name: "readings", Value: readings}, render.Member{Name: "derived", Value: derived},
		render.Member{Name: "checks", Value: checksJSON(&a)}, render.Member{Name: "findings", Value: findingsJSON(ds)})
}

func valueJSON(bound water.Bound, v, u float64, id water.ID) render.Object {
	unit := id.Info().Unit.String()
	if bound != water.Exact {
		return render.Object{{Name: "value", Value: nil}, {Name: "bound", Value: bound.String()}, {Name: "limit", Value: rounded(v)}, {Name: "unit", Value: unit}, {Name: "u", Value: nil}}
	}
	return render.Object{{Name: "value", Value: rounded(v)}, {Name: "unit", Value: unit}, {Name: "u", Value: rounded(u)}}
}

func findingsJSON(ds []lint.Diagnostic) []any {
	out := []any{}
	for _, d := range ds {
		out = append(out, render.Object{{Name: "line", Value: d.Line}, {Name: "column", Value: d.Column}, {Name: "severity", Value: d.Severity.String()},
			{Name: "rule", Value: d.Rule}, {Name: "message", Value: d.Message}, {Name: "help", Value: d.Help}})
	}
	return out
}

// recordJSON is any other record: its fields as written.
func recordJSON(d *frontmatter.Document, f journal.File, ds []lint.Diagnostic) render.Object {
	fields := render.Object{}
	for c := range d.Children(0) {
		fields = append(fields, render.Member{Name: d.Key(c), Value: nodeJSON(d, c)})
	}
	return render.Object{{Name: "kind", Value: f.Kind.String()}, {Name: "id", Value: f.ID}, {Name: "path", Value: f.Path}, {Name: "fields", Value: fields},
		{Name: "findings", Value: findingsJSON(ds)}}
}

func nodeJSON(d *frontmatter.Document, node int32) any {
	switch d.Nodes[node].Kind {
	case frontmatter.Sequence:
		items := []any{}
		for c := range d.Children(node) {
			items = append(items, nodeJSON(d, c))
		}
		return items
	case frontmatter.Mapping:
		o := render.Object{}
		for c := range d.Children(node) {
			o = append(o, render.Member{Name: d.Key(c), Value: nodeJSON(d, c)})
		}
		return o
	}
	return d.Text(node)
}
