package judge

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"wj/journal"
	"wj/water"
	"wj/water/limits"
)

// InForce is one limit that a value at a site is held to on a day.
type InForce struct {
	ID       water.ID
	Kind     limits.Kind
	Law      string   // eu, us or who, of a published limit
	Min, Max *float64 // in the value's standard unit; nil where that end is open
	Written  string   // as its source writes it: "50 mg/L NO3", "at most 300 mg/L"
	Source   string   // the law; of an own limit its reason or source, "" where neither is given
	Own      *journal.Limit
	// Replaced are the ends of indicator values, and of the journal's limit, that
	// this one stands in place of. Whoever shows the one shows the others.
	Replaced []InForce
}

// Name says whose limit it is: "the site's own limit", "EU indicator value".
func (l *InForce) Name() string {
	switch l.Kind {
	case limits.Site:
		return "the site's own limit"
	case limits.Journal:
		return "the journal's limit"
	case limits.Brewing:
		return "advice for brewing liquor"
	case limits.Indicator:
		return strings.ToUpper(l.Law) + " indicator value (taste, pipes)"
	}
	return strings.ToUpper(l.Law) + " health limit"
}

// Health reports whether the limit is set for the health of who drinks the water.
func (l *InForce) Health() bool { return l.Kind == limits.Health }

// Words are the limit with its source, and what it stands in place of: "the
// site's own limit, at most 300 mg/L (decision of 2026-01-05), in place of 250
// mg/L (Directive …)".
func (l *InForce) Words() string {
	text := l.Written
	if l.Own != nil {
		text = l.Name() + ", " + l.Written
	}
	if l.Source != "" {
		text += " (" + l.Source + ")"
	}
	for i := range l.Replaced {
		text += ", in place of " + l.Replaced[i].Words()
	}
	return text
}

// End is the end of the limit that a value passed or is nearer to, as it was
// typed or is written: "300 mg/L".
func (l *InForce) End(over bool) string {
	switch {
	case l.Own == nil:
		return l.Written
	case over && l.Own.Max.Set || !l.Own.Min.Set:
		return l.Own.Max.String()
	}
	return l.Own.Min.String()
}

// Conformity is how a value stands to a limit.
type Conformity uint8

// A value is over or under a limit when its whole 95 % interval lies beyond it,
// and within when the whole interval keeps it; else the interval includes the
// limit, and the test is inconclusive (JCGM 106:2012, guarded acceptance and
// rejection with k = 2). A bound ("<5") is judged by what it leaves possible.
const (
	Unlimited Conformity = iota // there is no limit, or no number
	Within
	Inconclusive
	Under
	Over
)

// String is the conformity in words.
func (c Conformity) String() string {
	return [...]string{"no limit", "within", "inconclusive", "under", "over"}[min(c, Over)]
}

// Outside reports whether the value is over or under its limit, beyond its
// uncertainty.
func (c Conformity) Outside() bool { return c == Over || c == Under }

// Conform holds a value against a lowest and a highest value in its own unit,
// each of which may be nil.
func Conform(v water.Value, lowest, highest *float64) Conformity {
	if math.IsNaN(v.Value) {
		return Unlimited
	}
	switch water.Judge(v, lowest, highest) {
	case water.NoVerdict:
		return Unlimited
	case water.Within:
		return Within
	case water.Under:
		return Under
	case water.Over:
		return Over
	}
	return Inconclusive
}

// Conform holds a value in its standard unit against the limit. Published limits
// are for what was measured: a value that is only derived is not held to them, but for those that are always derived, as the sum of
// nitrate and nitrite.
func (l *InForce) Conform(v water.Value) Conformity {
	if v.ID != l.ID || v.Derived && l.Own == nil && l.ID < water.NumAnalytes {
		return Unlimited
	}
	return Conform(v, l.Min, l.Max)
}

// Assessment is one value held against one limit in force.
type Assessment struct {
	Limit      *InForce
	Value      water.Value
	Conformity Conformity
}

// Limits knows the limits in force at every site of a journal on every day. It
// may be used by several goroutines.
type Limits struct {
	j     *journal.Journal
	sites sync.Map // id → *calendar, worked out when first asked
}

// calendar are the limits of a site: set[i] from the day from[i] on, set[0]
// before all of them.
type calendar struct {
	from []time.Time
	set  [][]InForce
}

// NewLimits works out the limits of every site: from the laws of the journal's
// jurisdictions, by the stage of the water; from wj.yaml; and from the site's
// own record, each from its first day on.
func NewLimits(j *journal.Journal) *Limits {
	return &Limits{j: j}
}

