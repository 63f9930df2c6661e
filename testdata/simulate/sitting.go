package main

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"
)

// sample is a bottle from one tap, with what is to be read of it.
type sample struct {
	site     *site
	at       time.Time
	readings []reading
	slip     *mistake // what went wrong with it
}

// take draws a sample at a tap and reads it, without mistakes.
func (s *sim) take(st *site, when time.Time, keys []string) sample {
	out := sample{site: st, at: when}
	t := s.at(st.id, s.day)
	for _, key := range keys {
		x := testOf(key)
		var l *lot
		if x.reagent != "" {
			l = s.current(key)
		}
		r := s.read(x, t.truth(x.id), l, s.day, st.id)
		if l != nil {
			l.left--
		}
		out.readings = append(out.readings, r)
	}
	return out
}

// supplies opens lots before they run out or expire.
func (s *sim) supplies() error {
	var args, fresh []string
	for i := range tests {
		t := &tests[i]
		if t.reagent == "" {
			continue
		}
		l := s.current(t.key)
		if l != nil && l.left >= 12 && l.expires.After(at(s.day+12, 0, 0)) && !l.known {
			continue
		}
		l = s.open(t, s.day)
		if fresh = append(fresh, t.key); l.bad {
			s.badLot(l)
		}
		if len(args) > 0 {
			args = append(args, "+")
		} else {
			args = append(args, "new")
		}
		args = append(args, "lot", l.id, "analyte="+t.key, "expires="+date(l.expires), "received="+date(at(s.day, 0, 0)), "opened="+date(at(s.day, 0, 0)), "tests=50")
	}
	if len(args) == 0 {
		return nil
	}
	if _, err := s.must(s.person("ines"), at(s.day, 7, 0), args...); err != nil || s.day == 1 || s.day%28 == 3 {
		return err
	}
	_, err := s.standard(at(s.day, 7, 20), fresh) // a new lot is checked before it is used
	return err
}

// due are the sites to be tested on a day: fixed weekdays, so that leaving an act out moves none.
func (s *sim) due(owner string) []*site {
	var out []*site
	for i := range sites {
		st := &sites[i]
		if st.every > 0 && st.owner == owner && (s.day/7)%(st.every/7) == st.week {
			out = append(out, st)
		}
	}
	return out
}

// round tests the taps that are due: at the terminal, by the telephone, or typed in one by one.
func (s *sim) round() error {
	due := s.due("quillmarsh")
	if len(due) == 0 {
		return nil
	}
	r := dice(s.seed, "round", s.day)
	who := s.person([]string{"ines", "pia"}[r.IntN(2)])
	began := at(s.day, 8, r.IntN(30))
	var samples []sample
	for i, st := range due {
		samples = append(samples, s.take(st, began.Add(time.Duration(2*i)*time.Minute), st.tests))
	}
	s.slip(r, who, samples)
	switch p := r.Float64(); {
	case p < 0.5:
		return s.terminal(who, samples)
	case p < 0.7:
		return s.telephone(who, samples, r.IntN(8))
	case p < 0.85:
		return s.entered(who, samples)
	}
	for i := range samples {
		if err := s.typed(who, &samples[i], samples[i].at.Add(25*time.Minute), nil); err != nil {
			return err
		}
	}
	return nil
}

// terminal holds the sitting with wj round.
func (s *sim) terminal(who *person, samples []sample) error {
	var names []string
	for i := range samples {
		names = append(names, samples[i].site.id)
	}
	p := sitter{s: s, who: who, samples: samples, tried: map[string]int{}, kept: map[string]bool{}, dice: dice(s.seed, "sitter", s.day)}
	now := samples[len(samples)-1].at.Add(5 * time.Minute)
	r, err := s.wjWith(who, now, call{Args: []string{"round", "--plain", "--sites", strings.Join(names, ",")}, Ask: true, answer: p.answer})
	if err != nil {
		return err
	}
	if r.Status != 0 || p.lost != "" {
		return s.fail("wj round ended with %d: %s\n%s%s", r.Status, p.lost, r.Out, r.Talk)
	}
	for i := range samples { // what is not due at that hour is not asked for
		samples[i].readings = slices.DeleteFunc(samples[i].readings, func(y reading) bool { return !p.kept[samples[i].site.id+" "+y.key] })
	}
	return s.acknowledged(who, r, samples)
}

