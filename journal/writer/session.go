package writer

import (
	"fmt"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
	"wj/water/spelling"
)

// atOnce is how long after sampling a test is taken to be made when it is recorded. A session
// that is typed later than that does not say when it was tested. 15 min is the time in which a
// pH is to be measured (40 CFR 136.3, table II: "analyze within 15 minutes").
const atOnce = 15 * time.Minute

// reading is one reading of a session being composed.
type reading struct {
	id    water.ID
	value string
	parts []Field
}

func (r *reading) part(key string) string {
	for _, p := range r.parts {
		if p.Key == key {
			return p.Value
		}
	}
	return ""
}

// entry is the reading on one line.
func (r *reading) entry() journal.Entry {
	value := YAML(r.value)
	if len(r.parts) > 0 {
		value = "{value: " + value
		for _, p := range r.parts {
			value += ", " + p.Key + ": " + YAML(p.Value)
		}
		value += "}"
	}
	return journal.Entry{Key: r.id.String(), Value: value}
}

// Session composes a session at a site from the fields. What they do not say is filled in: the
// time, the person, the meters and the lots of the day of the test.
func (d *Draft) Session(site string) error {
	j, zone := d.Journal, d.Now.Location()
	sites := j.IDs(journal.KindSite)
	// Whole words alone, as an id or a name has them: a record must not land at a site that looks alike.
	word := strings.ReplaceAll(strings.ToLower(site), " ", "-")
	if found, candidates, ambiguous := spelling.Find(site, sites); found != "" && strings.Contains("-"+found+"-", "-"+word+"-") {
		site = found
	} else if ambiguous {
		return journal.Hint("one of "+spelling.Or(candidates), "%q can be more than one site", site)
	} else {
		return journal.Hint(spelling.HintOr(site, sites, "wj new site "+site+" owner=… stage=intake name=…"), "there is no site %q", site)
	}
	said, readings, err := d.sort()
	if err != nil {
		return err
	}
	if len(readings) == 0 {
		return journal.Hint("wj new session "+site+" pH=7.4 sulfate=\"84 mg/L\" …", "a session needs readings")
	}
	if said["sample"] == journal.SampleVerification && said["change"] == "" {
		return journal.Hint("change=ID batch=ID; wj ls changes lists them", "a verification needs the change whose liquor it is")
	}
	sampled, tested, err := d.times(said)
	if err != nil {
		return err
	}
	bench := said["source"] == "" || said["source"] == journal.SourceBench
	add := func(key, value string) {
		if said[key] == "" && value != "" {
			said[key] = value
		}
	}
	add("site", site)
	by, err := Person(j, said["by"], "", tested)
	if said["by"] == "" {
		by, err = d.Person(tested)
	}
	if err != nil {
		return err
	}
	add("by", by)
	if p, ok := Owner(j, d.Email); ok && p.ID != by && p.Covers(d.Now) {
		add("recorded_by", p.ID)
	}
	if bench {
		d.meters(site, said, readings, tested)
		used := judge.TestsUsed(j)
		for _, r := range readings {
			if r.part("lot") == "" && NeedsLot(r.id) && !strings.HasPrefix(r.value, "{") {
				if l, ok := judge.CurrentLot(j, r.id, tested, used); ok {
					r.parts = append([]Field{{"lot", l.ID}}, r.parts...)
				}
			}
		}
	}
	d.Entries = nil
	for _, f := range journal.KindSession.Fields() {
		if v := said[f.Key]; v != "" {
			d.Entries = append(d.Entries, journal.Entry{Key: f.Key, Value: YAML(v)})
			delete(said, f.Key)
		}
	}
	for _, f := range d.Fields { // parts of mappings, as they were given
		if v, ok := said[f.Key]; ok {
			d.Entries = insert(d.Entries, strings.Split(f.Key, "."), YAML(v))
		}
	}
	var below []journal.Entry
	var parts []string
	for _, r := range readings {
		if strings.HasPrefix(r.value, "{") && len(r.parts) == 0 {
			below = append(below, journal.Entry{Key: r.id.String(), Value: YAML(r.value)})
			continue
		}
		below = append(below, r.entry())
		parts = append(parts, r.id.String()+" "+r.value)
	}
	d.Entries = append(d.Entries, journal.Entry{Key: "readings", Below: below})
	d.NameSession(site, sampled.In(zone))
	d.Subject = "Record " + d.ID + ": " + strings.Join(parts, ", ")
	return nil
}

// NameSession gives a session its id and its path: the day of sampling and the site.
func (d *Draft) NameSession(site string, sampled time.Time) {
	d.Kind = journal.KindSession
	d.Stem = journal.FormatDate(sampled) + "-" + site
	d.ID = Free(d.Journal, d.Kind, d.Stem)
	d.Path = fmt.Sprintf("sessions/%04d/%s.md", sampled.Year(), d.ID)
}