func (l *Limits) calendar(id string) *calendar {
	if c, ok := l.sites.Load(id); ok {
		return c.(*calendar)
	}
	site, ok := l.j.Sites.Get(id)
	if !ok { // a site without a record
		site = nil
	}
	c, _ := l.sites.LoadOrStore(id, calendarOf(l.j, site))
	return c.(*calendar)
}

// At lists the limits in force at a site on the day of a moment in the journal's
// zone: health first, then indicator values, advice for brewing liquor, the
// journal's and the site's own, each by analyte. The result is shared and must
// not be changed.
func (l *Limits) At(site string, at time.Time) []InForce {
	c, n := l.calendar(site), 0
	for day := dayOf(l.j, at); n < len(c.from) && !day.Before(c.from[n]); {
		n++
	}
	return c.set[n]
}

// Of lists the limits of one value at a site on a day.
func (l *Limits) Of(id water.ID, site string, at time.Time) []*InForce {
	var out []*InForce
	list := l.At(site, at)
	for i := range list {
		if list[i].ID == id {
			out = append(out, &list[i])
		}
	}
	return out
}

// Session holds a session's values against the limits of its site and day. A
// session that is not in the series of the site's water ([InSeries]) has none. a holds the session's readings
// with their uncertainties.
func (l *Limits) Session(s *journal.Session, a *water.Analysis) []Assessment {
	if !InSeries(s) {
		return nil
	}
	var out []Assessment
	list := l.At(s.Site, s.Sampled)
	for i := range list {
		v, err := a.Value(list[i].ID)
		if err != nil {
			continue
		}
		if c := list[i].Conform(v); c != Unlimited {
			out = append(out, Assessment{&list[i], v, c})
		}
	}
	return out
}

// Liquor lists the limits of a liquor that is about to be brewed with: those of
// a hot liquor tank that has none of its own.
func (l *Limits) Liquor(at time.Time) []InForce {
	c := calendarOf(l.j, &journal.Site{Stage: journal.StageHot})
	n := 0
	for day := dayOf(l.j, at); n < len(c.from) && !day.Before(c.from[n]); {
		n++
	}
	return c.set[n]
}

// Indicators lists the indicator values of the journal's jurisdictions. They are
// not in force for liquor; whoever decides on one wants to see them all the same.
func (l *Limits) Indicators() []InForce { return published(l.j, limits.Indicator) }

// Supplied reports a site whose water is as it came: from a well, a main, or
// before treatment. Indicator values, which are set for taste, colour and pipes
// of water as it is supplied, hold there and nowhere else.
func Supplied(site *journal.Site) bool {
	return site == nil || journal.StageNamed(site.Stage).Supplied
}

// Liquor reports a site whose water goes into beer as it is. The trade's advice
// for brewing liquor holds there.
func Liquor(site *journal.Site) bool {
	return site != nil && journal.StageNamed(site.Stage).Liquor
}

// calendarOf works out the limits of a site for each stretch of days in which
// they are the same.
func calendarOf(j *journal.Journal, site *journal.Site) *calendar {
	var days []time.Time
	note := func(list map[water.ID]journal.Limit) {
		for _, l := range list {
			if !l.Since.IsZero() && !slices.ContainsFunc(days, l.Since.Equal) {
				days = append(days, l.Since)
			}
		}
	}
	note(j.Settings.Limits)
	if site != nil {
		note(site.Limits)
	}
	slices.SortFunc(days, time.Time.Compare)
	c := &calendar{from: days, set: [][]InForce{inForce(j, site, time.Time{})}}
	for _, day := range days {
		c.set = append(c.set, inForce(j, site, day))
	}
	return c
}

// inForce lists the limits of a site on a day; the zero time is before all.
func inForce(j *journal.Journal, site *journal.Site, day time.Time) []InForce {
	var out []InForce
	kinds := []limits.Kind{limits.Health}
	if Supplied(site) {
		kinds = append(kinds, limits.Indicator)
	}
	if Liquor(site) {
		kinds = append(kinds, limits.Brewing)
	}
	for _, kind := range kinds {
		out = append(out, published(j, kind)...)
	}
	out = append(out, own(limits.Journal, j.Settings.Limits, day)...)
	if site == nil {
		return out
	}
	for _, l := range own(limits.Site, site.Limits, day) {
		kept := out[:0:0]
		for _, other := range out {
			rest, replaced := l.replaces(other)
			if replaced != nil {
				l.Replaced = append(l.Replaced, *replaced)
			}
			if rest != nil {
				kept = append(kept, *rest)
			}
		}
		out = append(kept, l)
	}
	return out
}

// published are the limits of a kind that the journal's jurisdictions choose.
func published(j *journal.Journal, kind limits.Kind) []InForce {
	var out []InForce
	for _, p := range limits.Of(kind, j.Settings.Jurisdictions...) {
		l := InForce{ID: p.Analyte, Kind: kind, Law: p.Jurisdiction, Written: p.Written, Source: p.Source}
		if p.Min > 0 {
			l.Min = &p.Min
		}
		if p.Max > 0 {
			l.Max = &p.Max
		}
		out = append(out, l)
	}
	return out
}

