package exchange

import (
	"fmt"
	"sort"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/water"
	"wj/water/spelling"
)

// time reads {column: …, layout: …, zone: …, at: …}, or one time for all rows.
func (r *mapReader) time(node int32) timeSource {
	t := timeSource{at: r.placeOf(node)}
	if r.d.Nodes[node].Kind == frontmatter.Scalar {
		s := r.text(node)
		at, err := journal.ParseTime(s)
		if err != nil && s != "" {
			r.report(t.at, err.Error(), `or write {column: HEAD, layout: "YYYY-MM-DD HH:mm", zone: …}`)
		}
		t.fixed = at
		return t
	}
	r.fields(node, []string{"column", "columns", "layout", "zone", "year", "day", "at"}, func(key string, c int32) {
		switch key {
		case "column", "columns":
			t.columns = r.columns(c)
		case "layout":
			for _, s := range r.texts(c) {
				layout, err := goLayout(s)
				if err != nil {
					r.report(r.placeOf(c), err.Error(), "use YYYY, YY, MM, M, MMM, DD, D, HH, H, hh, h, mm, ss, AM and offset, and the marks between them as they are")
				}
				t.layouts, t.written = append(t.layouts, layout), append(t.written, s)
			}
		case "zone":
			s := r.text(c)
			if zone, err := loadZone(s); err == nil {
				t.zone = zone
			} else if s != "" {
				r.report(r.placeOf(c), fmt.Sprintf("%q is not a time zone", s), "write an IANA name such as Europe/Vilnius, an offset such as +02:00, or UTC")
			}
		case "year":
			t.year = fmt.Sprint(r.number(c, 1900, 2200))
		case "day":
			s := r.text(c)
			if _, err := time.Parse("01-02", s); err != nil {
				r.report(r.placeOf(c), fmt.Sprintf("%q is not a month and day", s), `write it as "07-01"`)
				return
			}
			t.day = s
		case "at":
			s := r.text(c)
			if _, err := time.Parse("15:04", s); err != nil {
				r.report(r.placeOf(c), fmt.Sprintf("%q is not a time of day", s), `write it as "12:00"`)
				return
			}
			t.clock = s
		}
	})
	if len(t.columns) == 0 {
		r.report(t.at, "which column holds the time?", "write {column: HEAD, …}, or columns: [Date, Time]")
	}
	if len(t.layouts) == 0 {
		r.report(t.at, "how are the times written?", `write layout: "DD.MM.YYYY HH:mm", with the marks that the file has`)
	}
	for i, layout := range t.layouts {
		if month, day := layoutParts(layout); layout != "" && (!month || !day) && t.day == "" {
			r.report(t.at, fmt.Sprintf("the layout %q lacks month or day", t.written[i]), `say day: "07-01" to take one for all; it is noted in the record`)
		}
	}
	if t.zone == nil {
		r.report(t.at, "in which zone are the times?", "write zone: Europe/Vilnius, or UTC, or zone: +02:00")
	}
	return t
}

func loadZone(s string) (*time.Location, error) {
	if len(s) == 6 && (s[0] == '+' || s[0] == '-') && s[3] == ':' {
		t, err := time.Parse("-07:00", s)
		if err != nil {
			return nil, err
		}
		return t.Location(), nil
	}
	if s == "" || s == "Local" {
		return nil, fmt.Errorf("no zone")
	}
	return time.LoadLocation(s)
}

// layoutWords are what a layout is written with, longest first, and what Go's
// time package calls it.
var layoutWords = []struct{ word, layout string }{
	{"YYYY", "2006"}, {"YY", "06"}, {"MMMM", "January"}, {"MMM", "Jan"}, {"MM", "01"}, {"M", "1"}, {"DD", "02"}, {"D", "2"},
	{"HH", "15"}, {"H", "15"}, {"hh", "03"}, {"h", "3"}, {"mm", "04"}, {"ss", "05"}, {"AM", "PM"}, {"am", "pm"}, {"offset", "Z07:00"},
}

// layoutParts says whether one of Go's layouts has a month and a day of the month.
func layoutParts(layout string) (month, day bool) {
	rest := strings.NewReplacer("2006", "", "06", "", "15", "").Replace(layout)
	return strings.Contains(rest, "1") || strings.Contains(rest, "Jan"), strings.Contains(rest, "2")
}

