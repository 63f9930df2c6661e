package server

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/lint"
	"wj/render"
	"wj/water"
	"wj/water/substance"
)

// completion answers what can be at a place.
func (s *server) completion(p positionParams) ([]completionItem, error) {
	items := []completionItem{}
	s.lookAsItIs(p.TextDocument.URI, func(d *document) {
		offset := d.text.offset(p.Position)
		c, ok := cursorAt(d.text.src, d.file.Kind == journal.KindSettings, offset)
		if !ok {
			return
		}
		at, ok := rootField(d.file.Kind).at(c.path)
		if !ok {
			return
		}
		o := offers{s: s, d: d, j: d.place.j, c: c, at: at}
		o.offer()
		items = append(items, o.items...)
	})
	return items, nil
}

// offers gathers what can be at a cursor.
type offers struct {
	s     *server
	d     *document
	j     *journal.Journal
	c     cursor
	at    schemaField
	items []completionItem
}

// offer looks at the schema of the place.
func (o *offers) offer() {
	if !o.c.key {
		o.values(o.at)
		return
	}
	m := o.at.mapping()
	switch {
	case m.field.Type == journal.TypeMap, m.field.Type == journal.TypeReading && m.field.Fields != nil, m.field.Type == journal.TypeAmount && m.field.Fields != nil:
		if o.c.flow || m.field.Type == journal.TypeMap || len(o.c.present) > 0 {
			o.fields(m.field.Fields)
			return
		}
		o.values(o.at)
	case m.field.Type == journal.TypeDict:
		o.dictionary(m.field)
	case m.field.Type == journal.TypeRuleSetting:
		o.thresholds()
	default:
		o.values(o.at)
	}
}

// add offers a text in place of the word from start to the end of the word
// under the cursor.
func (o *offers) add(item completionItem, start int, text string) {
	item.SortText = fmt.Sprintf("%04d", len(o.items))
	item.TextEdit = &textEdit{o.d.text.span(start, max(o.c.end, start)), text}
	item.FilterText = text
	item.Label, item.Detail = render.Line(item.Label), render.Line(item.Detail)
	o.items = append(o.items, item)
}

func (o *offers) key(name, detail, doc string) {
	if o.c.present[name] && name != strings.TrimSpace(o.c.typed) {
		return
	}
	item := completionItem{Label: name, Kind: itemProperty, Detail: detail}
	if doc != "" {
		item.Documentation = &markup{"markdown", doc}
	}
	text := name
	rest := o.d.text.src[o.c.end:]
	if len(rest) == 0 || rest[0] != ':' {
		text += ": "
	}
	o.add(item, o.c.start, text)
	o.items[len(o.items)-1].FilterText = name
}

func (o *offers) value(kind int, text, detail string) {
	o.add(completionItem{Label: text, Kind: kind, Detail: detail}, o.c.start, o.glue(text))
}

// glue puts a blank before a value that would stand right behind the colon.
func (o *offers) glue(text string) string {
	if o.c.start > 0 && o.d.text.src[o.c.start-1] == ':' {
		return " " + text
	}
	return text
}

// fields offers the keys of a mapping, those that must be there first.
func (o *offers) fields(fields []journal.Field) {
	for _, required := range []bool{true, false} {
		for i := range fields {
			if f := &fields[i]; f.Required == required {
				detail := f.Doc
				if required {
					detail += " (required)"
				}
				o.key(f.Key, detail, "")
			}
		}
	}
}

// dictionary offers the keys that a dictionary can have.
func (o *offers) dictionary(f *journal.Field) {
	switch f.Keys {
	case journal.AnalyteKey, journal.ValueKey, journal.TargetKey:
		names := water.AnalyteKeys()
		if f.Keys != journal.AnalyteKey {
			names = water.Keys()
		}
		for _, name := range names {
			id, _ := water.Lookup(name)
			o.key(name, id.Info().Doc, "")
		}
		if f.Keys == journal.TargetKey {
			o.key("mash_pH", "pH of the mash at 20 degC", "")
		}
	case journal.SubstanceKey:
		for _, sub := range substance.All() {
			o.key(sub.Key, sub.Name+", "+sub.Formula, "")
		}
	case journal.RuleKey:
		for _, r := range lint.RulesOf(o.j) {
			o.key(r.Name, r.Title, r.Page())
		}
	case journal.PathKey:
		for _, file := range o.j.Files {
			o.key(file.Path, file.Kind.String(), "")
		}
	}
}

// thresholds offers the settings of a lint rule.
func (o *offers) thresholds() {
	if len(o.c.path) == 0 {
		return
	}
	r, ok := lint.FindIn(o.j, o.c.path[len(o.c.path)-1])
	if !ok {
		return
	}
	o.key("severity", "error, warning, info or off", "")
	for _, t := range r.Settings {
		o.key(t.Key, t.Doc+" ("+t.Default+" if absent)", "")
	}
}

