package query

import (
	"fmt"
	"sort"
	"strings"
	"time"

	"github.com/expr-lang/expr/ast"

	"wj/journal/judge"
	"wj/water"
	"wj/water/spelling"
)

// textFields are the names that are a text of the session, "" where the record has none.
var textFields = map[string]func(*row) string{
	"id":          func(r *row) string { return r.s.ID },
	"site":        func(r *row) string { return r.s.Site },
	"by":          func(r *row) string { return r.s.By },
	"recorded_by": func(r *row) string { return r.s.RecordedBy },
	"source":      func(r *row) string { return r.s.Source },
	"sample":      func(r *row) string { return r.s.Sample },
	"batch":       func(r *row) string { return r.s.Batch },
	"change":      func(r *row) string { return r.s.Change },
	"instrument":  func(r *row) string { return r.s.Instrument },
	"laboratory":  func(r *row) string { return r.s.Laboratory },
	"note":        func(r *row) string { return r.s.Note },
	"path":        func(r *row) string { return r.s.Path },
	"body":        func(r *row) string { return string(r.text()) },
	"owner": func(r *row) string {
		return r.j.OwnerOf(r.s)
	},
	"stage": func(r *row) string {
		if s := r.site(); s != nil {
			return s.Stage
		}
		return ""
	},
	"regime": func(r *row) string {
		return judge.Regime(r.j, r.site(), r.s.Sampled)
	},
}

// timeFields are the names that are a time.
var timeFields = map[string]func(*row) (period, verdict){
	"sampled": func(r *row) (period, verdict) { return moment(r.s.Sampled) },
	"tested":  func(r *row) (period, verdict) { return moment(r.s.Tested) },
	"now":     func(r *row) (period, verdict) { return moment(r.now) },
	"today":   func(r *row) (period, verdict) { return r.resolve("today"), yes },
}

// numberFields are the names that are a number but no analyte: the calendar of the sampling time in the journal's
// zone, and the age of the sample in days.
var numberFields = map[string]struct {
	number numberType
	of     func(*row) float64
}{
	"year":    {of: func(r *row) float64 { y, _, _ := r.date(r.s.Sampled); return float64(y) }},
	"month":   {of: func(r *row) float64 { _, m, _ := r.date(r.s.Sampled); return float64(m) }},
	"quarter": {of: func(r *row) float64 { _, m, _ := r.date(r.s.Sampled); return float64((m + 2) / 3) }},
	"weekday": {of: func(r *row) float64 { // ISO 8601: Monday is 1
		y, m, d := r.date(r.s.Sampled)
		return float64((int(time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC).Weekday())+6)%7 + 1)
	}},
	"age": {numberType{sort: value, unit: water.Day}, func(r *row) float64 { return r.now.Sub(r.s.Sampled).Hours() / 24 }},
}

// Names lists every name of the language, analytes and derived values first.
func Names() []string {
	list := water.Keys()
	rest := []string{"void"}
	for name := range textFields {
		rest = append(rest, name)
	}
	for name := range timeFields {
		rest = append(rest, name)
	}
	for name := range numberFields {
		rest = append(rest, name)
	}
	rest = append(rest, PairNames()...)
	sort.Strings(rest)
	return append(list, rest...)
}

func (c *compiler) name(n *ast.IdentifierNode) (*operand, *Error) {
	name := n.Value
	if id, ok := water.Lookup(name); ok {
		return c.analyte(at(n), id), nil
	}
	c.fields[name] = true
	if o, ok := c.pairOperand(at(n), name); ok {
		return o, nil
	}
	o := &operand{at: at(n), field: name}
	if f, ok := textFields[name]; ok {
		o.kind = textKind
		o.text = func(r *row) (string, verdict) { return f(r), yes }
		if name == "body" {
			o.cost = 1
		}
		return o, nil
	}
	if f, ok := timeFields[name]; ok {
		o.kind, o.time = timeKind, f
		return o, nil
	}
	if f, ok := numberFields[name]; ok {
		o.kind, o.number = numberKind, f.number
		o.num = func(r *row) num {
			if r.s.Sampled.IsZero() {
				return nothing(isAbsent)
			}
			return exact(f.of(r))
		}
		return o, nil
	}
	if name == "void" {
		o.kind = truthKind
		o.truth = func(r *row) verdict { return truth(r.s.Void != nil) }
		return o, nil
	}
	return nil, c.unknownName(at(n), name)
}

func (c *compiler) analyte(at int, id water.ID) *operand {
	c.uses.Add(id)
	return &operand{kind: numberKind, at: at, uses: water.SetOf(id), field: id.String(),
		number: numberType{sort: value, unit: id.Info().Unit, of: water.SetOf(id)},
		num:    func(r *row) num { return r.number(id) }}
}

func (c *compiler) unknownName(at int, name string) *Error {
	message := fmt.Sprintf("there is no %q in a session", shorten(name))
	switch near := spelling.Hint(name, Names()); {
	case strings.HasPrefix(name, "$"):
		return c.fail(at, shorten(name)+" is not known", "name what you ask for: sulfate, site, sampled")
	case functions[name].compile != nil || helpers()[name] != (water.Unit{}):
		return c.fail(at, fmt.Sprintf("%s is a function", name), "write "+exampleCall(name))
	case near != "":
		return c.fail(at, message, near)
	case strings.EqualFold(name, "and") || strings.EqualFold(name, "or") || strings.EqualFold(name, "not"):
		return c.fail(at, message, "write "+strings.ToLower(name)+" with small letters")
	}
	return c.fail(at, message, "text is in quotes; names are those of the analytes, and site, by, sampled, source and others")
}
