package round

import (
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html"
	"slices"
	"strconv"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/bench"
	"wj/journal/judge"
	"wj/render"
	"wj/water"
)

// The page for a telephone: one file that asks nothing of a network.
var (
	//go:embed page.html
	pageBody string
	//go:embed page.css
	pageCSS string
	//go:embed page.js
	pageScript string
)

// pagePlan is what the page knows of a sitting. Numbers are in the first unit of the test.
type pagePlan struct {
	Key    string       `json:"key"` // under which the telephone keeps what was typed
	Title  string       `json:"title"`
	Name   string       `json:"name"`
	Made   string       `json:"made"`
	By     string       `json:"by"`
	People []pagePerson `json:"people"`
	Taps   []pageTap    `json:"taps"`
}

type pagePerson struct {
	ID   string `json:"id"`
	Name string `json:"name"`
}

type pageTap struct {
	Site  string     `json:"site"`
	Name  string     `json:"name"`
	Note  string     `json:"note"` // the first sentence of the site's text
	Tests []pageTest `json:"tests"`
}

type pageTest struct {
	Analyte   string      `json:"analyte"`
	Title     string      `json:"title"`
	Units     []string    `json:"units"` // as they are written in records; none for pH
	Range     [2]*float64 `json:"range"` // of the method or meter
	Possible  [2]float64  `json:"possible"`
	Ends      [2]string   `json:"ends"` // what < and > alone stand for, as at the terminal: "<2", ">200"; "" where none is known
	Expected  *[2]float64 `json:"expected"`
	Accuracy  *[2]float64 `json:"accuracy"` // half-width of 95 %: a fixed part, and a part of the value
	Limit     [2]*float64 `json:"limit"`
	Limits    []string    `json:"limits"`
	Before    []string    `json:"before"` // "7 Sep 52"
	Lots      []string    `json:"lots"`
	LotNotes  []string    `json:"lot_notes"`
	Dilution  float64     `json:"dilution"`
	Dilutable bool        `json:"dilutable"`
	Steps     []pageStep  `json:"steps"`
	Caution   string      `json:"caution"`
}

type pageStep struct {
	Do   string `json:"do"`
	Wait int    `json:"wait"` // seconds
}

// Page is the sitting as a page for a telephone. What is typed there is kept on the telephone, and comes back as a file that
// ReadFile reads.
func (r *Round) Page(name string) (string, error) {
	p := pagePlan{Title: r.Plan.Name, Name: name, Made: journal.FormatTime(r.now), By: r.Plan.By, People: []pagePerson{}, Taps: []pageTap{}}
	for _, one := range r.Journal.People.List {
		if one.Void == nil && one.Covers(r.now) {
			p.People = append(p.People, pagePerson{one.ID, r.Journal.PersonName(one.ID)})
		}
	}
	limits := judge.NewLimits(r.Journal)
	for i, tap := range r.Plan.Taps {
		one := pageTap{Site: tap.Site, Name: tap.Name, Note: r.siteNote(tap.Site), Tests: []pageTest{}}
		for k := range r.Plan.Tests {
			if t := &r.Plan.Tests[k]; t.Tap == i {
				one.Tests = append(one.Tests, r.pageTest(t, tap, limits))
			}
		}
		p.Taps = append(p.Taps, one)
	}
	sum := sha256.New()
	fmt.Fprint(sum, r.Journal.Settings.Name, name, p.Taps)
	p.Key = fmt.Sprintf("wj-bench-%s-%x", name, sum.Sum(nil)[:6])
	data, err := json.Marshal(p) // which writes < and > as escapes
	if err != nil {
		return "", fmt.Errorf("write the page: %w", err)
	}
	script := sha256.Sum256([]byte(pageScript))
	return strings.NewReplacer("{{title}}", escape(p.Title), "{{hash}}", base64.StdEncoding.EncodeToString(script[:]), "{{style}}", pageCSS, "{{data}}", render.Clean(string(data)), "{{script}}", pageScript).Replace(pageBody), nil
}

