package exchange

import (
	"fmt"
	"sort"
	"strconv"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/water"
	"wj/water/spelling"
)

// Mapping says which column of a sheet is what. It is read from a YAML file by
// the same strict rules as a record: an unknown key is an error with its place.
type Mapping struct {
	Sheets        []string // "all" for all; none: the first
	Encoding      string
	Delimiter     rune  // 0: find out
	Header        []int // rows that hold the heads, joined where several
	Decimal       byte  // '.' or ','
	Thousands     string
	Missing       []string // cells that hold no result
	Nondetect     []string // cells that mean: below the limit in another column
	NegativeBelow bool     // -0.05 means <0.05
	Round         int      // decimals; -1: not declared

	Source, Laboratory, By, Site, Sample valueSource
	Instrument, ID                       valueSource
	Sampled, Tested                      timeSource
	Latitude, Longitude                  column
	Group, Notes, Ignore                 []column
	Skip                                 []skipRule
	NewSites                             *newSites

	unit   water.Unit // of the columns of Wide that say none
	Across *acrossForm
	Wide   []wideColumn
	Long   *longForm
}

// column is a column named by its head, or as =C by its letters.
type column struct {
	name string
	at   place
	n    int // where it is, once the header is read
}

func (c column) set() bool { return c.name != "" }

// place is a place in the mapping file.
type place struct{ start, end int }

// valueSource is a text for all rows, or a column with what its texts mean.
type valueSource struct {
	text   string
	column column
	values map[string]string
	skip   bool // texts that are not in values: leave the row out
	at     place
}

func (v valueSource) set() bool { return v.text != "" || v.column.set() }

// timeSource is one or two columns that tell the time, and how.
type timeSource struct {
	columns []column
	layouts []string // of Go's time package
	written []string // as they were written
	zone    *time.Location
	clock   string    // the time of day where the file has none
	year    string    // where the file has only a month
	day     string    // the month and day, MM-DD, where the file has only a year or a month
	fixed   time.Time // one time for the whole file
	at      place
}

// skipRule leaves rows out on purpose.
type skipRule struct {
	column column
	is     []string
	not    []string
	empty  bool
}

// newSites says how sites that the journal does not have are made.
type newSites struct {
	owner, stage        string
	name                column
	latitude, longitude column
	at                  place
}

// wideColumn is a column that holds the results of one analyte.
type wideColumn struct {
	column                                               column
	analyte                                              water.ID
	unit                                                 water.Unit
	qualifier, limit, lot, dilution, uncertainty, remark column
	lowest, highest                                      column // of the period that the result is a mean of
	flags                                                map[string]string
	at                                                   place
}

// longForm is one row a result.
type longForm struct {
	analyte                                                         column
	fixed                                                           string // one analyte for all rows
	statistic                                                       *statisticForm
	analytes                                                        map[string]namedAnalyte
	others                                                          bool // leave out what is not in analytes
	value                                                           column
	written                                                         bool // the value is a reading as a record has it
	unit                                                            valueSource
	basis                                                           valueSource
	qualifier, limit, limitUnit, lot, dilution, uncertainty, remark column
	flags                                                           map[string]string
}

// namedAnalyte is what a laboratory's name of a test means here.
type namedAnalyte struct {
	ignore  bool
	analyte water.ID
	unit    string // in place of the unit column
	basis   string
}

// mapReader reads a mapping and collects what is wrong with it.
type mapReader struct {
	d    *frontmatter.Document
	path string
	out  []journal.Problem
}

// ParseMapping reads a mapping file. Problems have places in it; a mapping with
// problems is not to be used.
func ParseMapping(path string, src []byte) (*Mapping, []journal.Problem) {
	r := &mapReader{d: &frontmatter.Document{}, path: path}
	r.d.ParseYAML(src)
	for _, p := range r.d.Problems {
		r.add(p.Start, p.End, p.Rule, p.Message, p.Help)
	}
	m := &Mapping{Decimal: '.', Round: -1, Header: []int{1}}
	if r.d.OK() {
		r.mapping(m)
	}
	return m, r.out
}

func (r *mapReader) add(start, end int, rule, message, help string) {
	p := journal.Problem{Rule: rule, Path: r.path, Start: start, End: end, Message: message, Help: help}
	p.Line, p.Column = r.d.Position(start)
	r.out = append(r.out, p)
}

func (r *mapReader) report(at place, message, help string) {
	r.add(at.start, at.end, "import/map", message, help)
}

func (r *mapReader) placeOf(node int32) place {
	n := r.d.Nodes[node]
	if n.Start == n.End && n.KeyStart >= 0 {
		return place{int(n.KeyStart), int(n.KeyEnd)}
	}
	return place{int(n.Start), int(n.End)}
}

