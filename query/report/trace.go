package report

import (
	"fmt"
	"strings"

	"wj/docs/schema"
	"wj/journal"
	"wj/journal/trace"
	"wj/render"
	"wj/water"
)

// Trace is what depends on a record, or what it depends on, as a tree; with readings taken to be in error it says what they move.
type Trace struct {
	Schema string `json:"schema"`
	TraceNode

	// Computed and Outside count what was worked out again, and what of it has a value outside its target.
	Changes, Batches, Outside int `json:"-"`

	reached []journal.File
	again   bool
}

// TraceNode is a record of the tree. Where it was met before, again is true and what is below it is there.
type TraceNode struct {
	Kind     string        `json:"kind"`
	ID       string        `json:"id"`
	Path     string        `json:"path"` // "" where there is no such record
	Why      string        `json:"why"`  // how the one above is tied to it; "" for the start
	Again    bool          `json:"again"`
	Effects  []TraceEffect `json:"effects,omitzero"`  // of a change or a batch that was worked out again
	NoEffect string        `json:"unknown,omitempty"` // why it could not be
	Below    []TraceNode   `json:"below"`

	remark string
}

// TraceEffect is a value that moves, in its standard unit.
type TraceEffect struct {
	Name   string `json:"name"`
	Unit   string `json:"unit"`
	Before Number `json:"before"`
	After  Number `json:"after"`
	From   string `json:"from"`                    // where before comes from
	Inside *bool  `json:"inside_target,omitempty"` // after; absent where there is no target

	is trace.Effect
}

// NewTrace walks from a record, down to what depends on it or up to what it depends on. Off takes readings to be in error; nil leaves
// them alone. The journal was loaded with its sessions.
func NewTrace(j *journal.Journal, f journal.File, down bool, off trace.Off) *Trace {
	graph := trace.NewGraph(j)
	tree := graph.Walk(f, down)
	t := &Trace{Schema: schema.ID("trace"), reached: tree.Reached(), again: off != nil}
	t.TraceNode = t.node(j, graph, tree, off)
	return t
}

func (t *Trace) node(j *journal.Journal, graph *trace.Graph, tree trace.Tree, off trace.Off) TraceNode {
	f := tree.File
	n := TraceNode{Kind: f.Kind.String(), ID: f.ID, Path: f.Path, Why: tree.Why, Again: tree.Again, Below: []TraceNode{}, remark: graph.Remark(f)}
	if off != nil && !tree.Again && tree.Why != "" {
		t.work(j, f, off, &n)
	}
	for _, below := range tree.Below {
		n.Below = append(n.Below, t.node(j, graph, below, off))
	}
	return n
}

// work works out a change or batch again.
func (t *Trace) work(j *journal.Journal, f journal.File, off trace.Off, n *TraceNode) {
	list, ok, err := trace.Again(j, f, off)
	if !ok {
		return
	}
	if f.Kind == journal.KindChange {
		t.Changes++
	} else {
		t.Batches++
	}
	n.Effects = []TraceEffect{}
	if err != nil {
		n.NoEffect = err.Error()
		return
	}
	outside := false
	for _, e := range list {
		one := TraceEffect{Name: e.ID.String(), Unit: e.ID.Info().Unit.String(), Before: Number(e.Before), After: Number(e.After), From: e.Note, is: e}
		if inside, known := e.Inside(e.After); known {
			one.Inside = &inside
		}
		outside = outside || e.Outcome() >= trace.StaysOutside
		n.Effects = append(n.Effects, one)
	}
	if outside {
		t.Outside++
	}
}

// Unverified marks the sign-offs of the tree of which nothing shows who signed.
func (t *Trace) Unverified(is func(id string) bool) { t.unverified(is) }

func (n *TraceNode) unverified(is func(id string) bool) {
	if n.Kind == journal.KindSignoff.String() && n.Path != "" && is(n.ID) {
		n.Why = strings.TrimSpace(n.Why + " (signer not verified)")
	}
	for i := range n.Below {
		n.Below[i].unverified(is)
	}
}