// replaces parts another limit into the ends that stay and those that a site's
// own limit stands in place of. It is the same end of the same value. An
// indicator value gives way to an own limit that says why; the journal's limit
// gives way to any, the nearer decision; a health limit and the trade's advice
// never do.
func (l *InForce) replaces(other InForce) (rest, replaced *InForce) {
	gives := other.Kind == limits.Journal || other.Kind == limits.Indicator && l.Source != ""
	if other.ID != l.ID || !gives {
		return &other, nil
	}
	stays, goes := other, other
	if l.Min != nil {
		stays.Min = nil
	} else {
		goes.Min = nil
	}
	if l.Max != nil {
		stays.Max = nil
	} else {
		goes.Max = nil
	}
	if stays.Min != nil || stays.Max != nil {
		rest = &stays
	}
	if goes.Min != nil || goes.Max != nil {
		replaced = &goes
	}
	return rest, replaced
}

// own are limits that the brewery sets itself, those in force on a day, by
// analyte.
func own(kind limits.Kind, list map[water.ID]journal.Limit, day time.Time) []InForce {
	var out []InForce
	for _, id := range slices.Sorted(maps.Keys(list)) {
		l := list[id]
		if !l.Since.IsZero() && day.Before(l.Since) {
			continue
		}
		f := InForce{ID: id, Kind: kind, Source: l.Reason, Own: &l}
		if f.Source == "" {
			f.Source = l.Source
		}
		end := func(b journal.Bounded) *float64 {
			v := id.Info().Standard(b.Quantity)
			if !b.Set || math.IsNaN(v) {
				return nil
			}
			return &v
		}
		f.Min, f.Max = end(l.Min), end(l.Max)
		switch {
		case f.Min != nil && f.Max != nil:
			f.Written = fmt.Sprintf("%s to %s", l.Min, l.Max)
		case f.Min != nil:
			f.Written = fmt.Sprintf("at least %s", l.Min)
		case f.Max != nil:
			f.Written = fmt.Sprintf("at most %s", l.Max)
		default:
			continue
		}
		out = append(out, f)
	}
	return out
}

// Label is the name in a word or two, for a table or a chart.
func (l *InForce) Label() string {
	switch l.Kind {
	case limits.Site:
		return "own limit"
	case limits.Journal:
		return "journal's limit"
	case limits.Brewing:
		return "brewing advice"
	case limits.Indicator:
		return strings.ToUpper(l.Law) + " indicator"
	}
	return strings.ToUpper(l.Law) + " health"
}

// Ends are the lowest and highest value in a unit of the value, nil where that
// end is open or the unit does not fit.
func (l *InForce) Ends(unit water.Unit) (lowest, highest *float64) {
	end := func(v *float64) *float64 {
		if v == nil {
			return nil
		}
		x, err := l.ID.Info().Convert(*v, l.ID.Info().Unit, unit)
		if err != nil || math.IsNaN(x) {
			return nil
		}
		return &x
	}
	return end(l.Min), end(l.Max)
}

// ConformIn is Conform of a value, and its uncertainty, in another unit.
func (l *InForce) ConformIn(v water.Value, unit water.Unit) Conformity {
	if v.Derived && l.Own == nil && l.ID < water.NumAnalytes {
		return Unlimited
	}
	lowest, highest := l.Ends(unit)
	return Conform(v, lowest, highest)
}

// In writes the limit in a unit of its value, with its label and what it stands
// in place of: "at most 300 (own limit), in place of at most 250 (EU taste,
// pipes)".
func (l *InForce) In(unit water.Unit) string {
	number := func(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }
	text := "no limit"
	switch lowest, highest := l.Ends(unit); {
	case lowest != nil && highest != nil:
		text = number(*lowest) + " to " + number(*highest)
	case lowest != nil:
		text = "at least " + number(*lowest)
	case highest != nil:
		text = "at most " + number(*highest)
	}
	text += " (" + l.Label() + ")"
	for i := range l.Replaced {
		text += ", in place of " + l.Replaced[i].In(unit)
	}
	return text
}

// Near is the end of the limit that a value is nearer to, as a number in the
// unit: "300".
func (l *InForce) Near(v float64, unit water.Unit) string {
	lowest, highest := l.Ends(unit)
	if lowest != nil && (highest == nil || math.Abs(v-*lowest) < math.Abs(v-*highest)) {
		highest = lowest
	}
	if highest == nil {
		return ""
	}
	return strconv.FormatFloat(*highest, 'g', 4, 64)
}
