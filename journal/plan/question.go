package plan

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/water"
	"wj/water/treat"
)

// Question is what a treatment is asked for, in the words that a person types.
type Question struct {
	// Waters are session[=share] or site[=share], Basis sessions alone and Sites
	// sites alone; a share is "40%", "30..60%" or nothing.
	Waters, Basis, Sites []string
	Target               string // "" for none
	Volume               string
	Mash, Sparge         string   // volumes, where the two are treated apart
	Add                  []string // "gypsum=210 g": work this out, search nothing
	Only, Without        []string
	MaxAdditions         int // -1 for no bound
	AcidTo               string
	Dechlorinate         string
	Exact                bool
	Trained              string
	Chance               float64 // part of 1
	Temperature          string
	Open                 bool
	Apart                bool     // mash and sparge get shares of their own
	Price                []string // "ro-permeate=2.40 EUR/m3": what a water costs, where its record does not say
	Change               bool     // it is to become a change
	Now                  time.Time
	all                  float64 // L of all liquor of the day, where Volume is a part of it
	usual                string  // what was taken from the target's usual batch
	// Doubts tells what is wrong with a session; nil for nothing.
	Doubts func(*journal.Session) []string
}

// Treatment is a question with what was found.
type Treatment struct {
	Question Question
	Target   *journal.Target // nil for none
	Litres   float64
	Volume   water.Quantity
	Notes    []string
	Change   *journal.Change // what was found, as the file would have it
	Work     *Work           // worked out from Change
	Answer   *treat.Solution // nil where a dose was named
	Others   []Alternative
	// Targets are what the answer is held against; Chance is how likely it keeps
	// them, nil where none could be judged; NotJudged the ranges that were not.
	Targets   []treat.Target
	Chance    *treat.Chance
	NotJudged []NotJudged
	// Sparge is the other tank, where mash and sparge are treated apart.
	Sparge *Treatment

	book        *Book
	supplies    []treat.Supply
	sessions    map[string]*journal.Session
	temperature float64
	mash        *treat.Mash
	mashless    error   // why a mash pH that was asked for has no grist
	mashLitres  float64 // of the mash, where it is said
	// spargeLitres are those of the sparge that shares the blend of this mash.
	spargeLitres float64
	problem      treat.Problem   // of that mash, before its shares were settled
	own          *together       // shares of their own; nil for one blend
	byLitres     map[string]bool // waters that are bounded by what there is of them
	tank         string          // "" for all liquor
}

// Alternative is another answer: fewer additions, or none of one sort.
type Alternative struct {
	What   string
	Answer *treat.Solution
	Err    error
}

// Ask answers a question: finds shares and doses for a target, or works a named
// dose out. The error may be an *Advice.
func (b *Book) Ask(q Question) (*Treatment, error) {
	b.usual(&q)
	if q.Mash != "" || q.Sparge != "" {
		return b.tanks(q)
	}
	return b.ask(q, "", 0)
}

// usual takes the volumes that are not given from the target's usual batch: mash
// and sparge apart where it has a range of mash pH and both volumes, else all
// liquor together.
func (b *Book) usual(q *Question) {
	id, err := b.j.ID(q.Target, journal.KindTarget)
	t, ok := b.j.Targets.Get(id)
	if q.Target == "" || err != nil || !ok || q.Volume != "" || q.Sparge != "" {
		return
	}
	all, err := t.Liquor.In(water.Litre)
	if err != nil || t.Liquor.Unit.IsNone() || !(all > 0) {
		return
	}
	mash, litres, err := t.MashLiquor, 0.0, error(nil)
	if q.Mash != "" {
		if mash, litres, err = LitresOf(q.Mash, ""); err != nil {
			return
		}
	} else if !mash.Unit.IsNone() && len(q.Add) == 0 && slices.ContainsFunc(t.Ranges, func(r journal.Range) bool { return r.Mash }) {
		litres, err = mash.In(water.Litre)
	}
	if err == nil && litres > 0 && litres < all {
		rest := t.Liquor // to four digits
		rest.Value *= 1 - litres/all
		digits := max(0, 3-int(math.Floor(math.Log10(rest.Value))))
		rest.Value = round(rest.Value, digits)
		for digits > 0 && rest.Value == round(rest.Value, digits-1) {
			digits--
		}
		rest.Decimals = uint8(digits)
		q.Mash, q.Sparge = mash.String(), rest.String()
		q.usual = fmt.Sprintf("volumes of a usual batch of %s: mash %s, sparge %s; --volume treats all liquor as one", t.ID, q.Mash, q.Sparge)
		return
	}
	if q.Mash == "" {
		q.Volume = t.Liquor.String()
		q.usual = fmt.Sprintf("%s: the liquor of a usual batch of %s, since no volume is given", q.Volume, t.ID)
	}
}