// goLayout turns a layout into Go's.
func goLayout(s string) (string, error) {
	var b strings.Builder
next:
	for i := 0; i < len(s); {
		// a T between day and time, as ISO 8601 writes it
		if s[i] == 'T' {
			b.WriteByte('T')
			i++
			continue
		}
		for _, w := range layoutWords {
			if strings.HasPrefix(s[i:], w.word) {
				b.WriteString(w.layout)
				i += len(w.word)
				continue next
			}
		}
		c := s[i]
		if c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c == '_' {
			return "", fmt.Errorf("the layout %q cannot be read at %q", s, s[i:])
		}
		b.WriteByte(c)
		i++
	}
	out := b.String()
	if !strings.Contains(out, "06") {
		return "", fmt.Errorf("the layout %q lacks the year", s)
	}
	return out, nil
}

// qualifierWords are the meanings that a qualifier can be given in a map.
var qualifierWords = []string{"exact", "below", "above", "missing", "refuse"}

// flags reads a qualifier: a column, or {column: …, values: {U: below}}.
func (r *mapReader) flags(node int32) (column, map[string]string) {
	if r.d.Nodes[node].Kind == frontmatter.Scalar {
		return r.column(node), nil
	}
	v := r.value(node)
	for text, meaning := range v.values {
		ok := false
		for _, w := range qualifierWords {
			ok = ok || meaning == w
		}
		if !ok {
			r.report(v.at, fmt.Sprintf("the qualifier %q cannot mean %q", text, meaning), "write "+strings.Join(qualifierWords, ", "))
		}
	}
	return v.column, v.values
}

func (r *mapReader) analyteName(node int32, s string) (water.ID, bool) {
	id, ok := water.LookupAnalyte(s)
	if !ok && s != "" {
		r.report(r.placeOf(node), fmt.Sprintf("%q is not an analyte", s), spelling.HintOr(s, water.AnalyteKeys(), "wj explain lists the analytes"))
	}
	return id, ok
}

// wide reads results: a mapping from heads to what they hold.
func (r *mapReader) wide(m *Mapping, node int32) {
	if r.d.Nodes[node].Kind != frontmatter.Mapping {
		r.report(r.placeOf(node), "here the heads of the columns are needed", "write Ca (mg/l): {analyte: calcium, unit: mg/L}")
		return
	}
	taken := map[water.ID]string{}
	for item := range r.d.Children(node) {
		n := r.d.Nodes[item]
		w := wideColumn{at: r.placeOf(item), unit: m.unit}
		w.column = column{name: tidy(r.d.Key(item)), at: place{int(n.KeyStart), int(n.KeyEnd)}}
		known, unitNode, unitText := false, int32(-1), ""
		r.fields(item, []string{"analyte", "unit", "qualifier", "limit", "lot", "dilution", "uncertainty", "note", "lowest", "highest"}, func(key string, c int32) {
			switch key {
			case "analyte":
				w.analyte, known = r.analyteName(c, r.text(c))
			case "unit":
				unitNode, unitText = c, tidy(r.d.Text(c))
			case "qualifier":
				w.qualifier, w.flags = r.flags(c)
			case "limit":
				w.limit = r.column(c)
			case "lot":
				w.lot = r.column(c)
			case "dilution":
				w.dilution = r.column(c)
			case "uncertainty":
				w.uncertainty = r.column(c)
			case "note":
				w.remark = r.column(c)
			case "lowest":
				w.lowest = r.column(c)
			case "highest":
				w.highest = r.column(c)
			}
		})
		if n.Kind != frontmatter.Mapping {
			continue
		}
		if !known {
			r.report(w.column.at, fmt.Sprintf("what does the column %q hold?", w.column.name), "write {analyte: …, unit: …}, or put it under ignore")
			continue
		}
		if other, twice := taken[w.analyte]; twice {
			r.report(w.column.at, fmt.Sprintf("%s is in the column %q already", w.analyte, other), "a session has one reading of an analyte: leave one column out")
		}
		taken[w.analyte] = w.column.name
		info, at := w.analyte.Info(), w.at
		if info.Unit.IsNone() {
			w.unit = water.Unit{}
		}
		if unitNode >= 0 {
			at = r.placeOf(unitNode)
			ok := true
			if unitText == "cell" { // each cell states its own
				w.unit = water.Unit{}
				m.Wide = append(m.Wide, w)
				continue
			}
			if unitText != "" {
				if w.unit, ok = water.ParseUnit(unitText); !ok {
					r.report(at, fmt.Sprintf("%q is not a known unit", unitText), "the unit is one of "+strings.Join(unitNames(info)[:min(6, len(unitNames(info)))], ", ")+" …")
				}
			}
			if !ok {
				continue
			}
		}
		if err := info.FitUnit(w.unit); err != nil {
			r.report(at, err.Error(), "")
		}
		m.Wide = append(m.Wide, w)
	}
	if len(m.Wide) == 0 && len(r.out) == 0 {
		r.report(r.placeOf(node), "no column holds results", "write Ca (mg/l): {analyte: calcium, unit: mg/L}")
	}
}