// sort parts the fields into those of the session and the readings.
func (d *Draft) sort() (said map[string]string, readings []*reading, err error) {
	said = map[string]string{}
	byID := map[water.ID]*reading{}
	for _, f := range d.Fields {
		head, rest, dotted := strings.Cut(f.Key, ".")
		if id, ok := water.LookupAnalyte(head); ok {
			r := byID[id]
			if r == nil {
				r = &reading{id: id}
				byID[id], readings = r, append(readings, r)
			}
			if !dotted || rest == "value" {
				r.value = f.Value
			} else {
				r.parts = append(r.parts, Field{rest, f.Value})
			}
			continue
		}
		if !hasField(journal.KindSession, head) || head == "readings" {
			known := water.AnalyteKeys()
			for _, s := range journal.KindSession.Fields() {
				known = append(known, s.Key)
			}
			return nil, nil, journal.Hint(spelling.HintOr(head, known, "an analyte or one of the session's fields"), "%q is neither an analyte nor a field of a session", head)
		}
		said[f.Key] = f.Value
	}
	for _, r := range readings {
		if r.value == "" {
			return nil, nil, journal.Hint("write "+r.id.String()+"=\"84 mg/L\" too", "%s has no value", r.id)
		}
		for i, p := range r.parts {
			if p.Key == "tested" {
				if r.parts[i], err = clock(journal.KindSession, Field{"tested", p.Value}, d.Now); err != nil {
					return nil, nil, err
				}
			}
		}
	}
	return said, readings, nil
}

// times reads when the sample was taken and tested, and fills in what was not said. tested is
// the moment by which person, meters and lots are chosen.
func (d *Draft) times(said map[string]string) (sampled, tested time.Time, err error) {
	read := func(key string, on time.Time) (time.Time, error) {
		f, err := clock(journal.KindSession, Field{key, said[key]}, on)
		if err != nil {
			return time.Time{}, err
		}
		said[key] = f.Value
		t, err := journal.ParseTime(f.Value)
		if err == nil && t.After(d.Now.Add(5*time.Minute)) {
			return t, journal.Hint("if it was yesterday, write the day too: "+key+"="+t.AddDate(0, 0, -1).Format("2006-01-02T15:04"),
				"%s: %s is ahead, it is %s now", key, t.Format("2006-01-02 15:04"), d.Now.Format("2006-01-02 15:04"))
		}
		return t, err
	}
	sampled = d.Now
	if said["sampled"] != "" {
		if sampled, err = read("sampled", d.Now); err != nil {
			return sampled, tested, err
		}
	}
	if said["tested"] != "" {
		tested, err = read("tested", sampled.In(d.Now.Location()))
		if said["sampled"] == "" {
			sampled = tested
		}
	} else if tested = sampled; said["source"] == "" || said["source"] == journal.SourceBench {
		if d.Now.Sub(sampled) <= atOnce {
			tested = d.Now
			said["tested"] = journal.FormatTime(d.Now)
		} else {
			d.Notes = append(d.Notes, "the record does not say when it was tested; tested=TIME adds it")
		}
	}
	if said["sampled"] == "" {
		said["sampled"] = journal.FormatTime(sampled)
	}
	return sampled, tested, err
}

// meters fills in the meter of the session, and for a reading that another one made, that.
func (d *Draft) meters(site string, said map[string]string, readings []*reading, on time.Time) {
	var ids []water.ID
	for _, r := range readings {
		if r.part("instrument") == "" && !strings.HasPrefix(r.value, "{") {
			ids = append(ids, r.id)
		}
	}
	main, other := Meters(d.Journal, site, ids, said["instrument"], on)
	if said["instrument"] == "" && main != "" {
		said["instrument"] = main
	}
	for _, r := range readings {
		if id := other[r.id]; id != "" && r.part("instrument") == "" {
			r.parts = append(r.parts, Field{"instrument", id})
		}
	}
}

// Meters are the meter that makes most of the tests of a session at a site, and for each test
// that it cannot make the meter that does. named is the session's meter where the person says
// it. A test that several meters can make goes to the one that made it here last; where none
// did, nobody is guessed.
func Meters(j *journal.Journal, site string, ids []water.ID, named string, on time.Time) (main string, other map[water.ID]string) {
	main, other = named, map[water.ID]string{}
	if main == "" {
		main = judge.CurrentInstrument(j, site, ids, on)
	}
	measures := func(id string, a water.ID) bool {
		in, ok := j.Instruments.Get(id)
		return ok && in.Measures[a] != nil
	}
	count := map[string]int{}
	for _, a := range ids {
		if measures(main, a) {
			continue
		}
		var fit []string
		for _, in := range j.Instruments.List {
			if in.Measures[a] != nil && in.Covers(on) && in.Void == nil {
				fit = append(fit, in.ID)
			}
		}
		meter := lastMeter(j, site, a, on)
		if !measures(meter, a) {
			meter = ""
		}
		if len(fit) == 1 {
			meter = fit[0]
		}
		if meter != "" {
			other[a] = meter
			count[meter]++
		}
	}
	if main == "" {
		for _, a := range ids { // the first of those that make most
			if m := other[a]; m != "" && count[m] > count[main] {
				main = m
			}
		}
	}
	for a, m := range other {
		if m == main {
			delete(other, a)
		}
	}
	return main, other
}

// lastMeter is the meter that tested the analyte at the site last, if it is still in use.
func lastMeter(j *journal.Journal, site string, a water.ID, on time.Time) string {
	meter, newest := "", time.Time{}
	for _, s := range j.Sessions.List {
		if s.Site != site || s.Void != nil || s.Sampled.After(on) || s.Sampled.Before(newest) {
			continue
		}
		if r, ok := s.Reading(a); ok {
			id := r.Instrument
			if id == "" {
				id = s.Instrument
			}
			if in, ok := j.Instruments.Get(id); ok && in.Covers(on) && in.Void == nil {
				meter, newest = id, s.Sampled
			}
		}
	}
	return meter
}

// NeedsLot reports whether a test of the analyte uses a reagent; a meter with a probe does not.
func NeedsLot(id water.ID) bool {
	return id != water.SampleTemperature && id != water.ElectricalConductivity && id != water.TurbidityValue
}