// ask is Ask for one tank, of a mash with its litres.
func (b *Book) ask(q Question, tank string, litres float64) (*Treatment, error) {
	t := &Treatment{Question: q, book: b, temperature: math.NaN(), tank: tank, mashLitres: litres}
	if tank == tankMash {
		t.spargeLitres = q.all - litres
	}
	if err := t.read(); err != nil {
		return nil, err
	}
	if strings.HasPrefix(strings.TrimSpace(q.AcidTo), "mash_pH") && tank == "" {
		t.tank, t.mashLitres = tankMash, t.Litres
		t.Notes = append(t.Notes, fmt.Sprintf("the %s are taken as the liquor of the mash, and the acid goes into the mash; --mash and --sparge treat the two apart", t.Volume))
	}
	var err error
	if len(q.Add) > 0 || q.Target == "" {
		err = t.workOut()
	} else {
		err = t.solve()
	}
	if err != nil {
		return nil, err
	}
	t.judge()
	return t, nil
}

// judge holds what was worked out against what is asked of it.
func (t *Treatment) judge() {
	targets := t.targets()
	g := Judgement{targets, t.mash, t.NotJudged}.on(t.Work)
	t.Targets, t.NotJudged = g.Targets, g.NotJudged
	t.book.indicate(t.NotJudged, t.Work, t.Question.Now)
	if len(t.Targets) == 0 {
		return
	}
	if c, err := t.Work.Prediction.CheckedChance(t.Targets); err == nil {
		t.Chance = &c
		return
	} else {
		for _, x := range t.Targets {
			g.leave(x, err)
		}
		t.Targets, t.NotJudged = nil, g.NotJudged
	}
}

// unnamedVolume is what a dose is worked out for where nothing else is at stake.
const unnamedVolume = "100 L"

// read takes waters, volume and target from the words.
func (t *Treatment) read() error {
	q, b := &t.Question, t.book
	t.sessions, t.byLitres = map[string]*journal.Session{}, map[string]bool{}
	if err := b.priced(q.Price); err != nil {
		return err
	}
	if q.usual != "" {
		t.Notes = append(t.Notes, q.usual)
	}
	if q.Volume == "" {
		if q.Target != "" || q.Change {
			return advise("--volume \"1500 L\", or liquor: in the target's record", "no volume is given")
		}
		q.Volume = unnamedVolume
		t.Notes = append(t.Notes, "worked out for 100 L, since no volume is given (--volume)")
	}
	var err error
	if t.Volume, t.Litres, err = LitresOf(q.Volume, "--volume \"1500 L\""); err != nil {
		return err
	}
	if q.Temperature != "" {
		v, err := water.ParseQuantity(q.Temperature)
		if err == nil {
			t.temperature, err = v.In(water.DegreeCelsius)
		}
		if err != nil || v.Unit.IsNone() || !(t.temperature >= 0 && t.temperature <= 95) {
			return advise("--temperature \"12 degC\"", "%q is not a temperature of liquor between 0 and 95 degC", q.Temperature)
		}
	}
	if len(q.Basis)+len(q.Sites)+len(q.Waters) == 0 {
		return advise("--basis SESSION=40% or --site north-well,ro-permeate", "no water is named")
	}
	for _, text := range q.Waters {
		id, _, _ := strings.Cut(text, "=")
		if _, session := b.j.Sessions.Get(strings.TrimSuffix(id, ".md")); session {
			q.Basis = append(q.Basis, text)
		} else {
			q.Sites = append(q.Sites, text)
		}
	}
	for _, text := range q.Basis {
		id, share, _ := strings.Cut(text, "=")
		id, err := b.j.ID(id, journal.KindSession)
		if err != nil {
			return err
		}
		s, _ := b.j.Sessions.Get(id)
		if err := t.water(s, share); err != nil {
			return err
		}
	}
	for _, text := range q.Sites {
		id, share, _ := strings.Cut(text, "=")
		id, err := b.j.ID(id, journal.KindSite)
		if err != nil {
			return err
		}
		s, err := b.BestBasis(id, q.Now)
		if err != nil {
			return err
		}
		if newest, ok := b.Newest(id, q.Now); ok && newest != s {
			t.Notes = append(t.Notes, fmt.Sprintf("%s: depends on %s, since the newest, %s, has too few readings", id, s.ID, newest.ID))
		}
		if err := t.water(s, share); err != nil {
			return err
		}
	}
	if q.Target == "" {
		if len(q.Add) == 0 && !q.dechlorinates() || q.Change {
			return advise("wj ls targets lists them; --add, --acid or --dechlorinate works a dose out without a target", "no target is named")
		}
		return nil
	}
	id, err := b.j.ID(q.Target, journal.KindTarget)
	if err != nil {
		return err
	}
	t.Target, _ = b.j.Targets.Get(id)
	return nil
}

