package plan

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/judge"
	"wj/water"
	"wj/water/treat"
)

// Sheet is what a brewer doses from; its fields are those of the JSON.
type Sheet struct {
	Version string  `json:"version"`
	Brewery string  `json:"brewery"`
	Change  string  `json:"change"`
	Digest  string  `json:"digest"`
	Target  string  `json:"target"`
	Tank    string  `json:"tank,omitempty"`
	Volume  float64 `json:"volume"`
	Unit    string  `json:"volume_unit"`
	// Spelled is the volume as it was written: "7 bbl_us".
	Spelled  string   `json:"volume_spelled"`
	Printed  string   `json:"printed"`
	Approval []string `json:"approval"`
	// Emergency says that nobody has reviewed it yet, "" where somebody has.
	Emergency string                 `json:"emergency,omitempty"`
	Waters    []string               `json:"waters"`
	Doses     []AnswerDose           `json:"doses"`
	Steps     []SheetStep            `json:"steps"`
	Result    map[string]AnswerValue `json:"result"`
	Kept      *bool                  `json:"kept"`
	Chance    *float64               `json:"chance"`
	Chances   map[string]float64     `json:"chances"`
	NotJudged []NotJudged            `json:"not_judged,omitempty"`
	Headline  []string               `json:"headline"`
	Mash      string                 `json:"mash,omitempty"`
	// LiquorPH is that of the tank with its acid, and its range for a sparge.
	LiquorPH string          `json:"liquor_pH,omitempty"`
	Chlorine string          `json:"chlorine,omitempty"`
	Verify   string          `json:"verify"`
	Cautions []AnswerCaution `json:"cautions"`
	Notes    []string        `json:"notes,omitempty"`
	Record   string          `json:"record"`
	Scale    string          `json:"scale"`

	// Work is the change as it is dosed today, Expected what comes out.
	Work     *Work         `json:"-"`
	Expected []TargetCheck `json:"-"`
}

// SheetStep is one line of the order of work; a tick waits for a value or initials.
type SheetStep struct {
	Do     string  `json:"do"`
	Amount float64 `json:"amount,omitempty"`
	Unit   string  `json:"unit,omitempty"`
	Text   string  `json:"-"` // of the amount
	Tick   bool    `json:"tick"`
}

// Verifying is how often the liquor of a change is tested: the settings of the
// rule change/not-verified.
type Verifying struct {
	Every  int
	Within time.Duration
}

// staleSample is how old the newest sample of a site may be before the sheet
// asks for another; common practice, no source.
const staleSample = 30 * 24 * time.Hour

// Sheet works a change's sheet out for a moment and a volume, under the policy of
// the mainline; reasons say why there may be none.
func (b *Book) Sheet(judged *judge.Change, policy journal.Policy, now time.Time, volume water.Quantity, limits treat.Limits, rule Verifying) (s *Sheet, reasons []string, err error) {
	change, j := judged.Change, b.j
	litres, err := volume.In(water.Litre)
	if err != nil {
		return nil, nil, err
	}
	s = &Sheet{Version: Version, Brewery: j.Settings.Name, Change: change.ID, Target: change.For, Tank: change.Tank, Volume: plainFigure(litres), Unit: "L", Spelled: volume.String(), Printed: now.Format("2006-01-02 15:04 -07:00")}
	if s.Digest, err = journal.DigestFile(j.FS, change.Path); err != nil {
		return nil, nil, err
	}
	switch {
	case judged.State.Approved():
		s.approved(judged, policy)
	case judged.State == judge.Emergency && !judged.Review.Due.IsZero() && !judged.Review.Overdue:
		s.Emergency = fmt.Sprintf("EMERGENCY, not reviewed yet: %s, %s: %s. It must be reviewed by %s; dose maxima and health limits hold.", j.PersonName(judged.Emergency.By),
			journal.FormatTime(judged.Emergency.On), judged.Emergency.Reason, journal.FormatTime(judged.Review.Due.In(b.zone())))
	default:
		reasons = append(reasons, fmt.Sprintf("the change is %s: %s", judged.State, strings.Join(judged.Why, "; ")))
	}
	today, note, err := b.SheetWork(change, now, litres)
	if err != nil {
		return nil, append(reasons, err.Error()), nil
	}
	if note != "" {
		s.Notes = append(s.Notes, note)
	}
	p := today.Prediction
	answer := b.Judged(today, now, limits)
	s.Doses, s.Result, s.Kept, s.Chance, s.Chances, s.NotJudged, s.Headline = answer.Doses, answer.Result, answer.Kept, answer.Chance, answer.Chances, answer.NotJudged, answer.Headline()
	for _, k := range answer.Cautions {
		if k.Severity == string(treat.Error) {
			reasons = append(reasons, fmt.Sprintf("%s: %s; %s", k.Rule, k.Message, k.Help))
			continue
		}
		s.Cautions = append(s.Cautions, k)
		s.Notes = append(s.Notes, fmt.Sprintf("%s; %s", k.Message, k.Help))
	}
	for _, d := range p.Doses {
		if d.Over() {
			reasons = append(reasons, fmt.Sprintf("%s is over its upper bound", d))
		}
	}
	if r := p.Removal(); r != nil {
		s.Chlorine = r.String()
	}
	reasons = append(reasons, s.lots(j, change, now)...)
	s.Notes = append(append(s.Notes, b.Shortages(p, now)...), answer.Settles()...)
	b.sources(s, today, now, litres)
	reasons = append(reasons, b.doubtful(today)...)
	for _, step := range treat.Steps(p) {
		s.Steps = append(s.Steps, sheetStep(step))
	}
	s.Work, s.Expected = today, b.Verdicts(today)
	if m, err := b.MashPH(today, now); err == nil && change.Tank != tankSparge {
		s.Mash = fmt.Sprintf("%.2f ± %.2f, indicative (%s)", m.PH, math.Max(m.HalfWidth, 0.01), m.From)
	}
	if e, err := today.Prediction.Equilibrate(); err == nil && change.Tank != tankMash {
		s.LiquorPH = fmt.Sprintf("%.2f", e.PH.Value)
		if change.Tank == tankSparge {
			s.LiquorPH += fmt.Sprintf(" (%.2f–%.2f)", leastSpargePH, mostSpargePH)
		}
		s.LiquorPH += fmt.Sprintf(", 95 %%: %.2f to %.2f, at %.0f °C", e.PHRange.Low, e.PHRange.High, e.Temperature)
	}
	s.Verify = b.verifyText(judged, rule)
	s.Record = batchCommand(change, volume)
	s.Scale = scaleText(j)
	if s.Cautions == nil {
		s.Cautions = []AnswerCaution{}
	}
	return s, reasons, nil
}

