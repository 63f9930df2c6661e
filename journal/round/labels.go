package round

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/render"
)

// LabelSheet is an A4 sheet of labels; lengths are in mm, across and down.
type LabelSheet struct {
	Columns, Rows int
	Width, Height float64
	Left, Top     float64 // margins
	Gap           float64 // between columns
}

// LabelSheets are the usual sheets by the number of their labels (common practice, no source). What
// is left of 210 × 297 mm is margin.
var LabelSheets = map[int]LabelSheet{
	14: {2, 7, 99.1, 38.1, 4.65, 15.15, 2.5},
	21: {3, 7, 63.5, 38.1, 7.25, 15.15, 2.5},
	24: {3, 8, 70, 37, 0, 0.5, 0},
	40: {4, 10, 52.5, 29.7, 0, 0, 0},
	65: {5, 13, 38.1, 21.2, 4.75, 10.7, 2.5},
}

// leastModule is how many mm wide a square of a code must be at least for a telephone at arm's length (common practice, no source; the
// codes of a whole sheet were decoded from pictures at 200 and 300 dots an inch with 0.41 mm).
const leastModule = 0.35

// code is how wide the code of a label is, in mm, its white margin included.
func (s LabelSheet) code() float64 { return min(s.Height-6, s.Width*0.42) }

// Label is what one label shows. Code is what a telephone reads from it, and wj show takes.
type Label struct {
	Code, ID, Name string
	Lines          []string
}

// Labels are those of some sites and lots; of none named, those of all sites in use and all lots
// that can be used on a day.
func Labels(j *journal.Journal, sites, lots []string, on time.Time) []Label {
	all := len(sites)+len(lots) == 0
	today := journal.Day(on)
	var out []Label
	for _, s := range j.Sites.List {
		if slices.Contains(sites, s.ID) || all && s.Void == nil && s.Covers(today) {
			l := label(j, &s.Record, s.Name)
			l.Lines = append(l.Lines, strings.ReplaceAll(s.Stage, "-", " "))
			if o, ok := j.Owners.Get(s.Owner); ok && !o.Self {
				l.Lines = append(l.Lines, o.Name)
			}
			out = append(out, l)
		}
	}
	for _, lot := range j.Lots.List {
		if !slices.Contains(lots, lot.ID) && (!all || lot.Void != nil || lot.Recalled != nil || !lot.Finished.IsZero() || lot.ExpiredOn(on)) {
			continue
		}
		var of []string
		for _, id := range lot.Analytes {
			of = append(of, strings.ReplaceAll(id.String(), "_", " "))
		}
		if lot.Substance != "" {
			of = append(of, strings.ReplaceAll(lot.Substance, "_", " "))
		}
		if len(lot.Standard) > 0 {
			of = append(of, "check standard")
		}
		l := label(j, &lot.Record, strings.Join(of, ", "))
		if !lot.Expires.IsZero() {
			l.Lines = append(l.Lines, "use by "+lot.Expires.Format("2 Jan 2006"))
		}
		if lot.Opened.IsZero() {
			l.Lines = append(l.Lines, "opened ______________")
		} else {
			l.Lines = append(l.Lines, "opened "+lot.Opened.Format("2 Jan 2006"))
		}
		out = append(out, l)
	}
	return out
}

// label begins a label. Its code is the id alone; where that means another record too, the path.
func label(j *journal.Journal, r *journal.Record, name string) Label {
	code := r.ID
	if f, err := j.Record(code); err != nil || f.Path != r.Path {
		code = r.Path
	}
	return Label{Code: code, ID: r.ID, Name: name}
}

// LabelPage lays labels out to print on sheets, the first of which has used ones already.
func LabelPage(title string, sheet LabelSheet, labels []Label, used int) (string, error) {
	var b strings.Builder
	per := sheet.Columns * sheet.Rows
	box := sheet.code()
	used %= per
	for i := range used + len(labels) {
		if i%per == 0 {
			if i > 0 {
				b.WriteString("</div>\n")
			}
			b.WriteString("<div class=\"labels\">\n")
		}
		if i < used {
			b.WriteString("<div></div>\n")
			continue
		}
		l := labels[i-used]
		code, modules, err := render.QR(l.Code)
		if err != nil {
			return "", err
		}
		if box/float64(modules) < leastModule {
			return "", journal.Hint("--labels 24 has larger ones", "%s is too long for a code on labels of %g × %g mm: its squares would be %.2f mm wide, and a telephone reads %g mm", l.Code, sheet.Width, sheet.Height, box/float64(modules), leastModule)
		}
		fmt.Fprintf(&b, "<div class=\"label\">%s<p><b>%s</b>", code, escape(l.ID))
		for k, line := range append([]string{l.Name}, l.Lines...) {
			if line != "" && (k < 1 || sheet.Height > 25) {
				fmt.Fprintf(&b, "<br>%s", escape(line))
			}
		}
		b.WriteString("</p></div>\n")
	}
	b.WriteString("</div>\n")
	style := fmt.Sprintf("<style>\n@page { size: A4; margin: 0; } body { margin: 0; padding: 0; max-width: none; background: #fff; color: #000; }\n"+
		".labels { box-sizing: border-box; width: 210mm; height: 296.9mm; padding: %gmm 0 0 %gmm; display: grid; grid-template-columns: repeat(%d, %gmm); grid-auto-rows: %gmm; column-gap: %gmm; break-after: page; overflow: hidden; }\n"+
		".labels:last-child { break-after: auto; } .label { display: flex; align-items: center; gap: 1mm; padding: 0 3mm; overflow: hidden; box-sizing: border-box; }\n"+
		".label svg { flex: none; width: %gmm; height: %gmm; } .label p { margin: 0; font-size: %gmm; line-height: 1.25; overflow-wrap: anywhere; } .label b { font-size: 1.15em; }\n"+
		"@media screen { .label { outline: 1px dotted #999; } }\n</style>\n",
		sheet.Top, sheet.Left, sheet.Columns, sheet.Width, sheet.Height, sheet.Gap, box, box, max(2.4, min(3.6, sheet.Height/10)))
	return render.HTMLPage(title, style+"<main>\n<h1 class=\"sr\">"+escape(title)+"</h1>\n"+b.String()+"</main>\n"), nil
}
