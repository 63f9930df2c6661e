package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/history"
	"wj/journal/judge"
	"wj/journal/plan"
	"wj/journal/writer"
	"wj/water/substance"
)

// batch fills in what a batch takes from its change: the beer, the volume, the
// lots and strengths of what was weighed. Amounts are never filled in by
// themselves: what the scale showed is the record. weighed=sheet says that it
// showed the sheet's amounts.
func (d *draft) batch() error {
	now := d.Now
	said := map[string]string{}
	var fields []writer.Field
	sheet := false
	for _, f := range d.Fields {
		head, rest, dotted := strings.Cut(f.Key, ".")
		if s, ok := substance.ByKey(head); ok {
			f.Key = "weighed." + s.Key
			if dotted {
				f.Key += "." + rest
			}
		}
		if f.Key == "mash_pH" && !strings.HasPrefix(f.Value, "{") {
			f.Key = "mash_pH.value"
		}
		if f.Key == "weighed" && f.Value == "sheet" {
			sheet = true
			continue
		}
		said[f.Key] = f.Value
		fields = append(fields, f)
	}
	fill := func(key, value string) {
		if said[key] == "" && value != "" {
			fields = append(fields, writer.Field{Key: key, Value: value})
			said[key] = value
		}
	}
	if text := said["mash_pH.value"]; text != "" {
		if v, err := strconv.ParseFloat(text, 64); err != nil || !(v > 3 && v < 9) {
			return withHint("as the meter showed it, of a sample cooled to 20 degC: mash_pH=5.36", "mash_pH %q is not a pH between 3 and 9", text)
		}
	}
	fill("brewed", journal.FormatDate(now))
	if id := said["change"]; id != "" {
		found, err := d.Journal.ID(id, journal.KindChange)
		if err != nil {
			return err
		}
		said["change"] = found
	}
	change, ok := d.Journal.Changes.Get(said["change"])
	if sheet && !ok {
		return withHint("change=ID volume=\"1480 L\"", "weighed=sheet needs the change whose sheet it was")
	}
	if !ok {
		d.Fields = fields
		return nil
	}
	fill("beer", change.For)
	fill("volume", change.Volume.String())
	_, litres, err := plan.LitresOf(said["volume"], "volume=\"1480 L\"")
	if err != nil {
		return advised(err)
	}
	onSheet := map[string]string{}
	if sheet {
		day := now
		if brewed, err := journal.ParseDate(said["brewed"]); err == nil {
			if end := time.Date(brewed.Year(), brewed.Month(), brewed.Day(), 23, 59, 59, 0, d.Journal.Settings.Zone); end.Before(now) {
				day = end
			}
		}
		work, _, err := plan.Open(d.Journal).SheetWork(change, day, litres)
		if err != nil {
			return withHint("say what was weighed: gypsum=\"207 g\"", "find the sheet's amounts: %w", err)
		}
		for _, dose := range work.Prediction.Doses {
			onSheet[dose.Substance] = dose.AmountText() + " " + dose.Unit.String()
		}
	}
	for _, a := range change.Add {
		key := "weighed." + a.Substance
		if amount := onSheet[a.Substance]; amount != "" && said[key] == "" && said[key+".amount"] == "" {
			said[key] = amount
			fields = append(fields, writer.Field{Key: key, Value: amount})
		}
		// A bare amount gets the lot of the change; one with its own lot or parts stays.
		for i := range fields {
			if fields[i].Key == key && !strings.HasPrefix(fields[i].Value, "{") && a.Lot != "" {
				lot := orElse(said[key+".lot"], a.Lot)
				fields[i].Value = "{amount: " + fields[i].Value + ", lot: " + frontmatter.Quote(lot) + "}"
			}
		}
		var kept []writer.Field
		for _, f := range fields {
			if f.Key != key+".lot" || said[key] == "" {
				kept = append(kept, f)
			}
		}
		fields = kept
	}
	if said["dosed_by"] == "" {
		by, err := d.Person(now)
		if err != nil {
			return err
		}
		fill("dosed_by", by)
	}
	if said["witnessed_by"] == "" {
		d.a.say("who read the labels with %s? witnessed_by=…", said["dosed_by"])
	}
	d.Fields = fields
	return nil
}