// doubtful are the sessions that a dose rests on, its basis and the newest water, whose readings
// cannot be relied on; also newer ones whose recalled readings older ones stand for.
func (b *Book) doubtful(today *Work) (reasons []string) {
	checks, asked := judge.NewChecks(b.j), map[*journal.Session]bool{}
	ask := func(what string, s *journal.Session) {
		if asked[s] {
			return
		}
		asked[s] = true
		if why := judge.Doubt(b.j, checks, s); why != "" {
			reasons = append(reasons, fmt.Sprintf("%s %s is doubtful: %s; %s", what, s.ID, why, judge.SettleDoubt))
		}
	}
	for i := range today.Sources {
		src := &today.Sources[i]
		ask("the basis", src.Basis)
		ask("the newest water", src.Session())
		for _, s := range src.LeftOut {
			ask("the newer sample", s)
		}
	}
	return reasons
}

// sources lists the waters, and what of them is old.
func (b *Book) sources(s *Sheet, today *Work, now time.Time, litres float64) {
	for i := range today.Sources {
		src := &today.Sources[i]
		newest := src.Session()
		s.Waters = append(s.Waters, fmt.Sprintf("%s of %s (%.4g %%; sampled %s, %s)", litresText(src.Share*litres), src.Site, 100*src.Share, journal.FormatDate(newest.Sampled.In(b.zone())), newest.Source))
		if age := now.Sub(newest.Sampled); age > staleSample {
			s.Notes = append(s.Notes, fmt.Sprintf("the newest sample of %s is %s old: sample it before you dose", src.Site, daysText(age)))
			continue
		}
		if last := src.Sessions[len(src.Sessions)-1]; now.Sub(last.Sampled) > staleSample {
			s.Notes = append(s.Notes, fmt.Sprintf("what the newest sample of %s does not hold is %s old, from %s", src.Site, daysText(now.Sub(last.Sampled)), last.ID))
		}
	}
}

func litresText(v float64) string { return water.Round(v, max(3, len(fmt.Sprintf("%.0f", v)))) + " L" }

func daysText(d time.Duration) string { return fmt.Sprintf("%.0f d", math.Round(d.Hours()/24)) }

func substanceText(d *treat.Dose) string { return strings.ReplaceAll(d.Substance, "_", " ") }

// SheetWork is what a sheet of a moment doses into a volume; note says what is
// not as it was approved.
func (b *Book) SheetWork(c *journal.Change, at time.Time, litres float64) (w *Work, note string, err error) {
	if w, err = b.OnDay(c, at); err != nil {
		return nil, "", err
	}
	if w, err = w.Scaled(litres); err != nil {
		return nil, "", err
	}
	return w.SulfiteToday()
}

// approved says who approved, and until when.
func (s *Sheet) approved(judged *judge.Change, policy journal.Policy) {
	for _, v := range judged.Verdicts {
		if v.Standing != evidence.InForce || v.Refused() {
			continue
		}
		text := fmt.Sprintf("%s, %s", v.Signoff.By, v.Signoff.On.Format("2006-01-02 15:04"))
		if policy.ValidFor > 0 {
			text += ", valid to " + journal.FormatDate(v.Signoff.On.Add(policy.ValidFor))
		}
		if v.Claim {
			text += " (signer not verified)"
		}
		s.Approval = append(s.Approval, text)
	}
	if len(s.Approval) == 0 {
		s.Approval = []string{"self-approved: policy asks for no reviewer"}
	}
}