func unitNames(info *water.Analyte) []string {
	var names []string
	for _, u := range info.Units() {
		names = append(names, u.String())
	}
	return names
}

// long reads result: where the parts of each row's result are.
func (r *mapReader) long(node int32) *longForm {
	l := &longForm{}
	r.fields(node, []string{"analyte", "value", "written", "unit", "basis", "qualifier", "limit", "limit_unit", "lot", "dilution", "uncertainty", "note", "statistic"}, func(key string, c int32) {
		switch key {
		case "statistic":
			l.statistic = r.statistic(c)
		case "analyte":
			if r.d.Nodes[c].Kind == frontmatter.Scalar {
				if s := r.text(c); s != "" {
					if _, ok := r.analyteName(c, s); ok {
						l.fixed = s
					}
				}
				return
			}
			r.fields(c, []string{"column", "values", "others"}, func(key string, c int32) {
				switch key {
				case "column":
					l.analyte = r.column(c)
				case "values":
					l.analytes = r.namedAnalytes(c)
				case "others":
					l.others = r.choice(c, "skip", "refuse") == "skip"
				}
			})
		case "value":
			l.value = r.column(c)
		case "written":
			l.written = r.choice(c, "journal") == "journal"
		case "unit":
			l.unit = r.value(c)
		case "basis":
			l.basis = r.value(c)
		case "qualifier":
			l.qualifier, l.flags = r.flags(c)
		case "limit":
			l.limit = r.column(c)
		case "limit_unit":
			l.limitUnit = r.column(c)
		case "lot":
			l.lot = r.column(c)
		case "dilution":
			l.dilution = r.column(c)
		case "uncertainty":
			l.uncertainty = r.column(c)
		case "note":
			l.remark = r.column(c)
		}
	})
	for _, need := range []struct {
		is        bool
		key, help string
	}{{l.analyte.set() || l.fixed != "", "analyte", "write analyte: {column: HEAD, values: {…}}"}, {l.value.set(), "value", "write value: HEAD"}} {
		if !need.is {
			r.report(r.placeOf(node), "the result lacks its "+need.key, need.help)
		}
	}
	for _, u := range sortedValues(l.unit.values) {
		if _, ok := water.ParseUnit(u); !ok && u != "" && u != "none" {
			r.report(l.unit.at, fmt.Sprintf("%q is not a known unit", u), "write it as mg/L, mg/L CaCO3, dH, uS/cm …, or none")
		}
	}
	if u := l.unit.text; u != "" {
		if _, ok := water.ParseUnit(u); !ok {
			r.report(l.unit.at, fmt.Sprintf("%q is not a known unit", u), "write a unit, or {column: HEAD}")
		}
	}
	return l
}

func sortedValues(m map[string]string) []string {
	var out []string
	for _, v := range m {
		out = append(out, v)
	}
	sort.Strings(out)
	return out
}

// namedAnalytes reads {Nitrat-N: {analyte: nitrate, basis: N}, Calcium: calcium,
// Arsenic: ignore}.
func (r *mapReader) namedAnalytes(node int32) map[string]namedAnalyte {
	out := map[string]namedAnalyte{}
	if r.d.Nodes[node].Kind != frontmatter.Mapping {
		r.report(r.placeOf(node), "here keys are needed", "write {name in the file: analyte}")
		return out
	}
	for c := range r.d.Children(node) {
		name := tidy(r.d.Key(c))
		var n namedAnalyte
		if r.d.Nodes[c].Kind == frontmatter.Scalar {
			s := r.text(c)
			if n.ignore = s == "ignore"; !n.ignore {
				var ok bool
				if n.analyte, ok = r.analyteName(c, s); !ok {
					continue
				}
			}
			out[name] = n
			continue
		}
		known := false
		r.fields(c, []string{"analyte", "unit", "basis"}, func(key string, c int32) {
			switch key {
			case "analyte":
				n.analyte, known = r.analyteName(c, r.text(c))
			case "unit":
				n.unit = r.text(c)
				if u, ok := water.ParseUnit(n.unit); !ok {
					r.report(r.placeOf(c), fmt.Sprintf("%q is not a known unit", n.unit), "")
				} else if known {
					if err := n.analyte.Info().FitUnit(u); err != nil {
						r.report(r.placeOf(c), err.Error(), "")
					}
				}
			case "basis":
				n.basis = r.text(c)
			}
		})
		if known {
			out[name] = n
		}
	}
	return out
}
