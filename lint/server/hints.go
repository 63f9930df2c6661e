package server

import (
	"fmt"
	"strings"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
	"wj/journal/trace"
	"wj/water"
)

// inlayHints show beside a reading what it means: the result of a dilution or of
// replicates, another unit, the uncertainty; and beside "readings" what follows from all.
func (s *server) inlayHints(p rangeParams) ([]inlayHint, error) {
	out := []inlayHint{}
	s.look(p.TextDocument.URI, func(d *document) {
		if d.file.Kind != journal.KindSession || !d.fresh() {
			return
		}
		session, ok := d.place.j.Sessions.Get(d.file.ID)
		doc := d.parsed()
		readings, there := doc.FindPath("readings")
		if !ok || !there {
			return
		}
		from, to := 0, len(d.text.src)
		if p.Range != nil {
			from, to = d.text.offset(p.Range.Start), d.text.offset(p.Range.End)
		}
		add := func(at int, label string) {
			if label != "" && from <= at && at <= to {
				out = append(out, inlayHint{Position: d.text.position(at), Label: label, PaddingLeft: true})
			}
		}
		if n := doc.Nodes[readings]; n.Style == frontmatter.Block {
			_, end := d.text.bounds(d.text.line(int(n.KeyEnd)))
			add(end, derivedHint(d.place.j, session))
		}
		for c := range doc.Children(readings) {
			if id, ok := water.LookupAnalyte(doc.Key(c)); ok {
				if r, ok := session.Reading(id); ok && !r.Faulty {
					add(int(doc.Nodes[c].End), readingHint(d.place.j, session, r))
				}
			}
		}
	})
	return out, nil
}

// readingHint is a reading's result in the unit that its owner likes to read, or else its
// half-width at 95 %.
func readingHint(j *journal.Journal, s *journal.Session, r *journal.Reading) string {
	info := r.Analyte.Info()
	m, ok := j.Measured(s, r)
	if !ok {
		return ""
	}
	typed := r.First.Unit
	liked := j.Preferred(j.OwnerOf(s), r.Analyte)
	if typed == liked || liked.IsNone() {
		liked = typed
	}
	v, err := info.Convert(m.Value, info.Unit, liked)
	if err != nil {
		return ""
	}
	if m.Bound != water.Exact {
		if r.Factor() == 1 && liked == typed {
			return ""
		}
		return "= " + m.Bound.String() + water.Round(v, 3) + unitText(liked)
	}
	half := 0.0
	if top, err := info.Convert(m.Value+2*m.U, info.Unit, liked); err == nil {
		half = top - v
	}
	value, spread := water.Spread(v, half)
	switch {
	case r.Factor() != 1 || len(r.More) > 0 || liked != typed:
		if spread != "" {
			value += " ± " + spread
		}
		return "= " + value + unitText(liked)
	case spread != "" && r.First.Expanded == 0:
		return "± " + spread
	}
	return ""
}

// derivedHint is what brewers ask first of a water.
func derivedHint(j *journal.Journal, s *journal.Session) string {
	var a water.Analysis
	j.Analysis(s, &a)
	var parts []string
	for _, id := range []water.ID{water.ResidualAlkalinity, water.Magnesium, water.Sodium} {
		v, err := a.Value(id)
		if err != nil || !v.Derived || v.Bound != water.Exact {
			continue
		}
		info, unit := id.Info(), j.Preferred(j.OwnerOf(s), id)
		value, err := info.Convert(v.Value, info.Unit, unit)
		if err != nil {
			continue
		}
		half := 0.0
		if top, err := info.Convert(v.Value+2*v.U, info.Unit, unit); err == nil {
			half = top - value
		}
		text, spread := water.Spread(value, half)
		if spread != "" {
			text += " ± " + spread
		}
		parts = append(parts, info.Key+" "+text+unitText(unit))
	}
	return strings.Join(parts, " · ")
}

// codeLenses stand above a record: who signed it, and what depends on it.
func (s *server) codeLenses(p documentParams) ([]codeLens, error) {
	out := []codeLens{}
	s.look(p.TextDocument.URI, func(d *document) {
		doc := d.parsed()
		if d.file.Kind == journal.KindSettings || !doc.OK() {
			return
		}
		at := d.text.span(doc.Front, doc.Front)
		add := func(title string, list []location) {
			out = append(out, codeLens{at, command{title, "wj.showReferences", []any{d.uri, at.Start, list}}})
		}
		if title, signed := signatures(d.place.j, d.file); title != "" {
			list := []location{}
			for _, f := range signed {
				list = append(list, location{URI: s.uri(d.place, f)})
			}
			add(title, list)
		}
		reached := trace.NewGraph(d.place.j).Walk(d.file, true).Reached()
		if len(reached) == 0 {
			return
		}
		counts, order, list := map[journal.Kind]int{}, []journal.Kind{}, []location{}
		for _, f := range reached {
			if counts[f.Kind]++; counts[f.Kind] == 1 {
				order = append(order, f.Kind)
			}
			list = append(list, location{URI: s.uri(d.place, f.Path)})
		}
		var parts []string
		for _, k := range order {
			parts = append(parts, journal.Count(counts[k], k.String()))
		}
		word := " depend on it: "
		if len(reached) == 1 {
			word = " depends on it: "
		}
		add(journal.Count(len(reached), "record")+word+strings.Join(parts, ", "), list)
	})
	return out, nil
}

// signatures says who signed a record by the records alone: whether a signature is good is
// for wj verify to prove.
func signatures(j *journal.Journal, f journal.File) (title string, files []string) {
	var parts []string
	for _, signoff := range j.Signoffs.List {
		if signoff.Of != f.ID || signoff.Void != nil {
			continue
		}
		text := fmt.Sprintf("%s by %s on %s", signoff.Decision, j.PersonName(signoff.By), journal.FormatDate(signoff.On))
		if digest := signoff.Covers[f.Path]; digest != "" {
			if _, same := evidence.Same(j, f.Path, digest); !same {
				text += ", changed since"
			}
		}
		parts, files = append(parts, text), append(files, signoff.Path)
	}
	switch {
	case len(parts) > 0:
		return strings.Join(parts, "; "), files
	case f.Kind == journal.KindChange:
		return "not signed", nil
	}
	return "", nil
}
