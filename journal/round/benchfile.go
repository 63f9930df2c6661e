package round

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/bench"
	"wj/journal/judge"
	"wj/water"
)

// fileHead is the first line of a file that the page for the telephone makes.
const fileHead = "wj bench 1"

// IsFile reports whether a text is what the page for the telephone makes.
func IsFile(src []byte) bool {
	line, _, _ := strings.Cut(string(src[:min(len(src), 64)]), "\n")
	return strings.TrimRight(line, "\r") == fileHead
}

// Fault is a line of such a file that cannot be taken, and why.
type Fault struct {
	Line    int
	Message string
}

// ReadFile reads a sitting that was typed on the page. Nothing is taken where a line has a fault: the sitting goes on on the
// telephone, or the line is edited. What cannot be a reading at all is a fault; what is doubtful is for the linter, as with
// a sitting at the terminal.
//
//	wj bench 1
//	round: monday
//	plan: 2026-09-21T08:00+03:00
//	by: ines
//	tap: town-main
//	sampled: 2026-09-21T08:06+03:00
//	reading: sulfate; 50 mg/L; dilution 2; lot SU-2604; at 2026-09-21T08:12+03:00
//	reading: chloride; 45 mg/L; first >250 mg/L; dilution 2; lot CL-2604; at 2026-09-21T08:15+03:00
//	not tested: alkalinity
//	note: the strip was old
//	photo: 9f86d08…  slip.jpg
//	end
func ReadFile(j *journal.Journal, src []byte, by string, now time.Time) (*Round, bench.State, []Fault) {
	f := &benchFile{j: j, now: now, s: bench.State{Version: bench.Version, By: by, Begun: now}}
	f.s.Phase = bench.Summary
	lines := strings.Split(strings.ReplaceAll(string(src), "\r\n", "\n"), "\n")
	ended := false
	for i, line := range lines[1:] {
		f.line = i + 2
		switch line = strings.TrimSpace(line); {
		case line == "":
		case ended:
			f.fault("there is text after the end")
		case line == "end":
			ended = true
		default:
			key, value, ok := strings.Cut(line, ": ")
			if !ok {
				f.fault("%q is not KEY: VALUE", line)
				continue
			}
			f.take(key, strings.TrimSpace(value))
		}
	}
	if !ended {
		f.line = len(lines)
		f.fault("the file breaks off: its last line is not \"end\". Share it again")
	}
	for i, t := range f.s.Taps {
		if f.s.Sampled[i].IsZero() {
			f.line = f.at[i]
			f.fault("%s has no time of sampling", t.Site)
		}
	}
	if len(f.s.Taps) == 0 && len(f.faults) == 0 {
		f.line = 1
		f.fault("there is no reading in it")
	}
	if len(f.faults) > 0 {
		return nil, f.s, f.faults
	}
	title := "round " + f.s.Name
	if len(f.s.Taps) == 1 {
		title = ""
	}
	r := Resume(j, &f.s, Options{Name: title, By: f.s.By, Now: now})
	for i := range f.s.Tests {
		e := &f.s.Tests[i]
		f.line = f.tested[e.Site+"."+e.Analyte]
		if len(e.Values) == 0 {
			continue
		}
		f.s.Current = i
		for _, d := range r.Judge(&f.s) {
			if d.Bars {
				f.fault("not possible: %s", d.Message)
			}
		}
	}
	f.s.Current = 0
	return r, f.s, f.faults
}

// benchFile is a file being read.
type benchFile struct {
	j      *journal.Journal
	now    time.Time
	s      bench.State
	line   int
	at     []int          // the line of each tap
	tested map[string]int // the line of each reading
	faults []Fault
}

func (f *benchFile) fault(format string, args ...any) {
	f.faults = append(f.faults, Fault{f.line, fmt.Sprintf(format, args...)})
}

func (f *benchFile) take(key, value string) {
	n := len(f.s.Taps) - 1
	if n < 0 && slices.Contains([]string{"sampled", "place", "reading", "not tested", "note", "photo"}, key) {
		f.fault("%s is before any tap", key)
		return
	}
	switch key {
	case "round":
		f.s.Name = value
	case "plan": // of when the page is, for whoever reads the file
	case "by":
		if value != "" {
			f.s.By = value
		}
	case "tap":
		id, err := f.j.ID(value, journal.KindSite)
		switch {
		case err != nil:
			f.fault("%s", err)
			id = value
		case slices.ContainsFunc(f.s.Taps, func(t bench.Tap) bool { return t.Site == id }):
			f.fault("%s is here twice", id)
		}
		tap := bench.Tap{Site: id}
		if site, ok := f.j.Sites.Get(id); ok && site.Place.Set {
			tap.Place = fmt.Sprintf("%.4f, %.4f", site.Place.Latitude, site.Place.Longitude)
		}
		f.s.Taps, f.at = append(f.s.Taps, tap), append(f.at, f.line)
		f.s.Sampled, f.s.Notes = append(f.s.Sampled, time.Time{}), append(f.s.Notes, nil)
	case "sampled":
		if t, ok := f.moment(value); ok {
			f.s.Sampled[n] = t
		}
	case "place":
		for part := range strings.SplitSeq(value, ",") {
			if _, err := strconv.ParseFloat(strings.TrimSpace(part), 64); err != nil {
				f.fault("%q is no place: latitude, longitude", value)
				return
			}
		}
		f.s.Taps[n].Place = value
	case "reading":
		f.reading(n, value)
	case "not tested":
		if id, ok := water.LookupAnalyte(value); ok {
			f.s.Tests = append(f.s.Tests, bench.Entry{Site: f.s.Taps[n].Site, Analyte: id.String(), Skipped: true})
		} else {
			f.fault("%q is no analyte", value)
		}
	case "note":
		f.s.Notes[n] = append(f.s.Notes[n], value)
	case "photo":
		sum, name, _ := strings.Cut(value, " ")
		if len(sum) != 64 || strings.Trim(sum, "0123456789abcdef") != "" {
			f.fault("the digest of a photo is 64 hexadecimal digits")
			return
		}
		f.s.Notes[n] = append(f.s.Notes[n], fmt.Sprintf("Photo %s, SHA-256 %s.", strings.TrimSpace(name), sum))
	default:
		f.fault("%q is not a line of a bench file", key)
	}
}

