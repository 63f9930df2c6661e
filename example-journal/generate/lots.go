package main

import (
	"fmt"
	"sort"
	"strings"
	"time"
)

// lot is a pack of reagent.
type lot struct {
	id, analyte              string
	received, opened, expire string
	used                     int
}

// known are the packs that the story names, by the day on which they were
// opened; the packs between follow from use.
var known = map[string]string{
	"SU 2025-07-22": "SU-2507", "SU 2025-10-14": "SU-2509", "SU 2026-01-06": "SU-2511", "SU 2026-05-26": "SU-2604",
	"PH 2025-11-11": "PH-2509", "AL 2026-01-06": "AL-2511", "CH 2025-11-11": "CH-2510", "TH 2025-11-11": "TH-2510", "CL 2026-01-06": "CL-2511",
	"AL 2026-05-26": "AL-2603", "CH 2026-04-28": "CH-2604", "TH 2026-04-28": "TH-2604", "CL 2026-05-26": "CL-2604",
}

const packSize = 50

// forms are how the reagents come.
var forms = map[string]string{"pH": "drops", "alkalinity": "tablet", "calcium_hardness": "sachet", "total_hardness": "sachet", "chloride": "strip", "sulfate": "sachet", "free_chlorine": "sachet", "total_chlorine": "sachet"}

// stock hands out lots: a new pack is opened on a check day, so that the
// control set is its first test, when the old one would not last to the next.
func stock(sessions []*session) []*lot {
	var lots []*lot
	for _, t := range tests {
		if t.lots == "" {
			continue
		}
		lots = append(lots, stockOf(t, sessions)...)
	}
	sort.Slice(lots, func(i, j int) bool { return lots[i].id < lots[j].id })
	return lots
}

func stockOf(t test, sessions []*session) []*lot {
	uses := func(from, to string) int { // tests from a day up to, not on, another
		n := 0
		for _, s := range sessions {
			if r := s.reading(t.key); r != nil && s.id[:10] >= from && s.id[:10] < to && r.instrument == "" {
				n += len(r.shown)
			}
		}
		return n
	}
	days := append(checkDays(), "9999")
	var out []*lot
	for i, d := range days[:len(days)-1] {
		var now *lot
		if len(out) > 0 {
			now = out[len(out)-1]
		}
		need := uses(d, days[i+1])
		name := known[t.lots+" "+d]
		noCheck := t.key == "sulfate" && (d == "2025-08-19" || d == "2025-09-16")
		if now == nil || name != "" || (now.used+need+2 > packSize && !noCheck) || d[:7] > day(now.opened).AddDate(0, 11, 0).Format("2006-01") {
			opened := day(d)
			if name == "" {
				name = t.lots + "-" + opened.AddDate(0, 0, -60).Format("0601")
			}
			now = &lot{id: name, analyte: t.key, opened: d,
				received: workday(opened.AddDate(0, 0, -20-whole(18, name, "received"))),
				expire:   opened.AddDate(0, 12+whole(3, name, "expires"), -opened.Day()+1).Format("2006-01")}
			if name == "SU-2511" {
				now.received, now.expire = "2025-12-02", "2026-11"
			}
			out = append(out, now)
		}
		now.used += need
	}
	for _, s := range sessions {
		r := s.reading(t.key)
		if r == nil || r.instrument != "" || s.site == "ro-permeate" && t.key == "pH" && s.id != "2026-06-09-ro-permeate" {
			continue
		}
		for _, l := range out {
			if s.id[:10] >= l.opened {
				r.lot = l.id
			}
		}
		if t.key == "sulfate" && s.id == "2025-10-14-bench" {
			r.lot = "SU-2507"
		}
	}
	return out
}

func workday(t time.Time) string {
	for t.Weekday() == time.Saturday || t.Weekday() == time.Sunday {
		t = t.AddDate(0, 0, -1)
	}
	if t.Before(day("2023-10-06")) {
		t = day("2023-10-06")
	}
	return t.Format("2006-01-02")
}

// spoilt tells the two packs that got wet.
func (l *lot) spoilt() bool { return l.id == "AL-2509" || l.id == "CL-2509" }

// text writes the lot's record as it stood when it arrived (stage 0), when it
// was opened (1), and at last (2).
func (l *lot) text(stage int) string {
	var b strings.Builder
	fmt.Fprintf(&b, "---\nanalyte: %s\nform: %s\nexpires: %s\nreceived: %s\n", l.analyte, forms[l.analyte], l.expire, l.received)
	if stage > 0 {
		fmt.Fprintf(&b, "opened: %s\n", l.opened)
	}
	switch {
	case l.id == "SU-2507" && stage > 1:
		b.WriteString("finished: 2025-10-14\n")
	case l.spoilt() && stage > 1:
		b.WriteString("finished: 2026-01-06\n")
	}
	fmt.Fprintf(&b, "tests: %d\n", packSize)
	switch {
	case l.id == "AL-2409" && stage > 1:
		b.WriteString("losses: 2\n")
	case l.spoilt() && stage > 1:
		fmt.Fprintf(&b, "losses: %d\n", packSize-l.used)
	}
	if l.id == "SU-2507" && stage > 2 {
		b.WriteString("recalled: {on: 2025-11-03, reason: \"maker's notice: reads about 18 % low\"}\n")
	}
	b.WriteString("---\n")
	switch {
	case l.id == "SU-2507" && stage > 2:
		b.WriteString("\nWithdrawn on 14 October when the 100 mg/L standard read 82 and 81; what was left went back with\nthe maker's notice. Every session on it keeps its readings as they were shown.\n")
	case l.id == "SU-2509" && stage > 0:
		b.WriteString("\nChecked against the 100 mg/L standard before first use: 99.\n")
	case l.spoilt() && stage > 1:
		b.WriteString("\nThe box stood in the wet behind the tank over the holidays. What was left was thrown away.\n")
	case l.id == "AL-2409" && stage > 1:
		b.WriteString("\nTwo portions lost: the box stood open next to the kettle. The rest checked well.\n")
	}
	return b.String()
}
