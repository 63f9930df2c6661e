package query

import (
	"math"
	"slices"
	"strings"
	"sync"

	"github.com/expr-lang/expr/ast"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
)

// pairNames are the names of values that compare a session with that of the water before
// its site (fed_by), sampled within a day of it; absent where there is no such pair.
// Both are in percent. The two readings count as independent, so that an error of one
// meter, which would cancel, makes the uncertainty too large and never too small.
var pairNames = map[string]func(*row) num{
	"salt_passage": func(r *row) num {
		if site := r.site(); site == nil || site.Stage != journal.StagePermeate {
			return nothing(isAbsent)
		}
		return percent(r.part(water.ElectricalConductivity))
	},
	"removal": func(r *row) num {
		first := nothing(isAbsent)
		if site := r.site(); site != nil {
			for i, id := range judge.Removes(site.Stage) {
				n := r.part(id)
				if n.k <= isAbove {
					return held(n)
				}
				if i == 0 {
					first = n
				}
			}
		}
		return first
	},
}

// PairNames lists the values that compare a site with its feed.
func PairNames() []string { return []string{"removal", "salt_passage"} }

func percent(n num) num { return n.times(exact(100)) }

// held is what was taken out where a part n came through, in percent.
func held(n num) num { return exact(100).add(percent(n).negative()) }

// part is how much of the feed's value is in the session's, 1 for all of it.
func (r *row) part(id water.ID) num {
	before := r.before(id)
	if before == nil {
		return nothing(isAbsent)
	}
	return r.number(id).over(before.number(id))
}

// fed is the session of the feed that a value was compared with; nil for none.
type fed struct {
	id  water.ID
	row *row
}

// before is the feed's session for a value, with a number that can be divided by.
func (r *row) before(id water.ID) *row {
	for _, f := range r.fed {
		if f.id == id {
			return f.row
		}
	}
	b := newRow(r.j, r.now)
	s := r.feeds.of(r.j).Of(r.s, func(s *journal.Session) bool {
		b.set(s)
		return b.number(id).k == isExact
	})
	if s == nil {
		b = nil
	} else {
		b.set(s)
		b.fill(withUncertainty)
		if v, err := b.a.Value(id); err != nil || !judge.Divides(id, v.Value, v.U, v.Bound) {
			b = nil
		}
	}
	r.fed = append(r.fed, fed{id, b})
	return b
}

// spreadOfFeed is the part of the uncertainty of f that comes of the feed's readings.
func (r *row) spreadOfFeed(f func(*row) num) float64 {
	sum := 0.0
	for _, before := range slices.Clone(r.fed) {
		b := before.row
		if b == nil {
			continue
		}
		var from []water.ID
		for id := range water.NumAnalytes {
			if b.a.Has(id) {
				from = append(from, id)
			}
		}
		sum = math.Hypot(sum, b.a.Spread(from, func(moved *water.Analysis) float64 {
			b.moved = moved
			return f(r).v
		}))
		b.moved = nil
	}
	return sum
}

// feeds holds the sessions of the sites that feed others, read when first asked for; the
// workers of one question share it.
type feeds struct {
	once sync.Once
	all  *judge.Feeds
}

func (f *feeds) of(j *journal.Journal) *judge.Feeds {
	f.once.Do(func() {
		sites := judge.FeedSites(j)
		var one sync.Mutex
		var list []*journal.Session
		if len(sites) > 0 {
			eachSession(j, func(_ int, s *journal.Session) {
				if s != nil && sites[s.Site] {
					one.Lock()
					list = append(list, s.Clone())
					one.Unlock()
				}
			})
		}
		slices.SortFunc(list, func(a, b *journal.Session) int { return strings.Compare(a.Path, b.Path) })
		f.all = judge.NewFeeds(j, list)
	})
	return f.all
}

// pairOperand is the operand of a name of pairNames.
func (c *compiler) pairOperand(at int, name string) (*operand, bool) {
	f, ok := pairNames[name]
	if !ok {
		return nil, false
	}
	uses := water.SetOf(water.ElectricalConductivity)
	if name == "removal" {
		uses = water.SetOf(water.ElectricalConductivity, water.FreeChlorine, water.TotalChlorine, water.TotalHardness)
	}
	if !slices.Contains(c.pairs, name) {
		c.pairs = append(c.pairs, name)
	}
	return &operand{kind: numberKind, at: at, uses: uses, field: name, number: numberType{sort: value, unit: water.Percent}, num: f}, true
}

// removalOf is how much of a value the plant before the site took out, in percent of the feed's.
func removalOf(c *compiler, at int, args []ast.Node) (*operand, *Error) {
	id, err := c.analyteArgument(at, args)
	if err != nil {
		return nil, err
	}
	c.fields["removal"] = true
	return &operand{kind: numberKind, at: at, uses: water.SetOf(id), number: numberType{sort: value, unit: water.Percent},
		num: func(r *row) num { return held(r.part(id)) }}, nil
}

// valueArgument is the only argument: the name of a reading, a name of a pair, or removal of a
// reading. id is NumNames where it is no reading's.
func (c *compiler) valueArgument(at int, args []ast.Node) (*operand, water.ID, *Error) {
	if len(args) == 1 {
		switch n := args[0].(type) {
		case *ast.IdentifierNode:
			if o, ok := c.pairOperand(at, n.Value); ok {
				c.fields[n.Value] = true
				return o, water.NumNames, nil
			}
		case *ast.CallNode:
			o, err := c.operand(n)
			if err == nil && (o.kind != numberKind || o.uses.Empty()) {
				err = c.fail(o.at, "this takes the name of a reading", "such as sulfate")
			}
			return o, water.NumNames, err
		}
	}
	id, err := c.analyteArgument(at, args)
	if err != nil {
		return nil, id, err
	}
	return c.analyte(at, id), id, nil
}
