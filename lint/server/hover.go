package server

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/lint"
	"wj/render"
	"wj/water"
	"wj/water/substance"
)

// hover tells what is at a place: a reading in other units and what follows
// from it, the record that is named, what a key means, and of a finding the
// rule's page.
func (s *server) hover(p positionParams) (*hover, error) {
	var out *hover
	s.look(p.TextDocument.URI, func(d *document) {
		offset := d.text.offset(p.Position)
		doc := d.parsed()
		at, ok := spotAt(doc, d.file.Kind, offset)
		var parts []string
		var place *span
		if ok {
			h := hovering{s: s, d: d, doc: doc, j: d.place.j, at: at}
			parts = h.tell()
			r := d.text.span(at.start, at.end)
			place = &r
		}
		told := map[string]bool{}
		for _, f := range d.rulesAt(offset) {
			if r, ok := lint.FindIn(d.place.j, f.Rule); ok && !told[f.Rule] {
				told[f.Rule] = true
				parts = append(parts, r.Page())
			}
		}
		if len(parts) > 0 {
			out = &hover{Contents: markup{"markdown", strings.Join(parts, "\n\n---\n\n")}, Range: place}
		}
	})
	return out, nil
}

// hovering is one answer in the making.
type hovering struct {
	s   *server
	d   *document
	doc *frontmatter.Document
	j   *journal.Journal
	at  spot
}

func (h *hovering) tell() []string {
	var parts []string
	add := func(text string) {
		if text != "" {
			parts = append(parts, text)
		}
	}
	if len(h.at.keys) > 0 && h.at.keys[0] == "readings" && h.d.file.Kind == journal.KindSession {
		session, _ := h.j.Sessions.Get(h.d.file.ID)
		switch {
		case session == nil:
		case len(h.at.keys) == 1:
			add(h.derived(session, water.NumNames))
			return parts
		case h.isReading():
			if r, ok := session.Reading(h.at.analyte); ok && !r.Faulty {
				add(h.reading(session, r))
				add(h.derived(session, h.at.analyte))
				return parts
			}
		}
	}
	owner := h.at.owner
	if owner.field != nil {
		owner = owner.mapping()
	}
	switch {
	case h.at.onKey && owner.field.Type == journal.TypeDict:
		add(h.entry(owner.field.Keys))
	case h.at.onKey:
		add("**" + h.at.text + "**: " + plain(h.at.field.Doc))
	default:
		add(h.scalar())
	}
	for _, f := range named(h.j, h.at) {
		add(describe(h.j, f, h.s.opt.Now()))
	}
	return parts
}

// isReading reports whether the place is a reading's key or its value.
func (h *hovering) isReading() bool {
	if !h.at.known {
		return false
	}
	return len(h.at.keys) == 2 || h.at.field.Type == journal.TypeReading
}

// entry explains the key of a dictionary.
func (h *hovering) entry(keys journal.KeyType) string {
	switch keys {
	case journal.AnalyteKey, journal.ValueKey, journal.TargetKey:
		if h.at.known {
			return analyte(h.at.analyte)
		}
	case journal.SubstanceKey:
		if sub, ok := substance.ByKey(h.at.text); ok {
			return substanceText(sub)
		}
	case journal.RuleKey, journal.HouseKey:
		if r, ok := lint.FindIn(h.j, h.at.text); ok {
			return r.Page()
		}
	}
	return ""
}

// scalar explains a value by the type of its field.
func (h *hovering) scalar() string {
	field := h.at.mapping().field
	switch field.Type {
	case journal.TypeAnalyteName, journal.TypeValueName:
		if id, ok := water.Lookup(h.at.text); ok {
			return analyte(id)
		}
	case journal.TypeReading, journal.TypeQuantity, journal.TypeAmount:
		if q, err := water.ParseQuantity(h.at.text); err == nil {
			return quantity(q, h.at.analyte, h.at.known)
		}
	case journal.TypeChoice:
		if sub, ok := substance.ByKey(h.at.text); ok && field.Key == "substance" {
			return substanceText(sub)
		}
	}
	return ""
}

// analyte says what an analyte or derived value is.
func analyte(id water.ID) string {
	info := id.Info()
	text := "**" + info.Key + "**: " + plain(info.Doc)
	if units := info.Units(); len(units) > 0 && !info.Unit.IsNone() {
		names := make([]string, 0, len(units))
		for _, u := range units {
			names = append(names, u.String())
		}
		text += "\n\nunits: " + strings.Join(names, ", ")
	}
	if id >= water.NumAnalytes {
		text += "\n\ncomputed, never stored"
	}
	return text
}

