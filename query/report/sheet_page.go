package report

import (
	"bytes"
	"fmt"
	"html/template"
	"strings"
	"sync"

	"wj/journal/plan"
	"wj/render"
)

// sheetPage prints on one A4 page: no colour is needed to read it, and boxes are
// large enough for a wet hand.
var sheetPage = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("sheet").Parse(`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width,initial-scale=1">
<title>{{(index .Pages 0).Title}}</title>
<style>
@page { size: A4; margin: 10mm 12mm }
* { box-sizing: border-box }
.page + .page { break-before: page }
body { font: 9.5pt/1.28 sans-serif; color: #000; background: #fff; margin: 0 auto; max-width: 186mm }
h1 { font-size: 15pt; margin: 0 0 1mm }
h2 { font-size: 10.5pt; margin: 2.5mm 0 1mm; border-bottom: .3mm solid #000 }
table { border-collapse: collapse; width: 100% }
td, th { border: .2mm solid #666; padding: .7mm 1.5mm; text-align: left; vertical-align: top }
th { background: #eee; font-weight: 600 }
.n { text-align: right; white-space: nowrap }
.amount { font-size: 12.5pt; font-weight: 700 }
.box { width: 26mm; height: 7.5mm }
.ini { width: 13mm }
.meta td { border: 0; padding: 0 2mm .3mm 0 }
.meta td:first-child { width: 20mm; font-weight: 600; white-space: nowrap }
.mono { font: 7.5pt monospace; word-break: break-all }
.stop { border: .8mm solid #000; padding: 1.5mm 2mm; font-weight: 700; margin: 1.5mm 0 }
ul { margin: 0; padding-left: 4.5mm } li { margin: 0 0 .4mm }
.care { font-size: 8.3pt; line-height: 1.2 }
.dense { font-size: 8.8pt; line-height: 1.22 }
.dense h1 { font-size: 13pt } .dense h2 { margin: 1.7mm 0 .7mm }
.dense td, .dense th { padding: .4mm 1.2mm } .dense .meta td { padding: 0 2mm .2mm 0 }
.dense .amount { font-size: 11.5pt } .dense .box { height: 5.9mm }
.dense .stop { padding: .8mm 1.5mm; margin: 1mm 0; border-width: .6mm } .dense .care { font-size: 7.8pt; line-height: 1.15 }
.dense .care { padding: 0 } .dense .care li { display: inline } .dense .care li::before { content: " • " }
.dense .foot div { margin-top: 6mm } .dense .foot { margin-top: 1mm }
.denser { font-size: 8.2pt; line-height: 1.18 } .denser h1 { font-size: 12pt } .denser h2 { font-size: 9.5pt; margin: 1.2mm 0 .5mm }
.denser td, .denser th { padding: .25mm 1mm } .denser .amount { font-size: 10.5pt } .denser .box { height: 4.9mm } .denser .care { font-size: 7.3pt }
.foot { break-inside: avoid; display: flex; gap: 6mm; margin-top: 3mm } .foot div { flex: 1; border-top: .2mm solid #000; padding-top: .7mm; font-size: 8pt; margin-top: 6mm }
@media screen { body { padding: 2mm } .scroll { overflow-x: auto } }
</style>
</head>
<body>
<main>
{{range .Pages}}<div class="page {{.Class}}">
<h1>{{.Title}}</h1>
<table class="meta">
{{range .Meta}}<tr><td>{{index . 0}}</td><td{{if eq (index . 0) "Digest"}} class="mono"{{end}}>{{index . 1}}</td></tr>
{{end}}</table>
{{if .Emergency}}<p class="stop">{{.Emergency}}</p>{{end}}
{{if .Notes}}<div class="stop">{{range .Notes}}<div>{{.}}</div>{{end}}</div>
{{end}}<h2>Doses for {{.Volume}}</h2>
<div class="scroll" role="region" tabindex="0" aria-label="Doses"><table>
<tr><th>Substance</th><th>Strength</th><th>Lot</th><th class="n">Amount</th><th class="n">per hL</th><th class="n">never over</th><th>Lot taken</th></tr>
{{range .Doses}}<tr><td>{{.Substance}}</td><td>{{.Strength}}</td><td>{{.Lot}}</td><td class="n amount">{{.Amount}}</td><td class="n">{{.PerHL}}</td><td class="n">{{.AtMost}}</td><td class="box"></td></tr>
{{end}}</table></div>
<h2>Order of work</h2>
<div class="scroll" role="region" tabindex="0" aria-label="Order of work"><table>
<tr><th>No.</th><th>Do</th><th class="n">Amount</th><th>Weighed, read</th><th>Dosed</th><th>Seen</th></tr>
{{range .Steps}}<tr><td class="n">{{.N}}</td><td>{{.Do}}</td><td class="n">{{.Amount}}</td>{{if .Tick}}<td class="box"></td><td class="ini"></td><td class="ini"></td>{{else}}<td></td><td></td><td></td>{{end}}</tr>
{{end}}</table></div>
<h2>What should come out</h2>
<ul>{{range .Expected}}<li>{{.}}</li>{{end}}</ul>
<h2>Care</h2>
<ul class="care">{{range .Cautions}}<li>{{.}}</li>{{end}}</ul>
<div class="foot"><div>Date, batch number</div><div>Dosed by (name, signature)</div><div>Labels read and dosing witnessed by</div></div>
</div>
{{end}}</main>
</body>
</html>
`))
})

