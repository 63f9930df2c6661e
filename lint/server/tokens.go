package server

import (
	"strings"

	"wj/journal"
	"wj/water"
)

// tokenTypes is the legend: what the numbers of semanticTokens stand for.
var tokenTypes = []string{"property", "variable", "number", "type", "class", "enumMember", "string", "macro"}

const (
	tokenProperty = iota // a key
	tokenVariable        // an analyte, derived value or substance
	tokenNumber
	tokenUnit
	tokenReference // the id of a record
	tokenChoice    // a word of a list, true or false
	tokenDate
	tokenRule
)

// semanticTokens distinguish the parts of the front matter as YAML alone cannot: a number
// and its unit, the id of a record, an analyte.
func (s *server) semanticTokens(p rangeParams) (semanticTokens, error) {
	out := semanticTokens{Data: []int{}}
	s.lookAsItIs(p.TextDocument.URI, func(d *document) {
		from, to := 0, len(d.text.src)
		if p.Range != nil {
			from, to = d.text.offset(p.Range.Start), d.text.offset(p.Range.End)
		}
		var last position
		add := func(start, end, kind int) {
			if end <= start || end < from || start > to || d.text.line(start) != d.text.line(end) {
				return
			}
			a, b := d.text.position(start), d.text.position(end)
			delta := a.Character
			if a.Line == last.Line {
				delta -= last.Character
			}
			if a.Line < last.Line || delta < 0 {
				return // keys of a mapping in brackets come in order; anything else is no token
			}
			out.Data = append(out.Data, a.Line-last.Line, delta, b.Character-a.Character, kind, 0)
			last = a
		}
		walk(d.parsed(), d.file.Kind, func(at place) { at.tokens(add) })
	})
	return out, nil
}

func (at *place) tokens(add func(start, end, kind int)) {
	if at.onKey {
		kind := tokenProperty
		if at.field.Type == journal.TypeDict {
			switch at.field.Keys {
			case journal.AnalyteKey, journal.ValueKey, journal.TargetKey, journal.SubstanceKey:
				kind = tokenVariable
			case journal.RuleKey, journal.HouseKey:
				kind = tokenRule
			case journal.PathKey:
				kind = tokenReference
			}
		}
		add(at.start, at.end, kind)
		return
	}
	switch at.mapping().field.Type {
	case journal.TypeRef:
		add(at.start, at.end, tokenReference)
	case journal.TypeChoice, journal.TypeFlag, journal.TypeRuleSetting:
		add(at.start, at.end, tokenChoice)
	case journal.TypeAnalyteName, journal.TypeValueName:
		add(at.start, at.end, tokenVariable)
	case journal.TypeUnitName:
		add(at.start, at.end, tokenUnit)
	case journal.TypeNumber, journal.TypeInteger:
		add(at.start, at.end, tokenNumber)
	case journal.TypeDate, journal.TypeMonth, journal.TypeTime, journal.TypeDateOrTime:
		add(at.start, at.end, tokenDate)
	case journal.TypeReading, journal.TypeQuantity, journal.TypeAmount:
		start, end := at.start, at.end
		if end-start == len(at.text)+2 { // in quotes
			start, end = start+1, end-1
		}
		if _, err := water.ParseQuantity(at.text); err != nil || end-start != len(at.text) {
			return
		}
		number := len(at.text) - len(strings.TrimLeft(at.text, "<>+-−±/0123456789. "))
		digits := len(strings.TrimRight(at.text[:number], " "))
		add(start, start+digits, tokenNumber)
		add(start+number, end, tokenUnit)
	}
}