// entered records each sample at the bench with wj enter.
func (s *sim) entered(who *person, samples []sample) error {
	for i := range samples {
		x := &samples[i]
		var keys []string
		for k := range x.readings {
			keys = append(keys, x.readings[k].key)
		}
		p := sitter{s: s, who: who, samples: samples[i : i+1], tried: map[string]int{}, kept: map[string]bool{}, dice: dice(s.seed, "sitter", s.day, i)}
		args := []string{"enter", x.site.id, "--plain", "--sampled", x.at.Format("15:04"), "--tests", strings.Join(keys, ",")}
		r, err := s.wjWith(who, x.at.Add(12*time.Minute), call{Args: args, Ask: true, answer: p.answer})
		if err != nil {
			return err
		}
		if r.Status != 0 || p.lost != "" {
			return s.fail("wj enter ended with %d: %s\n%s%s", r.Status, p.lost, r.Out, r.Talk)
		}
		x.readings = slices.DeleteFunc(x.readings, func(y reading) bool { return !p.kept[x.site.id+" "+y.key] })
		if err := s.acknowledged(who, r, samples[i:i+1]); err != nil {
			return err
		}
	}
	return nil
}

// telephone brings the sitting as the page's text file, some days later.
func (s *sim) telephone(who *person, samples []sample, days int) error {
	var b strings.Builder
	fmt.Fprintf(&b, "wj bench 1\nround: sites\nby: %s\n", who.id)
	for i := range samples {
		x := &samples[i]
		fmt.Fprintf(&b, "tap: %s\nsampled: %s\n", x.site.id, iso(x.at))
		for k := range x.readings {
			r := &x.readings[k]
			fmt.Fprintf(&b, "reading: %s; %s", r.key, r.shown)
			if r.dilution > 1 {
				fmt.Fprintf(&b, "; dilution %d", r.dilution)
			}
			if r.lot != "" {
				fmt.Fprintf(&b, "; lot %s", r.lot)
			}
			fmt.Fprintf(&b, "; at %s\n", iso(x.at.Add(5*time.Minute)))
		}
	}
	b.WriteString("end\n")
	s.phone = append(s.phone, page{s.day + days, who, b.String(), samples})
	return nil
}

// page is a sitting that is still on a telephone.
type page struct {
	day     int
	who     *person
	text    string
	samples []sample
}

// online imports what came from telephones.
func (s *sim) online() error {
	var left []page
	for _, p := range s.phone {
		if p.day > s.day {
			left = append(left, p)
			continue
		}
		name := filepath.Join(s.dir, "bench.txt")
		if err := os.WriteFile(name, []byte(p.text), 0o644); err != nil {
			return err
		}
		r, err := s.must(p.who, at(s.day, 17, 0), "import", "bench", name)
		if err != nil {
			return err
		}
		if err := s.acknowledged(p.who, r, p.samples); err != nil {
			return err
		}
		if late := s.ledger.facts[len(s.ledger.facts)-1]; late.sampledDay < s.day {
			for i := range p.samples {
				s.ledger.mistakes = append(s.ledger.mistakes, &mistake{kind: "entered late", site: p.samples[i].site.id, record: date(p.samples[i].at) + "-" + p.samples[i].site.id,
					rules: []string{"sample/late-entry"}, day: s.day, within: 7, gross: true, by: p.who.id})
			}
		}
	}
	s.phone = left
	return nil
}

// typed records one sample with wj new.
func (s *sim) typed(who *person, x *sample, now time.Time, more []string) error {
	args := []string{"new", "session", x.site.id, "sampled=" + iso(x.at), "tested=" + iso(x.at.Add(5*time.Minute)), "by=" + who.id, "instrument=meter-1"}
	for i := range x.readings {
		r := &x.readings[i]
		args = append(args, r.key+"="+r.shown)
		if r.dilution > 1 {
			args = append(args, fmt.Sprintf("%s.dilution=%d", r.key, r.dilution))
		}
		if r.lot != "" {
			args = append(args, r.key+".lot="+s.labelled(who.clone, r))
		}
		if r.probe != "" {
			args = append(args, r.key+".instrument="+r.probe)
		}
	}
	r, err := s.must(who, now, append(args, more...)...)
	if err != nil {
		return err
	}
	return s.acknowledged(who, r, []sample{*x})
}

