package main

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"wj/journal"
	"wj/journal/trace"
	"wj/render"
	"wj/water"
	"wj/water/spelling"
)

type traceCmd struct {
	ID     string            `arg:"" help:"Where to start: a lot, a session, a change, a batch …"`
	Down   bool              `help:"What depends on it, and on that, and so on: the recall walk."`
	Up     bool              `help:"What it depends on."`
	If     map[string]string `placeholder:"NAME=PERCENT" mapsep:"," help:"What would change if these readings were off: --if sulfate=-18% says they are 18 % too low. Implies --down."`
	Format string            `enum:"text,json" default:"text" help:"${enum}."`
}

func (c *traceCmd) Help() string {
	return "    wj trace SU-2507 --down\n    wj trace SU-2507 --if sulfate=-18%\n    wj trace 2026-118 --up\n\n" +
		"With --if, every change and batch on the way is computed again: what the change expects is moved by the shift of its blend; a batch is the blend of its days and what was weighed in. " +
		"Only values that add up in proportion are moved; a new equilibrium (pH, saturation) is not computed."
}

func (c *traceCmd) Run(a *app) error {
	if c.Up && (c.Down || len(c.If) > 0) {
		return withHint("ask one after the other", "--up and --down go different ways")
	}
	j, _, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	f, err := find(j, c.ID)
	if err != nil {
		return err
	}
	off, err := c.off(j, f)
	if err != nil {
		return err
	}
	graph := trace.NewGraph(j)
	tree := graph.Walk(f, !c.Up)
	if len(tree.Below) == 0 {
		if c.Up {
			a.say("%s depends on nothing; wj trace %s --down shows what depends on it", f.ID, f.ID)
		} else {
			a.say("nothing depends on %s", f.ID)
		}
		return errFindings
	}
	t := tracing{a: a, j: j, graph: graph, off: off}
	if c.Format == "json" {
		return a.showJSON(t.json(tree))
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s%s\n", a.out.Paint(render.Bold, f.Kind.String()+" "+render.Line(f.ID)), render.Line(t.graph.Remark(f)))
	t.draw(&b, tree.Below, "")
	if err := a.out.Print(b.String()); err != nil {
		return err
	}
	t.summary(tree)
	return nil
}

// off reads --if: which readings are in error, and by what part. The readings
// are those that the starting record stands behind.
func (c *traceCmd) off(j *journal.Journal, f journal.File) (trace.Off, error) {
	if len(c.If) == 0 {
		return nil, nil
	}
	errs := map[water.ID]float64{}
	for _, name := range slices.Sorted(maps.Keys(c.If)) {
		id, ok := water.LookupAnalyte(name)
		if !ok {
			known := water.AnalyteKeys()
			return nil, withHint(spelling.HintOr(name, known, "analytes: "+strings.Join(known, ", ")), "%q is no analyte", name)
		}
		text := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(c.If[name]), "%"))
		v, err := strconv.ParseFloat(strings.Replace(text, "−", "-", 1), 64)
		if err != nil || !strings.Contains(c.If[name], "%") || !(v > -100 && v < 1000) {
			return nil, withHint("write --if "+name+"=-18%", "%q is no percentage by which a reading can be off", c.If[name])
		}
		errs[id] = v / 100
	}
	return func(s *journal.Session, r *journal.Reading) float64 {
		e := errs[r.Analyte]
		if e == 0 {
			return 0
		}
		behind := false
		switch f.Kind {
		case journal.KindLot:
			behind = r.Lot == f.ID
		case journal.KindInstrument:
			behind = orElse(r.Instrument, s.Instrument) == f.ID
		case journal.KindMethod:
			behind = r.Method == f.ID
		case journal.KindSite:
			behind = s.Site == f.ID
		case journal.KindSession:
			behind = s.ID == f.ID
		}
		if !behind {
			return 0
		}
		return e
	}, nil
}

// tracing draws one walk.
type tracing struct {
	a                       *app
	j                       *journal.Journal
	graph                   *trace.Graph
	off                     trace.Off
	changes, batches, fails int
}

func (t *tracing) draw(b *strings.Builder, list []trace.Tree, indent string) {
	for i, n := range list {
		branch, below := "├─ ", "│  "
		if i == len(list)-1 {
			branch, below = "└─ ", "   "
		}
		line := n.File.Kind.String() + " " + n.File.ID
		if n.File.Path == "" {
			line += " (no such record)"
		}
		fmt.Fprintf(b, "%s%s%s: %s%s", indent, branch, t.a.out.Paint(render.Bold, render.Line(line)), render.Line(n.Why), render.Line(t.graph.Remark(n.File)))
		if n.Again {
			b.WriteString(t.a.out.Paint(render.Dim, " (see above)"))
		}
		b.WriteString("\n")
		if !n.Again {
			more := "   "
			if len(n.Below) > 0 {
				more = "│  "
			}
			for _, e := range t.effects(n.File) {
				fmt.Fprintf(b, "%s%s%s%s\n", indent, below, more, t.a.out.Paint(e.state, render.Line(e.text)))
			}
		}
		t.draw(b, n.Below, indent+below)
	}
}

