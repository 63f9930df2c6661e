package cause

import (
	"math"
	"time"

	"wj/water"
)

const states = 3 * core // level, cosine and sine of the year for each coordinate

// tracked is one water: a Kalman filter over its core coordinates, and a level for
// each further analyte by itself.
type tracked struct {
	x     [states]float64
	p     [states * states]float64
	at    time.Time
	n     int
	seen  [core]bool
	other map[water.ID]*level
	later float64 // further variance of each of other: of a copy that shares them (at0)

	swings []swing // what it moved by when it changed and came back: the last few times

	scatter, readings float64 // sum of d2 and of k over accepted sessions: the site's own scatter

	blank   bool    // nothing is known of it yet
	cycles  bool    // a softener's: its hardness goes up and down with the regenerations
	share   bool    // its conductivity is held as a share of its feed's
	feeding float64 // the feed's conductivity as a coordinate, where share is set
}

// level is an analyte that stands by itself.
type level struct{ x, v float64 }

// start is a water of which nothing is known but what waters are like.
func start() *tracked {
	t := &tracked{other: map[water.ID]*level{}, blank: true}
	for i, c := range [core]float64{150, 120, 160, 30, 40, 7.4, 0} {
		t.x[3*i], _ = lift(coreID[i], c)
	}
	t.x[3*cond] = offsetMiddle
	for i := range ions {
		for k := range ions {
			v := startCommon * startCommon
			if i == k {
				v += startOwn * startOwn
			}
			t.p[3*i*states+3*k] = v
		}
	}
	// Calcium is a part of the hardness: the two go together.
	together := startOwn*startOwn - startPair*startPair/2
	t.p[3*cah*states+3*tot] += together
	t.p[3*tot*states+3*cah] += together
	t.p[3*acid*states+3*acid] = startPH * startPH
	t.p[3*cond*states+3*cond] = offsetSD * offsetSD
	t.seasons()
	return t
}

// seasons gives both amplitudes of the year their spread.
func (t *tracked) seasons() {
	for a := 1; a <= 2; a++ {
		for i := range core {
			for k := range core {
				t.p[(3*i+a)*states+3*k+a] = 0
			}
		}
		spread(&t.p, a, seasonCommon, seasonOwn, seasonPH, seasonOffset)
	}
}

// spread adds a covariance of the common form to one kind of state.
func spread(p *[states * states]float64, a int, common, own, pH, off float64) {
	for i := range ions {
		for k := range ions {
			p[(3*i+a)*states+3*k+a] += common * common
		}
		p[(3*i+a)*states+3*i+a] += own * own
	}
	p[(3*acid+a)*states+3*acid+a] += pH * pH
	p[(3*cond+a)*states+3*cond+a] += off * off
}

func (t *tracked) clone() *tracked {
	c := *t
	c.other = t.levelsApart()
	return &c
}

// levelsApart copies the levels of the further analytes.
func (t *tracked) levelsApart() map[water.ID]*level {
	out := make(map[water.ID]*level, len(t.other))
	for id, l := range t.other {
		again := *l
		out[id] = &again
	}
	return out
}

// fed is a water that begins as its feed's, for what the stage lets pass.
func fed(from *tracked, stage string) *tracked {
	t := from.clone()
	t.n, t.scatter, t.readings, t.share, t.later = 0, 0, 0, false, 0
	generic := start()
	for i := range core {
		free := i == cond || i == acid
		switch stage {
		case "carbon-outlet", "":
		case "softener-outlet":
			free = free || i == cah || i == tot
		default:
			free = true
		}
		if !free {
			t.p[3*i*states+3*i] += fedOwn * fedOwn
			continue
		}
		t.seen[i] = false
		t.loosen(3*i, generic.x[3*i], generic.p[3*i*states+3*i])
	}
	clear(t.other)
	return t
}

// mostSwings is how many are kept, fewSwings from how many on they are what the water does: a
// river after rain, a well by the sea.
const mostSwings, fewSwings = 6, 2

// swing is what a session was off by, by coordinate, and of all ions together.
type swing struct {
	off [core]float64
	all float64
}

// of is what a reading was off by; of one that is no coordinate, as much as the ions were.
func (s *swing) of(at int) float64 {
	if at < 0 {
		return s.all
	}
	return s.off[at]
}

// swung keeps what a session was off by.
func (t *tracked) swung(own *fit) {
	var s swing
	n := 0.0
	for i := range own.rows {
		at := own.rows[i].at
		if at < 0 {
			continue
		}
		s.off[at] = own.r[i]
		if at < ions {
			s.all += own.r[i]
			n++
		}
	}
	s.all /= max(n, 1)
	kept := t.swings
	if len(kept) == mostSwings {
		kept = kept[1:]
	}
	t.swings = append(append(make([]swing, 0, len(kept)+1), kept...), s)
}

// loosen makes one state unknown again.
func (t *tracked) loosen(i int, x, v float64) {
	for k := range states {
		t.p[i*states+k], t.p[k*states+i] = 0, 0
	}
	t.x[i], t.p[i*states+i] = x, v
}

// season is the row that reads a level on a day of the year.
func season(at time.Time) [3]float64 {
	year := 2 * math.Pi * float64(at.Unix()) / (365.25 * 86400)
	return [3]float64{1, math.Cos(year), math.Sin(year)}
}

// advance lets time go by.
func (t *tracked) advance(at time.Time) {
	if v := t.pass(at); v > 0 {
		for _, l := range t.other {
			l.v += v
		}
	}
}

// pass is advance but for the further analytes, whose variance grows by what it returns.
func (t *tracked) pass(at time.Time) (v float64) {
	if !t.at.IsZero() {
		if days := math.Min(math.Abs(at.Sub(t.at).Hours()/24), 3650); days > 0 {
			root := math.Sqrt(days)
			off := walkOffset
			if t.share {
				off = walkShare
			}
			spread(&t.p, 0, walkCommon*root, walkOwn*root, walkPH*root, off*root)
			v = days * walkCommon * walkCommon * 4
		}
	}
	t.at = at
	return v
}

// phi is how far the site's own scatter is from what is declared, as a factor of
// the variance.
func (t *tracked) phi() float64 {
	return math.Min(3, math.Max(0.25, (12+t.scatter)/(14+t.readings)))
}

func (t *tracked) freedom() float64 { return math.Min(float64(10+t.n), 30) }

// widen is the water with the spread of a change on all that it changes, in mem.water.
func (t *tracked) widen(common, own float64, mem *scratch) *tracked {
	mem.water = *t
	c := &mem.water
	off := 0.03
	if t.share {
		off = own + common
	}
	spread(&c.p, 0, common, own, 0.3, off)
	c.later += common*common + own*own
	return c
}