// sample asks for a verification where the batch that was just written is one
// whose liquor has to be tested.
func (d *draft) sample() {
	change, site := "", "SITE"
	for _, f := range d.Fields {
		if f.Key == "change" {
			change = f.Value
		}
	}
	if change == "" {
		return
	}
	var before []*journal.Batch
	for _, b := range d.Journal.Batches.List {
		if b.Void == nil && b.Change == change {
			before = append(before, b)
		}
	}
	for _, s := range d.Journal.Sites.List {
		if s.Void == nil && s.Stage == "hot-liquor" && s.Covers(d.a.now()) {
			site = s.ID
		}
	}
	if plan.Open(d.Journal).NextToVerify(change, before, verifying(d.Journal)) <= len(before) {
		d.a.say("next: mix, take a sample and verify: wj new session %s sample=verification change=%s batch=%s sulfate=…", site, change, d.ID)
	}
}

// unapproved says so where the change of the batch may not be brewed with.
func (d *draft) unapproved() {
	j, err := journal.Load(journal.Dir(d.root), journal.Options{Sessions: true})
	if err != nil {
		return
	}
	b, ok := j.Batches.Get(d.ID)
	if !ok {
		return
	}
	c, ok := j.Changes.Get(b.Change)
	if !ok {
		return
	}
	w := d.a.witnessOrNone(j, d.root)
	defer w.close()
	if state := judge.NewChanges(j, d.a.facts(j, w)).Change(c); slices.Contains(state.Unapproved, b) {
		d.a.say("! %s: %s", c.ID, state.UnapprovedNote())
		d.a.say("hold the batch until it is reviewed: wj review %s", c.ID)
	}
}

// verdict judges a verification that was just written, and opens an action
// where it missed: the sample is repeated first, then volume, form and lot are
// checked; the change is corrected, never the measurement.
func (d *draft) verdict(commit bool) error {
	if d.Kind == journal.KindBatch {
		d.unapproved()
		d.sample()
	}
	if d.Kind != journal.KindSession || !slices.ContainsFunc(d.Fields, func(f writer.Field) bool { return f.Key == "sample" && f.Value == "verification" }) {
		return nil
	}
	j, err := journal.Load(journal.Dir(d.root), journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	s, ok := j.Sessions.Get(d.ID)
	if !ok || s.Sample != "verification" {
		return nil
	}
	c, ok := j.Changes.Get(s.Change)
	if !ok {
		return nil
	}
	v := plan.Open(j).Verification(c, s)
	d.a.say("%s", v.Line())
	missed := v.Missed()
	if len(missed) == 0 {
		return nil
	}
	about := []string{s.ID, c.ID}
	if s.Batch != "" {
		about = append(about, s.Batch)
	}
	words := make([]string, len(missed))
	for i, m := range missed {
		words[i] = m.Words()
	}
	x := d.a.draft(j, d.root, journal.KindAction)
	x.Name("missed-" + orElse(s.Batch, strings.TrimPrefix(c.ID, journal.FormatDate(c.Proposed)+"-")))
	x.Entries = []journal.Entry{{Key: "about", Value: "[" + strings.Join(about, ", ") + "]"}, {Key: "opened", Value: journal.FormatDate(x.Now)}, {Key: "by", Value: s.By},
		{Key: "deviation", Value: frontmatter.Quote("the verification of " + c.ID + " missed: " + strings.Join(words, "; "))}}
	x.Body = "1. Mix again and repeat the sample.\n2. Check the volume, the form and strength of each addition, and the lots.\n3. Correct the change, never the measurement."
	out, err := writer.Write(d.a.ctx, d.root, writer.Record{Files: []writer.File{x.File()}, Subject: "Open action " + x.ID, Trailers: []history.Trailer{{Key: "About", Value: s.ID}}, Kept: !commit})
	if err != nil {
		return fmt.Errorf("open an action for the missed verification: %w", err)
	}
	d.a.say("opened %s: mix and repeat the sample, then check volume, form and lots", d.a.relative(d.root, out.Paths[0]))
	d.a.saidCommit(d.root, out)
	return nil
}
