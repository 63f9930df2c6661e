package main

import (
	"fmt"
	"slices"

	"wj/journal"
	"wj/journal/history"
	"wj/journal/judge"
	"wj/journal/plan"
	"wj/journal/writer"
)

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
		if s.Void == nil && s.Stage == journal.StageHot && s.Covers(d.a.Now()) {
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
	w := d.a.ProvenanceOrNone(j, d.root)
	defer w.Close()
	if state := judge.NewChanges(j, d.a.Facts(j, w)).Change(c); slices.Contains(state.Unapproved, b) {
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
	if d.Kind != journal.KindSession || !slices.ContainsFunc(d.Fields, func(f writer.Field) bool { return f.Key == "sample" && f.Value == journal.SampleVerification }) {
		return nil
	}
	j, err := journal.Load(journal.Dir(d.root), journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	s, ok := j.Sessions.Get(d.ID)
	if !ok || s.Sample != journal.SampleVerification {
		return nil
	}
	c, ok := j.Changes.Get(s.Change)
	if !ok {
		return nil
	}
	v := plan.Open(j).Verification(c, s)
	d.a.say("%s", v.Line())
	if len(v.Missed()) == 0 {
		return nil
	}
	x := d.a.draft(j, d.root, journal.KindAction)
	x.Missed(v)
	out, err := writer.Write(d.a.Context, d.root, writer.Record{Files: []writer.File{x.File()}, Subject: "Open action " + x.ID, Trailers: []history.Trailer{{Key: "About", Value: s.ID}}, Kept: !commit})
	if err != nil {
		return fmt.Errorf("open an action for the missed verification: %w", err)
	}
	d.a.say("opened %s: mix and repeat the sample, then check volume, form and lots", d.a.relative(d.root, out.Paths[0]))
	d.a.saidCommit(d.root, out)
	return nil
}
