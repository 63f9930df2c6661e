package main

import (
	"cmp"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"slices"
	"strings"
	"time"

	"wj/render"
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
	Processor                       time.Duration // of all processes
	Growth                          []growth      // by year of the journal
	Quarters                        []quarter     // by quarter of the journal
}

// growth is what linting the whole journal took in one of its years.
type growth struct {
	N, Records int
	Spent      time.Duration // processor time
	Memory     int64         // KiB
}

// quarter counts the alarms of a quarter of a year.
type quarter struct{ Days, Caused, False int }

// kindTotal counts one kind of mistake.
type kindTotal struct {
	Made, Gross, Caught, Found, FoundGross, InTime, Otherwise int
	Delay                                                     []int
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
		case m.found == 0 && m.noticed:
			k.Otherwise++
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
	t.Processor += s.processor
	for day := 0; day < s.day; day += 91 {
		t.quarter(day / 91).Days += min(91, s.day-day)
	}
	for _, a := range l.alarms {
		if a.cause == nil {
			t.quarter(a.day/91).False++
		} else {
			t.quarter(a.day/91).Caused++
		}
	}
	t.grow(s.growth)
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

func (t *totals) quarter(i int) *quarter {
	for len(t.Quarters) <= i {
		t.Quarters = append(t.Quarters, quarter{})
	}
	return &t.Quarters[i]
}

func (t *totals) grow(years []growth) {
	for year, g := range years {
		for len(t.Growth) <= year {
			t.Growth = append(t.Growth, growth{})
		}
		into := &t.Growth[year]
		into.N, into.Records, into.Spent, into.Memory = into.N+g.N, into.Records+g.Records, into.Spent+g.Spent, max(into.Memory, g.Memory)
	}
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
		into.Otherwise += k.Otherwise
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
	t.Processor += o.Processor
	t.grow(o.Growth)
	for i, q := range o.Quarters {
		into := t.quarter(i)
		into.Days, into.Caused, into.False = into.Days+q.Days, into.Caused+q.Caused, into.False+q.False
	}
}

// document is the report.
func (t *totals) document() render.Document {
	years := float64(t.Days) / 365
	d := render.Document{Title: "A brewery in a box"}
	d.Answer("%d runs of %.1f years together: %d acts, %d commands, %d facts acknowledged", t.Seeds, years, t.Acts, t.Calls, t.Facts)
	d.Answer("%d of the runs failed", len(t.Failures))
	d.Fact("work", "%d conflicts resolved, %d sheets, %d letters, %d refusals", t.Merges, t.Sheets, t.Letters, t.Refused)
	d.Fact("lost", "%d facts with a laptop, before they were pushed", t.Lost)
	d.Fact("later", "%d batches judged unapproved by what was recorded later", t.Backward)
	d.Fact("size", "%.1f MB a journal with its history at the end", float64(t.Bytes)/1e6/float64(max(t.Seeds, 1)))
	d.Fact("cost", "%.0f s of processor time for a simulated year: wj %.0f, the git that it starts %.0f, the rest the simulation and its own git", t.Processor.Seconds()/years, t.spent(false).Seconds()/years, t.spent(true).Seconds()/years)
	d.Table("", t.wanted(years))
	d.Table("Mistakes", t.mistakes())
	d.Table("Alarms without a cause", t.falseAlarms(years))
	if chart := t.quarters(); len(chart.Series) > 0 {
		d.Draw(chart.Drawing(80, 12), 12)
	}
	rows := sheet("interval of 95 %", ">of", ">holds the truth %")
	for _, name := range slices.Sorted(maps.Keys(t.Covered)) {
		c := t.Covered[name]
		state := render.Plain
		if share := float64(c.In) / float64(c.All); c.All >= 200 && share < 0.93 {
			state = render.Under
		} else if c.All >= 200 && share > 0.97 {
			state = render.Over
		}
		rows.Rows = append(rows.Rows, []render.Cell{{Text: strings.ReplaceAll(name, "_", " ")}, {Text: fmt.Sprint(c.All)}, {Text: percent(c.In, c.All), State: state}})
	}
	d.Table("Coverage", rows)
	rows = sheet("fault", ">number")
	for _, name := range slices.Sorted(maps.Keys(t.Faults)) {
		add(&rows, name, t.Faults[name])
	}
	d.Table("Faults", rows)
	rows = sheet("year", ">records", ">lint, ms", ">ms a record", ">memory, MiB")
	for year, g := range t.Growth {
		if g.N > 0 {
			ms := float64(g.Spent.Milliseconds()) / float64(g.N)
			records := float64(g.Records) / float64(g.N)
			add(&rows, year+1, fmt.Sprintf("%.0f", records), fmt.Sprintf("%.0f", ms), fmt.Sprintf("%.2f", ms/records), g.Memory>>10)
		}
	}
	d.Table("As the journal grows", rows)
	rows = sheet("command", ">number", ">wj, ms each", ">git, ms each")
	for _, name := range slices.Sorted(maps.Keys(t.Commands)) {
		c := t.Commands[name]
		each := func(d time.Duration) string { return fmt.Sprintf("%.0f", float64(d.Milliseconds())/float64(c.N)) }
		add(&rows, name, c.N, each(c.Own), each(c.Git))
	}
	d.Table("Processor time of the commands", rows)
	for _, text := range t.Failures {
		first, again, _ := strings.Cut(text, "\n  again: ")
		first, _, _ = strings.Cut(first, "\n")
		d.Paragraph("", "%.300s: %s", first, again)
	}
	return d
}

// wanted is what was to be reached, and what was.
func (t *totals) wanted(years float64) render.Table {
	gross, found, noise, outside, counted := 0, 0, 0, []string{}, 0
	for _, k := range t.Kinds {
		gross, found = gross+k.Gross, found+k.FoundGross
	}
	for _, n := range t.False {
		noise += n
	}
	for _, name := range slices.Sorted(maps.Keys(t.Covered)) {
		c := t.Covered[name]
		if share := float64(c.In) / float64(c.All); c.All >= 200 {
			if counted++; share < 0.93 || share > 0.97 {
				outside = append(outside, strings.ReplaceAll(name, "_", " "))
			}
		}
	}
	rows := sheet("of", "wanted", "reached")
	line := func(what, wanted, reached string, good bool) {
		state := render.Within
		if !good {
			state = render.Over
		}
		rows.Rows = append(rows.Rows, []render.Cell{{Text: what}, {Text: wanted}, {Text: reached, State: state}})
	}
	line("runs that failed", "0 of 1,000", fmt.Sprintf("%d of %d", len(t.Failures), t.Seeds), len(t.Failures) == 0 && t.Seeds >= 1000)
	line("gross mistakes found", "95 % and more", percent(found, gross)+" %", found*100 >= gross*95)
	line("alarms without a cause", "6 a year and fewer", fmt.Sprintf("%.1f a year", float64(noise)/years), float64(noise) <= 6*years)
	line("values covered in 93 to 97 %", "all", fmt.Sprintf("%d of %d counted 200 times", counted-len(outside), counted), len(outside) == 0 && counted > 0)
	if t.Doses > 0 {
		stated, kept := t.Stated/float64(t.Doses), float64(t.Kept)/float64(t.Doses)
		line("batches inside, waters as sampled", fmt.Sprintf("%.1f ± 2 %%, as stated", 100*stated), fmt.Sprintf("%.1f %% of %d", 100*kept, t.Doses), math.Abs(stated-kept) <= 0.02)
		line("batches inside, waters of the day", "", percent(t.Brewing, t.Doses)+" %", math.Abs(stated-float64(t.Brewing)/float64(t.Doses)) <= 0.02)
	}
	line("processor time of a simulated year", "under 5 s", fmt.Sprintf("%.0f s", t.Processor.Seconds()/years), t.Processor.Seconds() < 5*years)
	return rows
}

func (t *totals) mistakes() render.Table {
	rows := sheet("mistake", ">made", ">at once", ">by lint", ">otherwise", ">gross", ">recall %", ">in time %", ">median, days", ">most")
	made, gross, found, inTime := 0, 0, 0, 0
	for _, name := range slices.Sorted(maps.Keys(t.Kinds)) {
		k := t.Kinds[name]
		made, gross, found, inTime = made+k.Made, gross+k.Gross, found+k.FoundGross, inTime+k.InTime
		median, most := "–", "–"
		if n := len(k.Delay); n > 0 {
			slices.Sort(k.Delay)
			median, most = fmt.Sprint(k.Delay[n/2]), fmt.Sprint(k.Delay[n-1])
		}
		add(&rows, name, k.Made, k.Caught, k.Found, k.Otherwise, k.Gross, percent(k.FoundGross, k.Gross), percent(k.InTime, k.Gross), median, most)
	}
	add(&rows, "all", made, "", "", "", gross, percent(found, gross), percent(inTime, gross), "", "")
	return rows
}

func (t *totals) falseAlarms(years float64) render.Table {
	noise := 0
	rows := sheet("rule", ">number", ">a year")
	for _, rule := range slices.SortedFunc(maps.Keys(t.False), func(a, b string) int { return cmp.Or(t.False[b]-t.False[a], strings.Compare(a, b)) }) {
		noise += t.False[rule]
		add(&rows, rule, t.False[rule], fmt.Sprintf("%.2f", float64(t.False[rule])/years))
	}
	add(&rows, fmt.Sprintf("all, of %d alarms", t.Alarms), noise, fmt.Sprintf("%.2f", float64(noise)/years))
	return rows
}

// quarters charts the alarms over the age of a journal.
func (t *totals) quarters() render.Chart {
	chart := render.Chart{Title: "Alarms a year and brewery, over the age of the journal", Series: []render.Series{{Name: "with a cause"}, {Name: "without"}}}
	for i, q := range t.Quarters {
		if q.Days < 60 {
			continue
		}
		when := at(91*i+45, 12, 0)
		chart.Series[0].Points = append(chart.Series[0].Points, render.Point{At: when, Value: float64(q.Caused) * 365 / float64(q.Days)})
		chart.Series[1].Points = append(chart.Series[1].Points, render.Point{At: when, Value: float64(q.False) * 365 / float64(q.Days)})
	}
	if len(chart.Series[0].Points) < 2 {
		return render.Chart{}
	}
	return chart
}

// spent is the processor time of all commands, or of the git that they started.
func (t *totals) spent(git bool) (sum time.Duration) {
	for _, c := range t.Commands {
		if git {
			sum += c.Git
		} else {
			sum += c.Own
		}
	}
	return sum
}

// print writes the report.
func (t *totals) print(w io.Writer) {
	fmt.Fprint(w, render.Output{Width: 100}.Document(t.document()))
}

// The report stands between these lines of a Markdown file.
const reportBegins, reportEnds = "<!-- report -->\n", "<!-- end of report -->\n"

// keep puts the report into a Markdown file, with its date.
func (t *totals) keep(name string) error {
	src, err := os.ReadFile(name)
	if err != nil {
		return err
	}
	before, rest, begins := strings.Cut(string(src), reportBegins)
	_, after, ends := strings.Cut(rest, reportEnds)
	if !begins || !ends {
		return fmt.Errorf("%s has no place for the report: %q and %q", name, reportBegins, reportEnds)
	}
	var b strings.Builder
	t.print(&b)
	text := fmt.Sprintf("%s## What they came to, %s\n\n```text\n%s\n```\n\n%s", reportBegins, time.Now().Format("2 January 2006"), strings.TrimSpace(b.String()), reportEnds)
	return os.WriteFile(name, []byte(before+text+after), 0o644)
}

func percent(part, all int) string {
	if all == 0 {
		return "–"
	}
	return fmt.Sprintf("%.1f", 100*float64(part)/float64(all))
}

// sheet is a table with these heads; those that begin with > are flush right.
func sheet(heads ...string) (t render.Table) {
	for _, head := range heads {
		name, right := strings.CutPrefix(head, ">")
		t.Columns = append(t.Columns, render.Column{Head: name, Right: right})
	}
	return t
}

func add(t *render.Table, cells ...any) {
	row := make([]render.Cell, len(cells))
	for i, c := range cells {
		row[i].Text = fmt.Sprint(c)
	}
	t.Rows = append(t.Rows, row)
}