// labelled is the lot that a reading was made with, or where the clone does not know it yet, the newest that it knows.
func (s *sim) labelled(c *clone, r *reading) string {
	known := func(id string) bool {
		_, err := os.Stat(filepath.Join(c.dir, "lots", id+".md"))
		return err == nil
	}
	if list := s.lots[r.key]; !known(r.lot) {
		for _, l := range slices.Backward(list) {
			if known(l.id) {
				r.lot = l.id
				break
			}
		}
	}
	return r.lot
}

// acknowledged enters what the program said it wrote into the ledger.
func (s *sim) acknowledged(who *person, r reply, samples []sample) error {
	paths := lines(r.Out)
	for i := range samples {
		x := &samples[i]
		path := ""
		for _, p := range paths {
			if strings.HasPrefix(p, "sessions/") && strings.Contains(p, x.site.id) {
				path = p
			}
		}
		if path == "" {
			return s.fail("the session of %s was acknowledged without its path: %s%s", x.site.id, r.Out, r.Talk)
		}
		record := strings.TrimSuffix(filepath.Base(path), ".md")
		for k := range x.readings {
			y := &x.readings[k]
			if y.shown == "" {
				continue
			}
			s.ledger.facts = append(s.ledger.facts, &fact{site: x.site.id, sampled: iso(x.at), key: y.key, value: y.written(), truth: y.exact, record: record, day: s.day, sampledDay: y.day, home: who.clone, reading: y})
		}
		if m := x.slip; m != nil {
			m.record = record
			m.day = s.day
			s.ledger.mistakes = append(s.ledger.mistakes, m)
			x.slip = nil
		}
	}
	return nil
}

// sitter answers a sitting line by line, as somebody who has the samples before her.
type sitter struct {
	s       *sim
	who     *person
	samples []sample
	tried   map[string]int
	kept    map[string]bool // what was typed
	dice    interface{ Float64() float64 }
	lost    string // why she does not know what to type
}

func (p *sitter) answer(screen string) string {
	blocks := strings.Split(screen, "\n\n")
	text := blocks[len(blocks)-1]
	all := strings.Split(strings.TrimLeft(text, "\n"), "\n")
	head, prompt := all[0], all[len(all)-1]
	parts := strings.Split(head, " · ")
	var x *sample
	for i := range p.samples {
		for _, part := range parts {
			if part == p.samples[i].site.name {
				x = &p.samples[i]
			}
		}
	}
	if x == nil && len(p.samples) == 1 {
		x = &p.samples[0]
	}
	if p.tried[head+prompt]++; p.tried[head+prompt] > 6 {
		p.lost = "she cannot get on: " + screen
		return ""
	}
	switch {
	case strings.HasPrefix(prompt, "sampled earlier?"):
		if x == nil {
			break
		}
		return x.at.Format("15:04") + "\n"
	case strings.Contains(text, "enter record"), strings.Contains(text, "enter write"), strings.Contains(head, "summary"), strings.Contains(head, "Summary"):
		return "\n"
	}
	if x == nil {
		return "\n"
	}
	var r *reading
	for i := range x.readings {
		if parts[len(parts)-1] == strings.ReplaceAll(x.readings[i].key, "_", " ") {
			r = &x.readings[i]
		}
	}
	switch {
	case r == nil:
		return "s\n"
	case strings.Contains(text, "[k keep it") || strings.Contains(text, "k keep it"):
		if x.slip != nil && len(x.slip.keys) == 1 && r.shown != r.right && p.dice.Float64() < p.who.care { // she looks again, and sees it
			r.shown, r.dilution = r.right, r.diluted
			x.slip.caught, x.slip.found = true, p.s.day
			p.s.ledger.mistakes = append(p.s.ledger.mistakes, x.slip)
			x.slip.day = p.s.day
			x.slip = nil
			return strings.Fields(r.shown)[0] + "\n"
		}
		return "k\n"
	case dilutedIn(text) != r.dilution && r.id.Dilutable() && p.tried["d "+head] == 0:
		p.tried["d "+head]++
		return fmt.Sprintf("d %d\n", r.dilution)
	}
	p.kept[x.site.id+" "+r.key] = true
	return strings.Fields(r.shown)[0] + "\n"
}

// dilutedIn is the dilution that the screen names, 1 without one.
func dilutedIn(text string) int {
	n := 1
	if m := dilutedTimes.FindStringSubmatch(text); m != nil {
		fmt.Sscan(m[1], &n)
	}
	return n
}

var dilutedTimes = regexp.MustCompile(`sample diluted (\d+) times`)