// values offers what a value can be.
func (o *offers) values(at schemaField) {
	f := at.field
	switch f.Type {
	case journal.TypeOneOrList, journal.TypeList:
		if item, ok := at.item(); ok && f.Of != nil && (f.Type == journal.TypeOneOrList || o.c.key) {
			o.values(item)
		}
	case journal.TypeRef:
		for _, k := range f.To {
			o.references(k, at)
		}
	case journal.TypeChoice:
		choices := f.Choices
		if f.Key == "substance" {
			for _, sub := range substance.All() {
				choices = append(choices, sub.Key)
			}
		}
		for _, c := range choices {
			o.value(itemEnumMember, c, f.Doc)
		}
	case journal.TypeFlag:
		o.value(itemEnumMember, "true", f.Doc)
		o.value(itemEnumMember, "false", f.Doc)
	case journal.TypeRuleSetting:
		for _, c := range []string{"error", "warning", "info", "off"} {
			o.value(itemEnumMember, c, "severity")
		}
	case journal.TypeAnalyteName, journal.TypeValueName:
		names := water.AnalyteKeys()
		if f.Type == journal.TypeValueName {
			names = water.Keys()
		}
		for _, name := range names {
			id, _ := water.Lookup(name)
			o.value(itemEnumMember, name, id.Info().Doc)
		}
	case journal.TypeUnitName:
		for _, u := range o.units(at) {
			o.value(itemUnit, u, "")
		}
	case journal.TypeReading, journal.TypeQuantity, journal.TypeAmount, journal.TypeAccuracy:
		o.quantity(at)
	case journal.TypeTime, journal.TypeDateOrTime:
		o.value(itemValue, journal.FormatTime(o.now().Truncate(60e9)), "now")
	case journal.TypeDate:
		o.value(itemValue, journal.FormatDate(o.now()), "today")
	}
}

// references offers the records of a kind. Lots come in the order in which they
// would be taken, and those that cannot be used last.
func (o *offers) references(k journal.Kind, at schemaField) {
	if k != journal.KindLot {
		for _, id := range o.j.IDs(k) {
			o.value(itemReference, id, briefly(o.j, k, id))
		}
		return
	}
	day := o.now()
	current := ""
	if at.known {
		if l, ok := judge.CurrentLot(o.j, at.analyte, day, judge.TestsUsed(o.j)); ok {
			current = l.ID
		}
	}
	usable := func(l *journal.Lot) bool {
		return !l.ExpiredOn(day) && l.Recalled == nil && l.Void == nil && l.Finished.IsZero()
	}
	rank := func(l *journal.Lot) int {
		switch {
		case l.ID == current:
			return 0
		case usable(l):
			return 1
		}
		return 2
	}
	lots := slices.Clone(o.j.Lots.List)
	slices.SortStableFunc(lots, func(a, b *journal.Lot) int { return rank(a) - rank(b) })
	for _, l := range lots {
		if at.known && !l.IsFor(at.analyte) {
			continue
		}
		o.value(itemReference, l.ID, briefly(o.j, k, l.ID))
		if !usable(l) {
			o.items[len(o.items)-1].Tags = []int{1}
		}
	}
}

// numberPart is the number of a quantity that is being typed.
var numberPart = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^["']?[<>]?\s*[0-9]+(\.[0-9]+)?(\s*(±|\+/-)\s*[0-9]+(\.[0-9]+)?)?`)
})

// quantity offers the units behind a number.
func (o *offers) quantity(at schemaField) {
	number := numberPart().FindString(o.c.typed)
	if number == "" {
		return
	}
	start, gap := o.c.start+len(number), " "
	for start < o.c.end && o.d.text.src[start] == ' ' {
		start, gap = start+1, ""
	}
	for _, u := range o.units(at) {
		o.add(completionItem{Label: u, Kind: itemUnit}, start, gap+u)
		o.items[len(o.items)-1].FilterText = u
	}
}

var instrumentLine = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`(?m)^instrument:\s*([A-Za-z0-9-]+)`) })

// units lists the units that fit, those that the session's meter shows first.
func (o *offers) units(at schemaField) []string {
	var names []string
	add := func(u water.Unit) {
		if name := u.String(); name != "" && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	if at.known {
		if m := instrumentLine().FindSubmatch(o.d.text.src); m != nil {
			if in, ok := o.j.Instruments.Get(string(m[1])); ok && in.Measures[at.analyte] != nil {
				for _, u := range in.Measures[at.analyte].Units {
					add(u)
				}
			}
		}
		add(o.j.Preferred("", at.analyte))
		for _, u := range at.analyte.Info().Units() {
			add(u)
		}
	}
	for _, name := range water.UnitNames() {
		if u, ok := water.ParseUnit(name); ok && slices.Contains(at.field.Families, u.Family()) {
			add(u)
		}
	}
	if at.field.Type == journal.TypeUnitName && !at.known {
		names = append(names, water.UnitNames()...)
	}
	return names
}

// now is the time of day in the journal's zone.
func (o *offers) now() time.Time {
	now := o.s.opt.Now()
	if z := o.j.Settings.Zone; z != nil {
		return now.In(z)
	}
	return now
}