// water adds a water to the blend.
func (t *Treatment) water(s *journal.Session, share string) error {
	if s.Void != nil {
		return advise("take another session of "+s.Site, "%s is void: %s", s.ID, s.Void.Reason)
	}
	least, most, err := t.share(share)
	if err != nil {
		return fmt.Errorf("read the share of %s: %w", s.ID, err)
	}
	name := s.Site
	if _, taken := t.sessions[name]; taken {
		name = s.ID
	}
	if _, taken := t.sessions[name]; taken {
		return fmt.Errorf("%s is named twice", s.ID)
	}
	if t.Question.Doubts != nil {
		for _, doubt := range t.Question.Doubts(s) {
			t.Notes = append(t.Notes, fmt.Sprintf("%s is doubtful: %s; repeat the reading, or take another session with --basis", s.ID, doubt))
		}
	}
	src := t.book.SourceOf(s)
	if pH := src.Analysis.Number(water.PHValue); pH > treat.MostBatchedPH {
		return advise("let it settle, mix raw water in, and read pH and alkalinity again", "%s has pH %.1f: water above %.1f, as after lime, is not dosed or brewed with", s.ID, pH, treat.MostBatchedPH)
	}
	t.sessions[name] = s
	bounded := t.capacity(s.Site, least, most)
	t.byLitres[name] = bounded < most || strings.HasSuffix(strings.TrimSpace(share), "L")
	most = bounded
	t.supplies = append(t.supplies, treat.Supply{Name: name, Analysis: &src.Analysis, Least: least, Most: most, UShare: treat.TypicalShareUncertainty, Price: t.book.waterPrice(s.Site)})
	return nil
}

// share reads a part of the blend, in per cent or as a volume: what a tank holds.
func (t *Treatment) share(text string) (least, most float64, err error) {
	number, between := strings.CutPrefix(strings.TrimSpace(text), "..")
	q, litres, err := LitresOf(number, "=400L or =40%")
	if err != nil || q.Unit.IsNone() {
		return ParseShare(text)
	}
	all := cmp.Or(t.Question.all, t.Litres)
	if litres > all*(1+1e-9) {
		if !between {
			return 0, 0, advise("--volume of what is treated in all", "%s is more than the %.4g L that are treated", q, all)
		}
		litres = all
	}
	if between {
		return 0, litres / all, nil
	}
	return litres / all, litres / all, nil
}

// capacity bounds a share by how much of a water there is in a day.
func (t *Treatment) capacity(id string, least, most float64) float64 {
	site, ok := t.book.j.Sites.Get(id)
	if !ok || site.Capacity.Unit.IsNone() {
		return most
	}
	litres, err := site.Capacity.In(water.Litre)
	all := cmp.Or(t.Question.all, t.Litres)
	if err != nil || !(litres > 0) || litres >= most*all {
		return most
	}
	bound := math.Floor(100*litres/all+1e-9) / 100 // a share that no tank is filled to helps nobody
	t.Notes = append(t.Notes, fmt.Sprintf("%s: %s a day, at most %.4g %% of %.0f L", id, site.Capacity, 100*bound, all))
	return max(bound, least)
}

// named is the flag that named a water, with a share.
func (t *Treatment) named(supply string) string {
	session := t.sessions[supply]
	as := func(id string, flags ...[]string) bool {
		return slices.ContainsFunc(slices.Concat(flags...), func(text string) bool {
			named, _, _ := strings.Cut(text, "=")
			return strings.TrimSuffix(named, ".md") == id
		})
	}
	if as(session.Site, t.Question.Sites) && !as(session.ID, t.Question.Basis) {
		return "--site " + session.Site + "=40%"
	}
	return "--basis " + session.ID + "=40%"
}

// workOut works out the dose that was named.
func (t *Treatment) workOut() error {
	q := &t.Question
	p := treat.Plan{Volume: t.Litres, UVolume: treat.TypicalVolumeUncertainty * t.Litres, Temperature: t.temperature, Open: q.Open, EndPoint: t.endPoint(), Trained: q.Trained}
	for i, s := range t.supplies {
		share := s.Least
		if s.Least != s.Most {
			if len(t.supplies) > 1 {
				return advise(t.named(s.Name)+", and so for each water, 100 % in all", "a dose that is named is worked out for one blend: the share of %s is not said", s.Name)
			}
			share = 1
		}
		p.Waters = append(p.Waters, treat.Portion{Name: s.Name, Analysis: t.supplies[i].Analysis, Share: share})
	}
	shelf, err := t.inStock()
	if err != nil {
		return err
	}
	for _, text := range q.Add {
		addition, err := NamedDose(text, shelf)
		if err != nil {
			return err
		}
		p.Additions = append(p.Additions, addition)
	}
	sulfite, _, err := t.sulfite(shelf)
	if err != nil {
		return err
	}
	if sulfite != nil {
		if err := p.Dechlorinate(*sulfite); err != nil {
			return err
		}
	}
	return t.record(p)
}

// record writes the plan down as a change and reads it back, so that what is
// shown is what the file will say.
func (t *Treatment) record(p treat.Plan) error {
	target := ""
	if t.Target != nil {
		target = t.Target.ID
	}
	trained := ""
	if t.Question.Trained != "" {
		trained = "handled by " + t.Question.Trained + ": goggles, gloves and apron, acid into water"
	}
	var err error
	if t.Change, err = Record(target, t.sessions, p, t.Volume, trained); err != nil {
		return err
	}
	t.Change.ID, t.Change.Tank = "this dose", t.tank
	t.Change.Proposed = journal.Day(t.Question.Now)
	t.Work, err = t.book.OnBasis(t.Change)
	return err
}