// How many rows of doses, steps and notes (which take two) fit on the page with
// large boxes, and with lower ones. Beyond 32 or so a second page is needed.
const (
	mostRoomyRows = 15
	mostDenseRows = 23
)

type sheetStep struct {
	N          int
	Do, Amount string
	Tick       bool
}

// sheetOnPaper is a sheet as the template has it.
type sheetOnPaper struct {
	Title, Volume, Emergency  string
	Meta                      [][2]string
	Notes, Expected, Cautions []string
	Class                     string // many rows: smaller type and lower boxes keep it on one page
	Doses                     []Dose
	Steps                     []sheetStep
}

// SheetPages are sheets for a printer, each on a page of its own.
func SheetPages(sheets []Sheet) (string, error) {
	var pages struct{ Pages []sheetOnPaper }
	for _, s := range sheets {
		pages.Pages = append(pages.Pages, s.onPaper())
	}
	var b bytes.Buffer
	if err := sheetPage().Execute(&b, pages); err != nil {
		return "", fmt.Errorf("write the sheet: %w", err)
	}
	return b.String(), nil
}

func (s Sheet) onPaper() sheetOnPaper {
	line := func(format string, args ...any) string { return render.Line(fmt.Sprintf(format, args...)) }
	page := sheetOnPaper{Title: line("%s", strings.TrimPrefix(s.Brewery+" · water sheet", " · ")), Volume: s.volume(), Emergency: line("%s", s.Emergency)}
	add := func(key, value string) { page.Meta = append(page.Meta, [2]string{key, line("%s", value)}) }
	add("Brew", s.volume()+s.liquor()+" for "+s.Target)
	add("Change", s.Change)
	add("Digest", "sha256 "+s.Digest)
	if s.Emergency == "" {
		add("Approved", strings.Join(s.Approval, " · "))
	}
	add("Printed", s.Printed+"; for this brew alone")
	add("Waters", strings.Join(s.Waters, " · "))
	for _, n := range s.Notes {
		page.Notes = append(page.Notes, line("%s", n))
	}
	for _, d := range s.Work.Prediction.Doses {
		one := doseOf(d)
		one.Lot = line("%s", d.Lot)
		page.Doses = append(page.Doses, one)
	}
	for i, step := range s.Steps {
		page.Steps = append(page.Steps, sheetStep{i + 1, line("%s", step.Do), step.Text, step.Tick})
	}
	page.Expected = append(page.Expected, line("%s (mg/L; ± is 95 %%, target in brackets)", strings.Join(s.expectation(), " · ")))
	if s.Chlorine != "" {
		page.Expected = append(page.Expected, line("%s", s.Chlorine))
	}
	if s.LiquorPH != "" {
		page.Expected = append(page.Expected, line("liquor pH %s", s.LiquorPH))
	}
	if s.Mash != "" {
		page.Expected = append(page.Expected, line("mash pH %s", s.Mash))
	}
	page.Expected = append(page.Expected, line("verification: %s", s.Verify), line("afterwards: %s", s.Record))
	for _, c := range plan.Handling(s.Work.Prediction) {
		page.Cautions = append(page.Cautions, line("%s", c))
	}
	page.Cautions = append(page.Cautions, "The label, the safety data sheet and the local code come before this sheet; "+s.Scale+".")
	switch rows := len(page.Doses) + len(page.Steps) + 2*len(page.Notes); {
	case rows > mostDenseRows:
		page.Class = "dense denser"
	case rows > mostRoomyRows:
		page.Class = "dense"
	}
	return page
}