// fields calls do for each key of a mapping; do reports whether it knows the key.
func (r *mapReader) fields(node int32, known []string, do func(key string, c int32)) {
	if r.d.Nodes[node].Kind != frontmatter.Mapping {
		r.report(r.placeOf(node), "here keys are needed", "write one of "+strings.Join(known, ", "))
		return
	}
	for c := range r.d.Children(node) {
		key := r.d.Key(c)
		at := place{int(r.d.Nodes[c].KeyStart), int(r.d.Nodes[c].KeyEnd)}
		found := false
		for _, k := range known {
			found = found || k == key
		}
		if !found {
			r.report(at, fmt.Sprintf("%q is not a key of a map", key), spelling.HintOr(key, known, "known here are "+strings.Join(known, ", ")))
			continue
		}
		do(key, c)
	}
}

func (r *mapReader) text(node int32) string {
	if r.d.Nodes[node].Kind != frontmatter.Scalar {
		r.report(r.placeOf(node), "here is "+r.d.Nodes[node].Kind.String()+" where a text is needed", "write the text")
		return ""
	}
	s := tidy(r.d.Text(node))
	if s == "" {
		r.report(r.placeOf(node), "nothing is said here", "fill it in, or take the line away")
	}
	return s
}

func (r *mapReader) texts(node int32) []string {
	if r.d.Nodes[node].Kind != frontmatter.Sequence {
		if s := r.text(node); s != "" {
			return []string{s}
		}
		return nil
	}
	var out []string
	for c := range r.d.Children(node) {
		if r.d.Nodes[c].Kind == frontmatter.Scalar { // "" may be in a list
			out = append(out, tidy(r.d.Text(c)))
		} else {
			out = append(out, r.text(c))
		}
	}
	return out
}

func (r *mapReader) dict(node int32) map[string]string {
	out := map[string]string{}
	if r.d.Nodes[node].Kind != frontmatter.Mapping {
		r.report(r.placeOf(node), "here keys are needed", "write {text in the file: what it means}")
		return out
	}
	for c := range r.d.Children(node) {
		out[tidy(r.d.Key(c))] = r.text(c)
	}
	return out
}

func (r *mapReader) column(node int32) column {
	return column{name: r.text(node), at: r.placeOf(node)}
}

func (r *mapReader) columns(node int32) []column {
	if r.d.Nodes[node].Kind != frontmatter.Sequence {
		return []column{r.column(node)}
	}
	var out []column
	for c := range r.d.Children(node) {
		out = append(out, r.column(c))
	}
	return out
}

// number reads a whole number from low to high.
func (r *mapReader) number(node int32, low, high int) int {
	n, err := strconv.Atoi(r.text(node))
	if err != nil || n < low || n > high {
		r.report(r.placeOf(node), fmt.Sprintf("%q is not a number from %d to %d", r.d.Text(node), low, high), "")
		return low
	}
	return n
}

// choice reads one of some words.
func (r *mapReader) choice(node int32, words ...string) string {
	s := r.text(node)
	for _, w := range words {
		if s == w {
			return s
		}
	}
	if s != "" {
		r.report(r.placeOf(node), fmt.Sprintf("%q is not allowed here", s), "write "+strings.Join(words, " or "))
	}
	return ""
}

// value reads a text, or {column: …, values: {…}, others: skip}.
func (r *mapReader) value(node int32) valueSource {
	v := valueSource{at: r.placeOf(node)}
	if r.d.Nodes[node].Kind == frontmatter.Scalar {
		v.text = r.text(node)
		return v
	}
	r.fields(node, []string{"column", "values", "others"}, func(key string, c int32) {
		switch key {
		case "column":
			v.column = r.column(c)
		case "values":
			v.values = r.dict(c)
		case "others":
			v.skip = r.choice(c, "skip", "refuse") == "skip"
		}
	})
	if !v.column.set() {
		r.report(v.at, "which column is meant?", "write {column: HEAD}")
	}
	return v
}

var mapKeys = []string{"sheet", "delimiter", "encoding", "header", "decimal", "thousands", "missing", "nondetect", "negative", "round",
	"source", "laboratory", "by", "site", "sample", "instrument", "id", "sampled", "tested", "place", "group", "notes", "ignore", "skip", "new_sites", "unit", "across", "results", "result"}