func (r *Round) pageTest(t *bench.Test, tap bench.Tap, limits *judge.Limits) pageTest {
	info := t.Analyte.Info()
	out := pageTest{Analyte: t.Analyte.String(), Title: strings.ReplaceAll(t.Analyte.String(), "_", " "), Units: []string{}, Limits: append([]string{}, t.Limits...), Before: []string{}, Lots: []string{}, LotNotes: []string{},
		Dilution: t.Dilution, Dilutable: t.Analyte.Dilutable(), Steps: []pageStep{}, Caution: t.Caution}
	unit := info.Unit
	if info.FitUnit(water.None) != nil {
		if len(t.Units) == 0 {
			t.Units = []water.Unit{info.Unit}
		}
		unit = t.Units[0]
		for _, u := range t.Units {
			out.Units = append(out.Units, u.String())
		}
	}
	in := func(b journal.Bounded) *float64 {
		if !b.Set {
			return nil
		}
		v, err := info.Convert(info.Standard(b.Quantity), info.Unit, unit)
		if err != nil {
			return nil
		}
		return &v
	}
	out.Range = [2]*float64{in(t.Low), in(t.High)}
	for i, b := range []journal.Bounded{t.Low, t.High} {
		if out.Range[i] != nil {
			q := water.Quantity{Value: b.Quantity.Value, Decimals: b.Quantity.Decimals, Bound: []water.Bound{water.Below, water.Above}[i]}
			if out.Ends[i] = q.String(); b.Quantity.Unit != unit {
				out.Ends[i] = q.Bound.String() + strconv.FormatFloat(*out.Range[i], 'g', 4, 64)
			}
		}
	}
	low, high := judge.Plausible(t.Analyte)
	for i, v := range []float64{low, high} {
		if x, err := info.Convert(v, info.Unit, unit); err == nil {
			v = x
		}
		out.Possible[i] = v
	}
	if a, b, ok := t.Usual.Range(); ok && (t.Usual.Unit == unit || unit.IsNone()) {
		out.Expected = &[2]float64{a, b}
	}
	instrument := t.Instrument
	if instrument == "" {
		instrument = tap.Instrument
	}
	if m, ok := r.Journal.Instruments.Get(instrument); ok && unit == info.Unit {
		if own := m.Measures[t.Analyte]; own != nil && own.HasAccuracy {
			out.Accuracy = &[2]float64{own.Accuracy.Absolute + own.Accuracy.Resolution, own.Accuracy.Relative}
		}
	}
	for _, l := range limits.Of(t.Analyte, tap.Site, r.now) { // the nearest of each end
		low, high := l.Ends(unit)
		if low != nil && (out.Limit[0] == nil || *low > *out.Limit[0]) {
			out.Limit[0] = low
		}
		if high != nil && (out.Limit[1] == nil || *high < *out.Limit[1]) {
			out.Limit[1] = high
		}
	}
	for _, b := range t.Before {
		out.Before = append(out.Before, b.On.Format("2 Jan")+" "+b.Text)
	}
	for _, l := range t.Lots {
		out.Lots, out.LotNotes = append(out.Lots, l.ID), append(out.LotNotes, l.Text)
	}
	for _, s := range t.Steps {
		out.Steps = append(out.Steps, pageStep{s.Do, int((s.Wait + s.Mix) / time.Second)})
	}
	return out
}

// escape makes a text of the journal harmless in a page.
func escape(s string) string { return html.EscapeString(render.Line(s)) }

// siteNote is the first paragraph of a site's text, where it is short.
func (r *Round) siteNote(id string) string {
	site, ok := r.Journal.Sites.Get(id)
	if !ok {
		return ""
	}
	d, _, err := r.Journal.ReadRecord(journal.File{Kind: journal.KindSite, ID: id, Path: site.Path})
	if err != nil {
		return ""
	}
	text, _, _ := strings.Cut(strings.TrimSpace(string(d.Source[d.Body:])), "\n\n")
	text = render.Line(strings.Join(strings.Fields(text), " "))
	if len(text) > 200 || strings.ContainsAny(text, "#|`") {
		return ""
	}
	return text
}