// effect is a line about a value that would be another.
type effect struct {
	text  string
	state render.State
	trace.Effect
}

// effects computes a change or batch again, were the readings in error.
func (t *tracing) effects(f journal.File) []effect {
	if t.off == nil {
		return nil
	}
	var list []trace.Effect
	var err error
	switch f.Kind {
	case journal.KindChange:
		c, ok := t.j.Changes.Get(f.ID)
		if !ok {
			return nil
		}
		list, err = trace.OnChange(t.j, c, t.off)
		t.changes++
	case journal.KindBatch:
		r, ok := t.j.Batches.Get(f.ID)
		if !ok || r.Change == "" {
			return nil
		}
		list, err = trace.OnBatch(t.j, r, t.off)
		t.batches++
	default:
		return nil
	}
	if err != nil {
		return []effect{{text: "cannot be computed: " + err.Error(), state: render.Doubtful}}
	}
	var out []effect
	failed := false
	for _, e := range list {
		text := fmt.Sprintf("%s %s, not %s", e.ID, water.Round(e.After, 3), valueText(e.ID, e.Before, e.U))
		state := render.Plain
		if inside, known := e.Inside(e.After); known {
			was, _ := e.Inside(e.Before)
			switch {
			case inside:
				text += "; target " + rangeText(e.Range) + ": inside"
			case was:
				text += "; target " + rangeText(e.Range) + ": OUTSIDE"
				state = render.Error
				failed = true
			default:
				text += "; target " + rangeText(e.Range) + ": outside, as before"
				state = render.Warning
				failed = true
			}
		}
		if e.Note != "" {
			text += " (" + e.Note
			if e.Halved {
				text += "; a result below its range counted as half the limit"
			}
			text += ")"
		}
		out = append(out, effect{text, state, e})
	}
	if failed {
		t.fails++
	}
	if len(out) == 0 {
		out = append(out, effect{text: "nothing in it moves", state: render.Dim})
	}
	return out
}

func rangeText(r *journal.Range) string {
	switch {
	case r.Min.Set && r.Max.Set:
		return r.Min.Quantity.String() + " to " + r.Max.Quantity.String()
	case r.Min.Set:
		return "at least " + r.Min.Quantity.String()
	}
	return "at most " + r.Max.Quantity.String()
}

// summary says how much was met, by kind.
func (t *tracing) summary(tree trace.Tree) {
	n := map[journal.Kind]int{}
	for _, f := range tree.Reached() {
		n[f.Kind]++
	}
	var parts []string
	for _, k := range append([]journal.Kind{journal.NoKind}, journal.Kinds()...) {
		if n[k] > 0 && k != journal.NoKind {
			parts = append(parts, count(n[k], k.String()))
		}
	}
	t.a.say("%s", strings.Join(parts, ", "))
	if t.off != nil {
		t.a.say("computed again: %s, %s; %d outside the target", count(t.changes, "change"), count(t.batches, "batch"), t.fails)
	}
}

func (t *tracing) json(n trace.Tree) render.Object {
	below := []any{}
	for _, b := range n.Below {
		below = append(below, t.json(b))
	}
	o := render.Object{{Name: "kind", Value: n.File.Kind.String()}, {Name: "id", Value: n.File.ID}, {Name: "path", Value: n.File.Path}, {Name: "why", Value: n.Why}, {Name: "again", Value: n.Again}}
	if t.off != nil && !n.Again {
		effects := []any{}
		for _, e := range t.effects(n.File) {
			if e.Effect.ID == 0 && e.Effect.Note == "" {
				continue
			}
			item := render.Object{{Name: "name", Value: e.Effect.ID.String()}, {Name: "unit", Value: e.Effect.ID.Info().Unit.String()}, {Name: "before", Value: rounded(e.Before)}, {Name: "after", Value: rounded(e.After)}, {Name: "from", Value: e.Note}}
			if inside, known := e.Inside(e.After); known {
				item = append(item, render.Member{Name: "inside_target", Value: inside})
			}
			effects = append(effects, item)
		}
		if n.File.Kind == journal.KindChange || n.File.Kind == journal.KindBatch {
			o = append(o, render.Member{Name: "effects", Value: effects})
		}
	}
	return append(o, render.Member{Name: "below", Value: below})
}
