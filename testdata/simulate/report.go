package main

import (
	"cmp"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"time"
)

// totals are what many seeds came to.
type totals struct {
	Seeds, Days, Facts, Acts, Calls int
	Merges, Sheets, Letters         int
	Refused, Backward, Lost         int
	Kinds                           map[string]*kindTotal
	False                           map[string]int // alarms without a cause, by rule
	Alarms                          int
	Covered                         map[string]*coverage
	Stated                          float64 // the sum of the chances
	Kept, Brewing, Doses            int
	Commands                        map[string]*timing
	Failures                        []string
	Wall                            time.Duration
	Faults                          map[string]int
	Bytes                           int64
}

// kindTotal counts one kind of mistake.
type kindTotal struct {
	Made, Gross, Caught, Found, FoundGross, InTime int
	Delay                                          []int
}

func newTotals() *totals {
	return &totals{Kinds: map[string]*kindTotal{}, False: map[string]int{}, Covered: map[string]*coverage{}, Commands: map[string]*timing{}, Faults: map[string]int{}}
}

// add counts a run. A mistake that the run ended before it had to be found does not count.
func (t *totals) add(s *sim) {
	l := &s.ledger
	t.Seeds, t.Days, t.Facts, t.Acts, t.Calls = t.Seeds+1, t.Days+s.day, t.Facts+len(l.facts), t.Acts+len(s.acts), t.Calls+s.calls
	t.Merges, t.Sheets, t.Letters, t.Refused = t.Merges+l.merges, t.Sheets+l.sheets, t.Letters+l.letters, t.Refused+l.refused
	t.Bytes += s.bytes
	t.Backward, t.Lost = t.Backward+l.backward, t.Lost+l.lost
	for _, m := range l.mistakes {
		if len(m.rules) == 0 || m.found == 0 && m.day+m.within >= s.day {
			continue
		}
		k := t.Kinds[m.kind]
		if k == nil {
			k = &kindTotal{}
			t.Kinds[m.kind] = k
		}
		k.Made++
		if m.gross {
			k.Gross++
		}
		switch {
		case m.caught:
			k.Caught++
		case m.found > 0:
			k.Found++
			k.Delay = append(k.Delay, m.found-m.day)
		}
		if m.found > 0 && m.gross {
			k.FoundGross++
			if m.found <= m.day+m.within {
				k.InTime++
			}
		}
	}
	for _, a := range l.alarms {
		t.Alarms++
		if a.cause == nil {
			t.False[a.rule]++
		}
	}
	for name, c := range l.covered {
		if t.Covered[name] == nil {
			t.Covered[name] = &coverage{}
		}
		t.Covered[name].In += c.In
		t.Covered[name].All += c.All
	}
	for _, d := range l.doses {
		t.Doses++
		t.Stated += d.stated
		if d.kept {
			t.Kept++
		}
		if d.brewing {
			t.Brewing++
		}
	}
	for name, c := range s.timing {
		t.command(name, c)
	}
	t.struck(l.faults)
}

// struck adds the faults.
func (t *totals) struck(faults map[string]int) {
	for name, n := range faults {
		t.Faults[name] += n
	}
}

func (t *totals) command(name string, c *timing) {
	if t.Commands[name] == nil {
		t.Commands[name] = &timing{}
	}
	t.Commands[name].N += c.N
	t.Commands[name].Spent += c.Spent
	t.Commands[name].Own += c.Own
	t.Commands[name].Git += c.Git
}

// join adds the counts of other runs.
func (t *totals) join(o *totals) {
	for _, pair := range [][2]*int{{&t.Seeds, &o.Seeds}, {&t.Days, &o.Days}, {&t.Facts, &o.Facts}, {&t.Acts, &o.Acts}, {&t.Calls, &o.Calls}, {&t.Merges, &o.Merges}, {&t.Sheets, &o.Sheets}, {&t.Letters, &o.Letters},
		{&t.Refused, &o.Refused}, {&t.Backward, &o.Backward}, {&t.Lost, &o.Lost}, {&t.Alarms, &o.Alarms}, {&t.Kept, &o.Kept}, {&t.Brewing, &o.Brewing}, {&t.Doses, &o.Doses}} {
		*pair[0] += *pair[1]
	}
	t.Stated, t.Bytes, t.Wall, t.Failures = t.Stated+o.Stated, t.Bytes+o.Bytes, t.Wall+o.Wall, append(t.Failures, o.Failures...)
	for name, k := range o.Kinds {
		into := t.Kinds[name]
		if into == nil {
			into = &kindTotal{}
			t.Kinds[name] = into
		}
		into.Made, into.Gross, into.Caught, into.Found, into.FoundGross, into.InTime = into.Made+k.Made, into.Gross+k.Gross, into.Caught+k.Caught, into.Found+k.Found, into.FoundGross+k.FoundGross, into.InTime+k.InTime
		into.Delay = append(into.Delay, k.Delay...)
	}
	for rule, n := range o.False {
		t.False[rule] += n
	}
	for name, c := range o.Covered {
		if t.Covered[name] == nil {
			t.Covered[name] = &coverage{}
		}
		t.Covered[name].In += c.In
		t.Covered[name].All += c.All
	}
	for name, c := range o.Commands {
		t.command(name, c)
	}
	t.struck(o.Faults)
}