// Sheet is the sitting on paper, in the same order, with room to write.
func (r *Round) Sheet() string {
	esc := escape
	var b strings.Builder
	fmt.Fprintf(&b, "<main class=\"bench\">\n<h1>%s</h1>\n<p class=\"lead\">Date <span class=\"line\"></span> By <span class=\"line\"></span></p>\n", esc(r.Plan.Name))
	for i, tap := range r.Plan.Taps {
		fmt.Fprintf(&b, "<h2>%d. %s</h2>\n", i+1, esc(tap.Name))
		if note := r.siteNote(tap.Site); note != "" {
			fmt.Fprintf(&b, "<p class=\"soft\">%s</p>\n", esc(note))
		}
		b.WriteString("<p>Sampled at <span class=\"line short\"></span></p>\n<div class=\"scroll\" role=\"region\" tabindex=\"0\" aria-label=\"Tests at " + esc(tap.Name) + "\"><table><thead><tr><th scope=\"col\">test</th><th scope=\"col\">reading</th><th scope=\"col\">unit</th><th scope=\"col\">diluted</th><th scope=\"col\">range</th><th scope=\"col\">before</th><th scope=\"col\">limit</th><th scope=\"col\">lot</th></tr></thead><tbody>\n")
		for k := range r.Plan.Tests {
			t := &r.Plan.Tests[k]
			if t.Tap != i {
				continue
			}
			unit, span, lot, before, diluted := "", "", "", "", "×"
			if len(t.Units) > 0 {
				unit = t.Units[0].String()
			}
			if t.Low.Set && t.High.Set {
				span = strings.TrimSuffix(t.Low.Quantity.String(), " "+unit) + " to " + strings.TrimSuffix(t.High.Quantity.String(), " "+unit)
			}
			if len(t.Lots) > 0 {
				lot = t.Lots[0].ID
			}
			if len(t.Before) > 0 {
				before = t.Before[0].Text
			}
			if t.Dilution > 1 {
				diluted = fmt.Sprintf("× %g", t.Dilution)
			}
			if !t.Analyte.Dilutable() {
				diluted = "no"
			}
			fmt.Fprintf(&b, "<tr><th scope=\"row\">%s</th><td class=\"write\"></td><td>%s</td><td>%s</td><td>%s</td><td>%s</td><td>%s</td><td>%s</td></tr>\n", esc(strings.ReplaceAll(t.Analyte.String(), "_", " ")), esc(render.Unit(unit)), diluted, esc(span), esc(before), esc(strings.Join(t.Limits, "; ")), esc(lot))
		}
		b.WriteString("</tbody></table></div>\n<p>Notes <span class=\"line long\"></span></p>\n")
	}
	var seen []string
	for _, t := range r.Plan.Tests {
		if t.Caution != "" && !slices.Contains(seen, t.Caution) {
			seen = append(seen, t.Caution)
			fmt.Fprintf(&b, "<p><b>Caution</b> %s.</p>\n", esc(t.Caution))
		}
	}
	b.WriteString("<p class=\"soft\">Write what the display shows, with &lt; or &gt; where it shows that. Type it in with: " + esc(r.command()) + "</p>\n</main>\n")
	return render.HTMLPage(r.Plan.Name+", bench sheet", "<style>\n.bench table { font-size: .85rem; } .bench td { padding-left: .4rem; } .bench td:last-child { white-space: nowrap; } .bench td.write { border: 1.5px solid var(--edge); min-width: 7rem; height: 2.4rem; }\n"+
		".bench .line { display: inline-block; border-bottom: 1px solid var(--edge); min-width: 11rem; margin-right: 1rem; } .bench .short { min-width: 6rem; } .bench .long { min-width: 80%; }\n"+
		"@media print { @page { size: A4; margin: 12mm; } .bench h2, .bench tr { break-inside: avoid; break-after: avoid-page; } .bench h2 { margin-top: 1rem; } }\n</style>\n"+b.String())
}

// command is how the sitting is typed in.
func (r *Round) command() string {
	if len(r.Plan.Taps) == 1 {
		return "wj enter " + r.Plan.Taps[0].Site
	}
	return "wj round"
}