func (r *mapReader) mapping(m *Mapping) {
	seen := map[string]bool{}
	if c, ok := r.d.Child(0, "unit"); ok { // the columns below need it
		if text := r.text(c); text != "" {
			if m.unit, ok = water.ParseUnit(text); !ok {
				r.report(r.placeOf(c), fmt.Sprintf("%q is not a known unit", text), "write mg/L, mmol/L, meq/L …")
			}
		}
	}
	r.fields(0, mapKeys, func(key string, c int32) {
		seen[key] = true
		switch key {
		case "sheet":
			m.Sheets = r.texts(c)
		case "delimiter":
			delimiters := map[string]rune{",": ',', ";": ';', "|": '|', "comma": ',', "semicolon": ';', "tab": '\t', "pipe": '|'}
			m.Delimiter = delimiters[r.choice(c, ",", ";", "|", "tab", "comma", "semicolon", "pipe")]
		case "encoding":
			m.Encoding = r.choice(c, "utf-8", "windows-1252")
		case "header":
			m.Header = nil
			if r.d.Nodes[c].Kind == frontmatter.Sequence {
				for i := range r.d.Children(c) {
					m.Header = append(m.Header, r.number(i, 1, maxSheetRows))
				}
			} else {
				m.Header = []int{r.number(c, 1, maxSheetRows)}
			}
			if len(m.Header) == 0 || !sort.IntsAreSorted(m.Header) {
				r.report(r.placeOf(c), "the rows of the header are not in order", "write header: 3, or header: [3, 4]")
				m.Header = []int{1}
			}
		case "decimal":
			if r.choice(c, "point", "comma") == "comma" {
				m.Decimal = ','
			}
		case "thousands":
			separators := map[string]string{"comma": ",", "point": ".", "space": " ", "apostrophe": "'"}
			m.Thousands = separators[r.choice(c, "comma", "point", "space", "apostrophe")]
		case "missing":
			m.Missing = r.texts(c)
		case "nondetect":
			m.Nondetect = r.texts(c)
		case "negative":
			m.NegativeBelow = r.choice(c, "below", "refuse") == "below"
		case "round":
			m.Round = r.number(c, 0, 6)
		case "source":
			m.Source = r.value(c)
		case "laboratory":
			m.Laboratory = r.value(c)
		case "by":
			m.By = r.value(c)
		case "site":
			m.Site = r.value(c)
		case "sample":
			m.Sample = r.value(c)
		case "instrument":
			m.Instrument = r.value(c)
		case "id":
			m.ID = r.value(c)
		case "sampled":
			m.Sampled = r.time(c)
		case "tested":
			m.Tested = r.time(c)
		case "place":
			r.fields(c, []string{"latitude", "longitude"}, func(key string, c int32) {
				if key == "latitude" {
					m.Latitude = r.column(c)
				} else {
					m.Longitude = r.column(c)
				}
			})
		case "group":
			m.Group = r.columns(c)
		case "notes":
			m.Notes = r.columns(c)
		case "ignore":
			m.Ignore = r.columns(c)
		case "skip":
			r.skips(m, c)
		case "new_sites":
			m.NewSites = r.newSites(c)
		case "across":
			m.Across = r.across(c)
		case "results":
			r.wide(m, c)
		case "result":
			m.Long = r.long(c)
		}
	})
	whole := place{0, 0}
	for _, need := range []struct{ key, help string }{{"source", "write source: lab, or utility, or bench"}, {"site", "write site: {column: HEAD} or site: ID"},
		{"sampled", `write sampled: {column: HEAD, layout: "YYYY-MM-DD HH:mm", zone: Europe/Vilnius}`}} {
		if !seen[need.key] {
			r.report(whole, "the map does not say "+need.key, need.help)
		}
	}
	if seen["results"] == seen["result"] {
		r.report(whole, "the map needs either results (a column for each analyte) or result (one row a result)", "wj import --guess FILE drafts a map")
	}
	if m.Decimal == ',' && m.Thousands == "," || m.Decimal == '.' && m.Thousands == "." {
		r.report(whole, "decimal and thousands are the same character", "which is it?")
	}
}

func (r *mapReader) skips(m *Mapping, node int32) {
	items := []int32{node}
	if r.d.Nodes[node].Kind == frontmatter.Sequence {
		items = nil
		for c := range r.d.Children(node) {
			items = append(items, c)
		}
	}
	for _, item := range items {
		var s skipRule
		r.fields(item, []string{"column", "is", "not", "empty"}, func(key string, c int32) {
			switch key {
			case "column":
				s.column = r.column(c)
			case "is":
				s.is = r.texts(c)
			case "not":
				s.not = r.texts(c)
			case "empty":
				s.empty = r.choice(c, "true", "false") == "true"
			}
		})
		if !s.column.set() || s.is == nil && s.not == nil && !s.empty {
			r.report(r.placeOf(item), "which rows are to be left out?", "write {column: HEAD, is: [text]}, not: [text] or empty: true")
			continue
		}
		m.Skip = append(m.Skip, s)
	}
}

func (r *mapReader) newSites(node int32) *newSites {
	n := &newSites{at: r.placeOf(node)}
	r.fields(node, []string{"owner", "stage", "name", "latitude", "longitude"}, func(key string, c int32) {
		switch key {
		case "owner":
			n.owner = r.text(c)
		case "stage":
			n.stage = r.choice(c, journal.Names(journal.Stages)...)
		case "name":
			n.name = r.column(c)
		case "latitude":
			n.latitude = r.column(c)
		case "longitude":
			n.longitude = r.column(c)
		}
	})
	if n.owner == "" || n.stage == "" {
		r.report(n.at, "a new site needs its owner and stage", "write {owner: ID, stage: intake}")
	}
	return n
}

// Said reports whether the map says it at all.
func (v valueSource) Said() bool { return v.set() }

// Fixed is the text that holds for all rows, where there is one.
func (v valueSource) Fixed() (string, bool) { return v.text, v.text != "" && !v.column.set() }

// NewOwner is the owner of sites that are made, where the map lets them be made.
func (m *Mapping) NewOwner() (string, bool) {
	if m.NewSites == nil {
		return "", false
	}
	return m.NewSites.owner, true
}
