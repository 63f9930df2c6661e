package writer

import (
	"cmp"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/plan"
	"wj/water/substance"
)

// Batch fills in what a batch takes from its change: the beer, the volume, the
// lots and strengths of what was weighed. Amounts are never filled in by
// themselves: what the scale showed is the record. weighed=sheet says that it
// showed the sheet's amounts.
func (d *Draft) Batch() error {
	now := d.Now
	said := map[string]string{}
	var fields []Field
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
			fields = append(fields, Field{Key: key, Value: value})
			said[key] = value
		}
	}
	if text := said["mash_pH.value"]; text != "" {
		if v, err := strconv.ParseFloat(text, 64); err != nil || !(v > 3 && v < 9) {
			return journal.Hint("as the meter showed it, of a sample cooled to 20 degC: mash_pH=5.36", "mash_pH %q is not a pH between 3 and 9", text)
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
		return journal.Hint("change=ID volume=\"1480 L\"", "weighed=sheet needs the change whose sheet it was")
	}
	if !ok {
		d.Fields = fields
		return nil
	}
	fill("beer", change.For)
	fill("volume", change.Volume.String())
	_, litres, err := plan.LitresOf(said["volume"], "volume=\"1480 L\"")
	if err != nil {
		var advice *plan.Advice
		if errors.As(err, &advice) {
			return journal.Hint(advice.Next, "%w", err)
		}
		return err
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
			return journal.Hint("say what was weighed: gypsum=\"207 g\"", "find the sheet's amounts: %w", err)
		}
		for _, dose := range work.Prediction.Doses {
			onSheet[dose.Substance] = dose.AmountText() + " " + dose.Unit.String()
		}
	}
	for _, a := range change.Add {
		key := "weighed." + a.Substance
		if amount := onSheet[a.Substance]; amount != "" && said[key] == "" && said[key+".amount"] == "" {
			said[key] = amount
			fields = append(fields, Field{Key: key, Value: amount})
		}
		// A bare amount gets the lot of the change; one with its own lot or parts stays.
		for i := range fields {
			if fields[i].Key == key && !strings.HasPrefix(fields[i].Value, "{") && a.Lot != "" {
				lot := cmp.Or(said[key+".lot"], a.Lot)
				fields[i].Value = "{amount: " + fields[i].Value + ", lot: " + frontmatter.Quote(lot) + "}"
			}
		}
		var kept []Field
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
		d.Notes = append(d.Notes, fmt.Sprintf("who read the labels with %s? witnessed_by=…", said["dosed_by"]))
	}
	d.Fields = fields
	return nil
}

// Missed makes the draft of an action what a verification that missed asks for: the sample is repeated first, then volume, form and
// lot are checked; the change is corrected, never the measurement.
func (d *Draft) Missed(v plan.Verification) {
	s, c := v.Session, v.Change
	about := []string{s.ID, c.ID}
	if s.Batch != "" {
		about = append(about, s.Batch)
	}
	var words []string
	for _, m := range v.Missed() {
		words = append(words, m.Words())
	}
	d.Name("missed-" + cmp.Or(s.Batch, strings.TrimPrefix(c.ID, journal.FormatDate(c.Proposed)+"-")))
	d.Entries = []journal.Entry{{Key: "about", Value: "[" + strings.Join(about, ", ") + "]"}, {Key: "opened", Value: journal.FormatDate(d.Now)}, {Key: "by", Value: s.By},
		{Key: "deviation", Value: frontmatter.Quote("the verification of " + c.ID + " missed: " + strings.Join(words, "; "))}}
	d.Body = "1. Mix again and repeat the sample.\n2. Check the volume, the form and strength of each addition, and the lots.\n3. Correct the change, never the measurement."
}