// Summary says how much was met, by kind, and what was worked out again.
func (t *Trace) Summary() []string {
	n := map[journal.Kind]int{}
	for _, f := range t.reached {
		n[f.Kind]++
	}
	var parts []string
	for _, k := range journal.Kinds() {
		if n[k] > 0 {
			parts = append(parts, journal.Count(n[k], k.String()))
		}
	}
	lines := []string{strings.Join(parts, ", ")}
	if t.again {
		lines = append(lines, fmt.Sprintf("computed again: %s, %s; %d outside the target", journal.Count(t.Changes, "change"), journal.Count(t.Batches, "batch"), t.Outside))
	}
	return lines
}

// Text draws the tree for a terminal.
func (t *Trace) Text(out render.Output) string {
	var b strings.Builder
	hang(&b, out, "", "  ", t.Kind+" "+t.ID, t.remark, render.Plain)
	drawNodes(&b, out, t.Below, "")
	return b.String()
}

func drawNodes(b *strings.Builder, out render.Output, list []TraceNode, indent string) {
	for i, n := range list {
		branch, below := "├─ ", "│  "
		if i == len(list)-1 {
			branch, below = "└─ ", "   "
		}
		line := n.Kind + " " + n.ID
		if n.Path == "" {
			line += " (no such record)"
		}
		why := ": " + n.Why + n.remark
		if n.Again {
			why += " (see above)"
		}
		more := "   "
		if len(n.Below) > 0 {
			more = "│  "
		}
		hang(b, out, indent+branch, indent+below+more, line, why, render.Plain)
		effect := func(state render.State, text string) {
			hang(b, out, indent+below+more, indent+below+more+"  ", "", text, state)
		}
		for _, e := range n.Effects {
			effect(e.text())
		}
		switch {
		case n.NoEffect != "":
			effect(render.Doubtful, "cannot be computed: "+n.NoEffect)
		case n.Effects != nil && len(n.Effects) == 0:
			effect(render.Dim, "nothing in it moves")
		}
		drawNodes(b, out, n.Below, indent+below)
	}
}

// hang writes a head and a text behind it, folded between words at the width; lines after the first begin with rest.
func hang(b *strings.Builder, out render.Output, first, rest, head, text string, state render.State) {
	head = render.Line(head)
	longest := 0
	for word := range strings.FieldsSeq(head + text) {
		longest = max(longest, render.Width(word))
	}
	if longest > out.Width-render.Width(rest) { // an id is not cut: it stands further left
		rest = strings.Repeat(" ", max(out.Width-longest, 0))
	}
	room := max(out.Width-render.Width(rest), 20)
	lines := strings.Split(render.Wrap(head+render.Line(text), room), "\n")
	for i, line := range lines {
		begins := rest
		if i == 0 {
			begins = first
		}
		if tail, whole := strings.CutPrefix(line, head); i == 0 && whole {
			line = out.Paint(render.Bold, head) + out.Paint(state, tail)
		} else {
			line = out.Paint(state, line)
		}
		b.WriteString(begins + line + "\n")
	}
}

// text writes what becomes of a value: "sulfate 235, not 215 mg/L; target 180 mg/L to 240 mg/L: inside".
func (e *TraceEffect) text() (render.State, string) {
	before, half := water.Spread(e.is.Before, e.is.U)
	if half != "" {
		before += " ± " + half
	}
	if e.Unit != "" {
		before += " " + e.Unit
	}
	text, state := fmt.Sprintf("%s %s, not %s", e.is.ID, water.Round(e.is.After, 3), before), render.Plain
	outcome := e.is.Outcome()
	if outcome != trace.NoTarget {
		text += "; target " + rangeText(e.is.Range) + ": "
	}
	switch outcome {
	case trace.StaysInside:
		text += "inside"
	case trace.FallsOutside:
		text, state = text+"OUTSIDE", render.Error
	case trace.StaysOutside:
		text, state = text+"outside, as before", render.Warning
	}
	if e.From != "" {
		text += " (" + e.From
		if e.is.Halved {
			text += "; a result below its range counted as half the limit"
		}
		text += ")"
	}
	return state, text
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