// lots looks at the packs that the change names.
func (s *Sheet) lots(j *journal.Journal, c *journal.Change, now time.Time) (reasons []string) {
	for _, x := range c.Add {
		lot, ok := j.Lots.Get(x.Lot)
		if !ok {
			continue
		}
		switch {
		case lot.Recalled != nil:
			reasons = append(reasons, fmt.Sprintf("lot %s of %s is recalled: %s", lot.ID, x.Substance, lot.Recalled.Reason))
		case lot.ExpiredOn(now):
			s.Notes = append(s.Notes, fmt.Sprintf("lot %s of %s expired on %s: take another of the same form and strength, and write its lot down", lot.ID, x.Substance, journal.FormatDate(lot.Expires)))
		case !lot.Finished.IsZero() && lot.Finished.Before(now):
			s.Notes = append(s.Notes, fmt.Sprintf("lot %s of %s is used up: take another of the same form and strength, and write its lot down", lot.ID, x.Substance))
		}
	}
	return reasons
}

// Shortages reports which lots hold less than a plan doses.
func (b *Book) Shortages(p *treat.Prediction, now time.Time) []string {
	var out []string
	for _, d := range p.Doses {
		lot, ok := b.j.Lots.Get(d.Lot)
		if !ok {
			continue
		}
		if left, known := b.Left(lot, d.Unit, now); known && left < d.Amount {
			out = append(out, fmt.Sprintf("lot %s of %s holds %s %s by the records, less than the %s %s of the dose: have another lot of the same form and strength at hand", lot.ID, substanceText(&d), water.Round(left, 3), d.Unit, d.AmountText(), d.Unit))
		}
	}
	return out
}

// NextToVerify is the index, among a change's batches in the order of brewing, of
// the next whose liquor has to be tested, counted as change/not-verified counts;
// up to their number it is the one that comes.
func (b *Book) NextToVerify(change string, batches []*journal.Batch, rule Verifying) int {
	batches = slices.Clone(batches)
	slices.SortStableFunc(batches, func(x, y *journal.Batch) int { return x.Brewed.Compare(y.Brewed) })
	tested := make([]bool, len(batches))
	for _, s := range b.j.Sessions.List {
		if s.Void != nil || s.Sample != journal.SampleVerification || s.Change != change {
			continue
		}
		for i, x := range batches {
			tested[i] = tested[i] || Tests(s, x, rule.Within)
		}
	}
	_, next := Due(tested, max(rule.Every, 1))
	return next
}

// verifyText reports whether the liquor of the batch that comes has to be tested.
func (b *Book) verifyText(c *judge.Change, rule Verifying) string {
	next := b.NextToVerify(c.ID, c.Batches, rule)
	switch n := len(c.Batches); {
	case n == 0:
		return "due: first use of this change"
	case next <= n:
		return fmt.Sprintf("due: batch %d with this change", n+1)
	default:
		return fmt.Sprintf("not due: batch %d with this change, at batch %d at the latest", n+1, next+1)
	}
}

// batchCommand is what to type when the brew is done.
func batchCommand(c *journal.Change, volume water.Quantity) string {
	mash := " mash_pH=…"
	if c.Tank == tankSparge {
		mash = ""
	}
	return fmt.Sprintf("wj new batch YEAR-NUMBER change=%s volume=%q weighed=sheet witnessed_by=…%s (weighed=sheet where the scale showed the amounts above; else each as it was, such as gypsum=\"207 g\")", c.ID, volume.String(), mash)
}

// scaleText says what amounts are rounded to.
func scaleText(j *journal.Journal) string {
	var parts []string
	if q := j.Settings.Scale.Mass; !q.Unit.IsNone() {
		parts = append(parts, "scale "+q.String())
	}
	if q := j.Settings.Scale.Volume; !q.Unit.IsNone() {
		parts = append(parts, "cylinder "+q.String())
	}
	if len(parts) == 0 {
		return "amounts are not rounded to a scale: set scale: in wj.yaml"
	}
	return "amounts are rounded to " + strings.Join(parts, ", ")
}

// stepText is a step without what the table of doses says already.
func stepText(s treat.Step) string {
	if s.Dose == nil {
		return s.Do
	}
	name := substanceText(s.Dose)
	if s.Dose.Unit == water.Millilitre {
		name += " " + s.Dose.StrengthText()
	}
	return strings.Replace(s.Do, s.Dose.String(), name, 1)
}

func sheetStep(s treat.Step) SheetStep {
	out := SheetStep{Do: stepText(s), Tick: s.Tick}
	if s.Dose != nil && s.Amount != 0 {
		d := treat.Dose{Addition: s.Dose.Addition}
		d.Amount, out.Unit = s.Amount, d.Unit.String()
		out.Text = d.AmountText() + " " + out.Unit
		out.Amount, _ = strconv.ParseFloat(d.AmountText(), 64) // what is weighed
	}
	return out
}