func (f *benchFile) moment(text string) (time.Time, bool) {
	t, err := journal.ParseTime(text)
	switch {
	case err != nil:
		f.fault("%q is no time with its offset, such as 2026-09-21T08:06+03:00", text)
	case t.After(f.now.Add(time.Minute)):
		f.fault("%s is ahead: it is %s now", text, journal.FormatTime(f.now))
	}
	return t, err == nil
}

// reading is "sulfate; 50 mg/L; dilution 2; lot SU-2604; at 2026-09-21T08:12+03:00"; replicates have a comma between them. What
// was beyond the range, and tested again on a diluted sample, stands as "first >200 mg/L", or "first >200 mg/L × 2".
func (f *benchFile) reading(tap int, value string) {
	parts := strings.Split(value, ";")
	id, ok := water.LookupAnalyte(strings.TrimSpace(parts[0]))
	if !ok || len(parts) < 2 {
		f.fault("%q is no analyte with its value", value)
		return
	}
	e := bench.Entry{Site: f.s.Taps[tap].Site, Analyte: id.String(), At: f.now, NoLot: true}
	if f.tested == nil {
		f.tested = map[string]int{}
	}
	if name := e.Site + "." + e.Analyte; f.tested[name] > 0 {
		f.fault("%s is here twice", id)
	} else {
		f.tested[name] = f.line
	}
	for text := range strings.SplitSeq(parts[1], ",") {
		quantities, err := bench.Read(strings.TrimSpace(text), &bench.Test{Analyte: id}, 0)
		if err != nil {
			f.fault("%s", err)
			continue
		}
		low, high := judge.Plausible(id)
		for _, q := range quantities {
			if v := id.Info().Standard(q); v < low || v > high {
				f.fault("not possible: %s of %s; it is from %g to %s", id, q, low, strings.TrimSpace(fmt.Sprintf("%g %s", high, id.Info().Unit)))
				continue
			}
			e.Values = append(e.Values, q.String())
		}
	}
	e.Fresh = len(e.Values)
	for _, part := range parts[2:] {
		key, word, _ := strings.Cut(strings.TrimSpace(part), " ")
		switch word = strings.TrimSpace(word); key {
		case "dilution":
			d, err := strconv.ParseFloat(word, 64)
			switch {
			case err != nil || !(d >= 1 && d <= 1000):
				f.fault("%q is no dilution from 1 to 1000", word)
			case d > 1 && !id.Dilutable():
				f.fault("%s cannot be found by dilution", id)
			case d > 1:
				e.Dilution = d
			}
		case "first":
			if try, ok := f.try(id, word); ok {
				e.Tries = append(e.Tries, try)
			}
		case "lot":
			if !f.j.Exists(journal.KindLot, word) {
				f.fault("there is no lot %q", word)
			}
			e.Lot, e.NoLot = word, false
		case "at":
			if t, ok := f.moment(word); ok {
				e.At = t
			}
		default:
			f.fault("%q is not part of a reading", strings.TrimSpace(part))
		}
	}
	f.s.Tests = append(f.s.Tests, e)
}

// try is a reading beyond the range, with the dilution that it was made at: ">200 mg/L × 2". It goes into the record's text.
func (f *benchFile) try(id water.ID, text string) (string, bool) {
	values, dilution, diluted := strings.Cut(text, " × ")
	try := bench.Entry{}
	over := false
	for one := range strings.SplitSeq(values, ",") {
		quantities, err := bench.Read(strings.TrimSpace(one), &bench.Test{Analyte: id}, 0)
		if err != nil {
			f.fault("%s", err)
			return "", false
		}
		for _, q := range quantities {
			try.Values, over = append(try.Values, q.String()), over || q.Bound == water.Above
		}
	}
	if diluted {
		d, err := strconv.ParseFloat(dilution, 64)
		if err != nil || !(d > 1 && d <= 1000) {
			f.fault("%q is no dilution from 1 to 1000", dilution)
			return "", false
		}
		try.Dilution = d
	}
	if !over {
		f.fault("%q was not beyond the range, which begins with >", text)
	}
	return try.Text(), over
}