// print writes the report.
func (t *totals) print(w io.Writer) {
	years := float64(t.Days) / 365
	fmt.Fprintf(w, "%d seeds, %.1f years, %d acts, %d commands, %d facts acknowledged\n", t.Seeds, years, t.Acts, t.Calls, t.Facts)
	fmt.Fprintf(w, "%d runs failed; %d conflicts resolved, %d sheets, %d letters, %d refusals; %d facts went with a laptop before they were pushed\n", len(t.Failures), t.Merges, t.Sheets, t.Letters, t.Refused, t.Lost)
	fmt.Fprintf(w, "%d batches judged unapproved by what was recorded later\n\n", t.Backward)

	rows := [][]string{{"mistake", "made", "at once", "by lint", "gross", "recall %", "in time %", "delay d"}}
	made, gross, found, inTime := 0, 0, 0, 0
	for _, name := range slices.Sorted(maps.Keys(t.Kinds)) {
		k := t.Kinds[name]
		made, gross, found, inTime = made+k.Made, gross+k.Gross, found+k.FoundGross, inTime+k.InTime
		rows = append(rows, []string{name, fmt.Sprint(k.Made), fmt.Sprint(k.Caught), fmt.Sprint(k.Found), fmt.Sprint(k.Gross), percent(k.FoundGross, k.Gross), percent(k.InTime, k.Gross), median(k.Delay)})
	}
	rows = append(rows, []string{"all", fmt.Sprint(made), "", "", fmt.Sprint(gross), percent(found, gross), percent(inTime, gross), ""})
	table(w, rows)

	noise := 0
	rows = [][]string{{"alarm without a cause", "number", "a year"}}
	for _, rule := range slices.SortedFunc(maps.Keys(t.False), func(a, b string) int { return cmp.Or(t.False[b]-t.False[a], strings.Compare(a, b)) }) {
		noise += t.False[rule]
		rows = append(rows, []string{rule, fmt.Sprint(t.False[rule]), fmt.Sprintf("%.2f", float64(t.False[rule])/years)})
	}
	rows = append(rows, []string{fmt.Sprintf("all, of %d alarms", t.Alarms), fmt.Sprint(noise), fmt.Sprintf("%.2f", float64(noise)/years)})
	table(w, rows)

	rows = [][]string{{"interval of 95 %", "of", "holds the truth %"}}
	for _, name := range slices.Sorted(maps.Keys(t.Covered)) {
		rows = append(rows, []string{name, fmt.Sprint(t.Covered[name].All), percent(t.Covered[name].In, t.Covered[name].All)})
	}
	table(w, rows)

	if t.Doses > 0 {
		table(w, [][]string{{"batches inside of their target", "%"}, {"stated", fmt.Sprintf("%.1f", 100*t.Stated/float64(t.Doses))},
			{"in the waters that were sampled", percent(t.Kept, t.Doses)}, {"in the waters of the day", percent(t.Brewing, t.Doses)}, {"batches", fmt.Sprint(t.Doses)}})
	}
	if len(t.Faults) > 0 {
		rows = [][]string{{"fault", "number"}}
		for _, name := range slices.Sorted(maps.Keys(t.Faults)) {
			rows = append(rows, []string{name, fmt.Sprint(t.Faults[name])})
		}
		table(w, rows)
	}
	fmt.Fprintf(w, "%.1f MB a journal with its history at the end, %.0f s a simulated year\n\n", float64(t.Bytes)/1e6/float64(max(t.Seeds, 1)), t.Wall.Seconds()/years)
	rows = [][]string{{"command", "number", "ms each", "own", "git"}}
	for _, name := range slices.Sorted(maps.Keys(t.Commands)) {
		c := t.Commands[name]
		rows = append(rows, []string{name, fmt.Sprint(c.N), fmt.Sprintf("%.0f", float64(c.Spent.Milliseconds())/float64(c.N)), fmt.Sprint(c.Own.Milliseconds()), fmt.Sprint(c.Git.Milliseconds())})
	}
	table(w, rows)
}

func percent(part, all int) string {
	if all == 0 {
		return "–"
	}
	return fmt.Sprintf("%.1f", 100*float64(part)/float64(all))
}

func median(days []int) string {
	if len(days) == 0 {
		return "–"
	}
	slices.Sort(days)
	return fmt.Sprintf("%d, most %d", days[len(days)/2], days[len(days)-1])
}

// table writes rows under a head.
func table(w io.Writer, rows [][]string) {
	width := make([]int, len(rows[0]))
	for _, row := range rows {
		for i, cell := range row {
			width[i] = max(width[i], len([]rune(cell)))
		}
	}
	for n, row := range rows {
		line := ""
		for i, cell := range row {
			pad := strings.Repeat(" ", width[i]-len([]rune(cell)))
			if i == 0 {
				line += cell + pad
			} else {
				line += "  " + pad + cell
			}
		}
		fmt.Fprintln(w, strings.TrimRight(line, " "))
		if n == 0 {
			fmt.Fprintln(w, strings.Repeat("─", len([]rune(line))))
		}
	}
	fmt.Fprintln(w)
}
