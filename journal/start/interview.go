package start

import (
	"cmp"
	"errors"
	"fmt"
	"strings"
	"time"

	"wj/journal"
	"wj/render/terminal"
	"wj/water"
)

// Ask asks for what is not said yet: the answers so far are offered, and so are taps, which are
// as [ParseTap] reads them.
func (a *Answers) Ask(q *terminal.Questions, taps []string) (err error) {
	one := func(to *string, question string, fits func(string) error) {
		if err == nil {
			*to, err = q.Ask(question, *to, fits)
		}
	}
	one(&a.Name, "name of the brewery", nil)
	one(&a.Country, "country, in two letters (DE, US, NO); nothing: no limits are shown", CheckCountry)
	one(&a.Timezone, "time zone", CheckZone)
	one(&a.FullName, "your name", nil)
	if err == nil && a.Person == "" {
		a.Person = a.ID()
	}
	one(&a.Person, "your short name in the records", func(id string) error {
		if !journal.ValidID(id, journal.KindPerson) {
			return journal.Hint("lower-case letters, digits and hyphens", "%q cannot be a person's id", id)
		}
		return nil
	})
	one(&a.Email, "your address (the one that git has)", nil)
	if err != nil {
		return err
	}
	q.Say("stages of a tap: %s", strings.Join(journal.Names(journal.Stages), ", "))
	if len(taps) == 0 {
		taps = []string{"Town main"}
	}
	taps, err = q.List("taps, separated by commas; name=stage where it is not water coming in", strings.Join(taps, ", "), func(text string) error {
		_, err := ParseTap(text)
		return err
	})
	if err != nil {
		return err
	}
	for _, text := range taps {
		t, _ := ParseTap(text)
		a.Taps = append(a.Taps, t)
	}
	for n := 1; ; n++ {
		id, err := q.Ask(fmt.Sprintf("short name of meter %d, such as meter-%d; nothing: no more meters", n, n), "", func(id string) error {
			if id != "" && !journal.ValidID(id, journal.KindInstrument) {
				return journal.Hint("lower-case letters, digits and hyphens", "%q cannot be an id", id)
			}
			return nil
		})
		if err != nil {
			return err
		}
		if id == "" {
			break
		}
		m, err := AskMeter(q, id)
		if err != nil {
			return err
		}
		a.Meters = append(a.Meters, m)
	}
	if len(a.Meters) == 0 {
		return nil
	}
	a.Every, err = q.Ask("how often is each tap tested", cmp.Or(a.Every, "30 d"), func(text string) error {
		span, err := water.ParseQuantity(text)
		if err != nil || span.Unit.Family() != water.Duration || span.Value <= 0 {
			return journal.Hint("30 d, or 2 wk", "%q is not a span of time", text)
		}
		return nil
	})
	return err
}

// ID is what the person's full name makes an id of.
func (a *Answers) ID() string { return Slug(strings.Fields(a.FullName + " x")[0], "") }

// CheckZone refuses what is no time zone by its IANA name.
func CheckZone(zone string) error {
	if _, err := time.LoadLocation(zone); err != nil || zone == "Local" || zone == "" {
		return journal.Hint("give it as --timezone Europe/Vilnius", "%q is not a known time zone", zone)
	}
	return nil
}

// AskMeter asks what sort of meter it is, which tests it can make, and what the leaflet says of
// each.
func AskMeter(q *terminal.Questions, id string) (Meter, error) {
	m := Meter{ID: id}
	var keys []string
	for _, t := range Templates {
		keys = append(keys, t.Key)
	}
	if _, err := q.Ask("what sort ("+strings.Join(keys, ", ")+")", keys[0], func(answer string) (wrong error) {
		m.Template, wrong = TemplateNamed(answer)
		return wrong
	}); err != nil {
		return m, err
	}
	q.Say("%s %s: type from its leaflet the unit, the lowest and the highest reading and, if it says so, how far it may be off, such as", m.Template.Name, id)
	q.Say("  mg/L 2 200 5 mg/L + 8 %%     (- : it cannot make this test)")
	for _, test := range m.Template.Tests {
		name, unit, _ := strings.Cut(test, " ")
		_, err := q.Ask("  "+strings.ReplaceAll(name, "_", " "), cmp.Or(unit, "no unit"), func(answer string) error {
			switch answer {
			case "-":
				return nil
			case "no unit":
				answer = ""
			}
			e, err := ParseMeasure(name, answer)
			if err == nil {
				m.Measures = append(m.Measures, e)
			}
			return err
		})
		if err != nil {
			return m, err
		}
	}
	if len(m.Measures) == 0 {
		return m, errors.New("a meter measures something")
	}
	return m, nil
}

// AskRecord asks for a lot or an instrument and gives its id and its fields as key=value.
func AskRecord(q *terminal.Questions, kind journal.Kind, id string) (name string, fields []string, err error) {
	if id == "" {
		question := map[journal.Kind]string{journal.KindLot: "number on the label", journal.KindInstrument: "a short name, such as meter-1"}[kind]
		if id, err = q.Ask(question, "", func(id string) error {
			if !journal.ValidID(id, kind) {
				return journal.Hint("letters, digits and hyphens", "%q cannot be an id", id)
			}
			return nil
		}); err != nil {
			return "", nil, err
		}
	}
	if kind == journal.KindInstrument {
		m, err := AskMeter(q, id)
		if err != nil {
			return "", nil, err
		}
		for _, e := range m.Entries() {
			if len(e.Below) == 0 {
				fields = append(fields, e.Key+"="+strings.Trim(e.Value, `"`))
			}
			for _, below := range e.Below {
				fields = append(fields, e.Key+"."+below.Key+"="+below.Value)
			}
		}
		return id, fields, nil
	}
	reagent := false
	for _, field := range []struct{ key, question string }{
		{"analyte", "for which test (nothing for a salt or an acid)"}, {"substance", "which salt or acid (nothing for a reagent)"},
		{"expires", "expires, such as 2027-05"}, {"tests", "how many tests (nothing if it does not say)"},
	} {
		if field.key == "substance" && reagent {
			continue
		}
		answer, err := q.Ask(field.question, "", nil)
		if err != nil {
			return "", nil, err
		}
		if answer != "" {
			fields, reagent = append(fields, field.key+"="+answer), true
		}
	}
	return id, fields, nil
}