// substanceText says what a salt, acid or base is.
func substanceText(sub substance.Substance) string {
	var ions []string
	for _, ion := range sub.Ions {
		ions = append(ions, ion.Name)
	}
	return fmt.Sprintf("**%s**: %s, `%s`, %s\n\nbrings %s", sub.Key, plain(sub.Name), sub.Formula, sub.Kind, orNothing(strings.Join(ions, ", ")))
}

func orNothing(s string) string {
	if s == "" {
		return "no ion that is counted"
	}
	return s
}

// quantity shows a quantity in the other units that fit.
func quantity(q water.Quantity, id water.ID, known bool) string {
	if q.Unit.IsNone() {
		return ""
	}
	var others []string
	add := func(u water.Unit, v float64, err error) {
		if err == nil && u != q.Unit && !math.IsNaN(v) {
			others = append(others, q.Bound.String()+water.Round(v, 3)+" "+u.String())
		}
	}
	if known {
		for _, u := range id.Info().Units() {
			v, err := id.Info().Convert(q.Value, q.Unit, u)
			add(u, v, err)
		}
	} else {
		for _, name := range water.UnitNames() {
			if u, ok := water.ParseUnit(name); ok && u.Family() == q.Unit.Family() {
				v, err := q.In(u)
				add(u, v, err)
			}
		}
	}
	if len(others) == 0 {
		return ""
	}
	return "**" + plain(q.String()) + "**\n\n= " + plain(strings.Join(others, " = "))
}

// reading shows a reading's result with its uncertainty and in other units.
func (h *hovering) reading(s *journal.Session, r *journal.Reading) string {
	info := r.Analyte.Info()
	m, ok := h.j.Measured(s, r)
	if !ok {
		return ""
	}
	var b strings.Builder
	fmt.Fprintf(&b, "**%s** %s", info.Key, plain(journal.TypedReading(r)))
	if m.Bound == water.Exact {
		value, half := water.Spread(m.Value, 2*m.U)
		fmt.Fprintf(&b, "\n\nresult: %s", value)
		if half != "" {
			fmt.Fprintf(&b, " ± %s", half)
		}
		b.WriteString(unitText(info.Unit))
		if half != "" {
			b.WriteString(" (95 %")
			if m.Assumed {
				b.WriteString("; no accuracy is declared, the usual one is taken")
			}
			b.WriteString(")")
		}
	}
	value, bound := r.Result()
	q := water.Quantity{Value: value, Bound: bound, Unit: r.First.Unit}
	var others []string
	for _, u := range info.Units() {
		if v, err := info.Convert(q.Value, q.Unit, u); err == nil && !u.IsNone() && (u != info.Unit || m.Bound != water.Exact) {
			others = append(others, bound.String()+water.Round(v, 3)+" "+u.String())
		}
	}
	if len(others) > 0 {
		b.WriteString("\n\n= " + plain(strings.Join(others, " = ")))
	}
	return b.String()
}

// derived is the table of what follows from the readings of a session; with an
// analyte only of what depends on it.
func (h *hovering) derived(s *journal.Session, from water.ID) string {
	var a water.Analysis
	h.j.Analysis(s, &a)
	owner := ""
	if site, ok := h.j.Sites.Get(s.Site); ok {
		owner = site.Owner
	}
	var b strings.Builder
	for _, v := range a.DeriveAll(water.DerivedNames()...) {
		if v.Err != nil || a.Has(v.ID) || from != water.NumNames && !slices.Contains(v.From, from) {
			continue
		}
		info := v.ID.Info()
		unit := h.j.Preferred(owner, v.ID)
		value, half := v.Value.Value, v.Expanded()
		if unit != info.Unit {
			converted, err := info.Convert(value, info.Unit, unit)
			top, err2 := info.Convert(value+half, info.Unit, unit)
			if err != nil || err2 != nil {
				unit = info.Unit
			} else {
				value, half = converted, top-converted
			}
		}
		text, spread := water.Spread(value, half)
		if spread != "" {
			text += " ± " + spread
		}
		fmt.Fprintf(&b, "\n| %s | %s%s |", v.ID, text, unitText(unit))
	}
	if b.Len() == 0 {
		return ""
	}
	return "| derived | ± 95 % |\n| --- | --- |" + b.String()
}

func unitText(u water.Unit) string {
	if u.IsNone() {
		return ""
	}
	return " " + u.String()
}

var markdownSigns = strings.NewReplacer("\\", "\\\\", "`", "\\`", "*", "\\*", "_", "\\_", "[", "\\[", "]", "\\]", "<", "\\<", ">", "\\>", "|", "\\|", "#", "\\#", "&", "&amp;")

// plain makes text of a record stand as it is in Markdown, on one line.
func plain(s string) string { return markdownSigns.Replace(render.Line(s)) }
