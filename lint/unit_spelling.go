package lint

import (
	"io/fs"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/water"
)

var unitSpelling = &Rule{
	Name: "unit/spelling", Severity: Off, Scope: Whole, Reach: OfRecord, Check: checkUnitSpelling,
	Title: "a reading's unit is spelt in another way than the one that the program writes",
}

// checkUnitSpelling reads the sessions again, since a typed record no longer
// knows how its units were spelt; it is off unless asked for.
func checkUnitSpelling(p *Pass) {
	for _, s := range p.Journal.Sessions.List {
		if !p.run.wanted(s.Path) {
			continue
		}
		src, err := fs.ReadFile(p.Journal.FS, s.Path)
		if err != nil || len(src) > frontmatter.MaxFile {
			continue
		}
		var d frontmatter.Document
		d.Parse(src)
		readings, ok := d.FindPath("readings")
		if !ok {
			continue
		}
		for r := range d.Children(readings) {
			p.spelling(s, &d, r)
		}
	}
}

func (p *Pass) spelling(s *journal.Session, d *frontmatter.Document, node int32) {
	if d.Nodes[node].Kind != frontmatter.Scalar {
		for c := range d.Children(node) {
			if key := d.Key(c); key == "" || key == "value" {
				p.spelling(s, d, c)
			}
		}
		return
	}
	text := d.Text(node)
	q, err := water.ParseQuantity(text)
	if err != nil || q.String() == text {
		return
	}
	if again, err := water.ParseQuantity(q.String()); err != nil || again != q {
		return
	}
	f := p.Report(s.Path, nil, "%q is written %q", text, q.String()).Help("wj lint --fix writes it so; the number stays as typed")
	edit := frontmatter.SetScalar(d, node, q.String())
	f.at, f.d.Start, f.d.End = true, int(d.Nodes[node].Start), int(d.Nodes[node].End)
	f.d.Line, f.d.Column = d.Position(f.d.Start)
	f.d.Fixes = []Fix{{Message: "write " + q.String(), Edits: []frontmatter.Edit{edit}}}
}
