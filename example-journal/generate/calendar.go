package main

import (
	"sort"
	"time"
)

// The days on which things are tested. Every list is plain data or a step and
// a few windows, so that a reader sees why a day is there.

// checkDays are the days on which the control set was run: every four weeks,
// and where a doubt or a new meter asked for it. New packs are opened then.
func checkDays() []string {
	days := []string{"2023-10-09"}
	days = append(days, every("2023-11-07", "2025-01-28", 28)...)
	days = append(days, "2025-02-11")
	days = append(days, every("2025-03-04", "2026-05-26", 28)...)
	return append(days, "2026-06-02", "2026-06-23", "2026-07-21", "2026-08-18", "2026-09-15")
}

// northWellDays: every four weeks on a check day, fortnightly in the first
// months, weekly while the limit was in question.
func northWellDays() []string {
	days := []string{"2023-10-10", "2023-10-24"}
	days = append(days, every("2023-11-07", "2025-01-28", 28)...)
	days = append(days, "2023-11-21", "2024-11-18", "2024-11-26", "2025-02-25")
	days = append(days, every("2025-04-01", "2026-03-31", 28)...)
	days = append(days, "2025-10-28", "2025-11-25", "2025-12-23", "2026-01-20", "2026-02-17", "2026-03-17")
	days = append(days, every("2026-04-14", "2026-06-30", 7)...)
	return unique(append(days, every("2026-07-07", "2026-09-15", 14)...))
}

// townMainDays: fortnightly, weekly around the seasonal switch.
func townMainDays() []string {
	days := every("2023-10-09", "2026-09-21", 14)
	for _, w := range [][2]string{
		{"2023-10-09", "2023-11-13"}, {"2024-04-22", "2024-06-10"}, {"2024-10-07", "2024-10-21"},
		{"2025-02-17", "2025-03-03"}, {"2025-04-28", "2025-05-26"}, {"2025-10-20", "2025-11-03"}, {"2026-04-27", "2026-06-08"},
	} {
		days = append(days, every(w[0], w[1], 7)...)
	}
	days = unique(append(days, "2026-09-21"))
	// 2024-11-18 is the day of the session that was filed under the wrong site.
	return without(days, "2024-11-18")
}

// pairDays: carbon outlet and permeate in the same hour, the first Thursday.
func pairDays() []string {
	var days []string
	for m := 0; m < 36; m++ {
		d := time.Date(2023, time.October+time.Month(m), 1, 12, 0, 0, 0, vilnius)
		for d.Weekday() != time.Thursday {
			d = d.AddDate(0, 0, 1)
		}
		days = append(days, d.Format("2006-01-02"))
	}
	days = without(days, "2023-10-05", "2026-01-01") // before the first round; a holiday
	return unique(append(days, "2023-10-12", "2026-01-08", "2026-03-12"))
}

// carbonDays: chlorine after the carbon between the pair days.
func carbonDays() []string {
	var days []string
	for _, d := range pairDays() {
		days = append(days, day(d).AddDate(0, 0, 14).Format("2006-01-02"))
	}
	days = append(days, "2025-07-31", "2025-08-14")
	return without(unique(days), pairDays()...)
}

// liquorDays: the hot liquor tank on the first Wednesday of the months in which
// the bitter is brewed.
func liquorDays() []string {
	var days []string
	for m := 2; m < 36; m++ {
		d := time.Date(2023, time.October+time.Month(m), 1, 12, 0, 0, 0, vilnius)
		for d.Weekday() != time.Wednesday {
			d = d.AddDate(0, 0, 1)
		}
		days = append(days, d.Format("2006-01-02"))
	}
	days = without(days, "2026-01-07", "2026-02-04", "2026-03-04", "2026-04-01", "2026-05-06", "2026-06-03")
	return without(days, "2026-07-01", "2026-08-05", "2026-09-02") // verified instead: the dose was new
}

// boreDays: the client's bore, the third Tuesday of every other month.
func boreDays() []string {
	var days []string
	for m := 3; m < 36; m += 2 {
		d := time.Date(2023, time.October+time.Month(m), 15, 12, 0, 0, 0, vilnius)
		for d.Weekday() != time.Tuesday {
			d = d.AddDate(0, 0, 1)
		}
		days = append(days, d.Format("2006-01-02"))
	}
	return days
}

// labDays are the outside laboratory's rounds and the sites that each covered.
var labDays = []struct {
	day, entered string
	sites        []string
}{
	{"2023-11-03", "2023-11-08", []string{"north-well", "town-main", "ro-permeate"}},
	{"2024-05-03", "2024-05-10", []string{"north-well", "town-main", "ro-permeate", "tarrow-bore"}},
	{"2024-11-08", "2024-11-14", []string{"north-well", "town-main", "ro-permeate"}},
	{"2025-01-31", "2025-02-06", []string{"ro-permeate"}},
	{"2025-05-09", "2025-05-13", []string{"north-well", "town-main", "ro-permeate", "tarrow-bore"}},
	{"2025-11-07", "2025-11-13", []string{"north-well", "town-main", "ro-permeate"}},
	{"2026-04-17", "2026-04-22", []string{"ro-permeate"}},
	{"2026-06-05", "2026-06-10", []string{"north-well", "town-main", "ro-permeate", "tarrow-bore"}},
}

func every(from, to string, days int) []string {
	var out []string
	for t := day(from); !t.After(day(to)); t = t.AddDate(0, 0, days) {
		out = append(out, t.Format("2006-01-02"))
	}
	return out
}

func unique(days []string) []string {
	sort.Strings(days)
	out := days[:0]
	for i, d := range days {
		if i == 0 || d != days[i-1] {
			out = append(out, d)
		}
	}
	return out
}

func without(days []string, drop ...string) []string {
	var out []string
	for _, d := range days {
		keep := true
		for _, x := range drop {
			keep = keep && d != x
		}
		if keep {
			out = append(out, d)
		}
	}
	return out
}
