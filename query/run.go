package query

import (
	"fmt"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"wj/journal"
	"wj/water"
	"wj/water/spelling"
)

// Request is a question to a journal. The zero Request asks for all sessions that are not void.
type Request struct {
	Where   *Expression // nil: all
	Columns []string    // expressions; none: id, sampled, site and the names that Where uses
	Units   map[string]water.Unit
	// Since and Until bound the sampling time: from Since up to, but not including, Until. A zero time is open.
	Since, Until time.Time
	Sort         []SortKey // none: by sampling time, then id
	Limit        int       // at most so many rows, after sorting; 0: all
	AllSamples   bool      // Reduce takes check standards, blanks and duplicates too; so does an expression that names sample
	IncludeVoid  bool      // also records that are void; so does an expression that names void
	Now          time.Time // what now, today, age and last count from; zero: the clock
	// Each, where it is set, gets each session that matches, one at a time and in no order, valid for the call; the
	// result then has no rows, so that memory does not grow with them.
	Each func(*journal.Session)
}

// SortKey is an expression to sort by. Sessions without its value come last.
type SortKey struct {
	By         string
	Descending bool
}

// Result is the answer: the rows, and how many sessions were left out and why, so that an empty answer is never
// mistaken for a good one.
type Result struct {
	Columns []Column
	Rows    []Row

	Counts

	// Aside is how many sessions of the rows Reduce left aside by the kind of their sample: those that are not the site's
	// water (check standards, blanks) or tell of one moment twice (duplicates). Nothing where the request names sample.
	Aside map[string]int

	// Notes say what is odd about the question: a site that the journal does not have.
	Notes []string

	j       *journal.Journal
	now     time.Time
	samples bool // the request names the kinds of sample that it wants
	by      []SortKey
	limit   int
}

// Counts are how many sessions of each kind a question met.
type Counts struct {
	Sessions   int // session files in the journal
	Outside    int // sampled outside Since and Until, or without a sampling time where one is asked for
	Void       int // void records that were not asked for
	Unreadable int // files without usable front matter, and sessions where a reading that decides could not be read
	Looked     int // sessions that the expression was asked of
	Matched    int // of those, how many it holds for: the rows before Limit
	Shown      int // the rows after Limit
	NoReading  int // of those, how many lack a reading that would decide
	Censored   int // of those, how many have only a bound ("<5") that does not decide
}

func (c *Counts) add(o Counts) {
	c.Sessions += o.Sessions
	c.Outside += o.Outside
	c.Void += o.Void
	c.Unreadable += o.Unreadable
	c.Looked += o.Looked
	c.Matched += o.Matched
	c.Shown += o.Shown
	c.NoReading += o.NoReading
	c.Censored += o.Censored
}

// Row is one session of a result, or one group after Reduce (Session is nil then).
type Row struct {
	Session *journal.Session
	Cells   []Cell

	keys []Cell
}

// Run answers a request. It reads the session files anew on every core unless the journal holds them in memory,
// and keeps only those that match. Errors are *Error for an expression, or say which column is not available.
func Run(j *journal.Journal, q Request) (*Result, error) {
	if q.Where == nil {
		q.Where, _ = Compile("")
	}
	if q.Now.IsZero() {
		q.Now = time.Now()
	}
	if len(q.Columns) == 0 {
		q.Columns = []string{"id", "sampled", "site"}
		for _, id := range q.Where.Analytes() {
			q.Columns = append(q.Columns, id.String())
		}
		q.Columns = append(q.Columns, q.Where.pairs...)
	}
	if err := checkUnits(q); err != nil {
		return nil, err
	}
	shown, err := columns(q.Columns, q.Units)
	if err != nil {
		return nil, err
	}
	var keys []*Column
	for _, key := range q.Sort {
		c, err := compileColumn(strings.TrimSpace(key.By), nil)
		if err != nil {
			return nil, fmt.Errorf("sort by %s: %w", key.By, err)
		}
		keys = append(keys, c)
	}
	out := &Result{j: j, now: q.Now, samples: q.AllSamples || q.Where.Uses("sample"), Notes: q.Where.Notes(j), by: q.Sort, limit: q.Limit}
	for _, c := range shown {
		out.Columns = append(out.Columns, *c)
	}
	out.collect(q, shown, keys)
	out.sort(q.Sort)
	if q.Limit > 0 && len(out.Rows) > q.Limit {
		out.Rows = out.Rows[:q.Limit:q.Limit]
	}
	out.Shown = len(out.Rows)
	return out, nil
}

// Matcher asks an expression of one session after another. It is not for several goroutines at once.
type Matcher struct {
	x   *Expression
	row *row
}

// Matcher begins to ask the sessions of a journal.
func (x *Expression) Matcher(j *journal.Journal, now time.Time) *Matcher {
	return &Matcher{x, newRow(j, now)}
}

// Holds reports whether the expression holds of a session: yes, and neither unsure, nor censored, nor absent.
func (m *Matcher) Holds(s *journal.Session) bool {
	m.row.set(s)
	return m.x.holds(m.row) == yes
}

// checkUnits refuses a unit for a column that is not shown.
func checkUnits(q Request) error {
	var wrong []string
	for name := range q.Units {
		if !slices.ContainsFunc(q.Columns, func(c string) bool { return strings.TrimSpace(c) == name }) {
			wrong = append(wrong, name)
		}
	}
	if len(wrong) == 0 {
		return nil
	}
	slices.Sort(wrong)
	return fmt.Errorf("unit of %s: there is no such column; %s", wrong[0], spelling.HintOr(wrong[0], q.Columns, "the columns are "+strings.Join(q.Columns, ", ")))
}

// tally is what one worker found.
type tally struct {
	Counts
	row  *row
	rows []Row
}

func (out *Result) collect(q Request, shown, keys []*Column) {
	void := q.IncludeVoid || q.Where.Uses("void")
	workers := make([]*tally, workerCount())
	var one sync.Mutex
	shared := &feeds{}
	out.Sessions = eachSession(out.j, func(worker int, s *journal.Session) {
		t := workers[worker]
		if t == nil {
			t = &tally{row: newRow(out.j, q.Now)}
			t.row.feeds = shared
			workers[worker] = t
		}
		switch {
		case s == nil:
			t.Unreadable++
			return
		case !void && s.Void != nil:
			t.Void++
			return
		case !q.Since.IsZero() && s.Sampled.Before(q.Since), !q.Until.IsZero() && (s.Sampled.IsZero() || !s.Sampled.Before(q.Until)):
			t.Outside++
			return
		}
		t.Looked++
		t.row.set(s)
		switch q.Where.holds(t.row) {
		case yes:
			t.Matched++
			if q.Each != nil {
				one.Lock()
				q.Each(s)
				one.Unlock()
				return
			}
			t.rows = append(t.rows, t.row.take(shown, keys))
		case absent:
			t.NoReading++
		case faulty:
			t.Unreadable++
		case censored:
			t.Censored++
		}
	})
	for _, t := range workers {
		if t == nil {
			continue
		}
		out.Rows = append(out.Rows, t.rows...)
		out.add(t.Counts)
	}
}

// take keeps a session that matched.
func (r *row) take(shown, keys []*Column) Row {
	out := Row{Cells: make([]Cell, len(shown))}
	for i, c := range shown {
		out.Cells[i] = r.cell(c)
	}
	if len(keys) > 0 {
		out.keys = make([]Cell, len(keys))
		for i, c := range keys {
			out.keys[i] = r.cell(c)
		}
	}
	out.Session = r.s.Clone()
	return out
}

func workerCount() int { return runtime.GOMAXPROCS(0) + 1 }

// eachSession goes through the sessions of a journal: those in memory where they were loaded, else the files, on
// every core. s is only valid during the call, and nil for a file that cannot be read. It returns their number.
func eachSession(j *journal.Journal, do func(worker int, s *journal.Session)) int {
	if len(j.Sessions.List) == 0 {
		return j.EachSession(func(worker, _ int, _ journal.File, s *journal.Session) { do(worker, s) })
	}
	n := 0
	for _, f := range j.Files {
		if f.Kind == journal.KindSession {
			n++
		}
	}
	for _, s := range j.Sessions.List {
		do(0, s)
	}
	for range n - len(j.Sessions.List) {
		do(0, nil)
	}
	return max(n, len(j.Sessions.List))
}

func (out *Result) sort(by []SortKey) {
	slices.SortStableFunc(out.Rows, func(a, b Row) int {
		for i, key := range by {
			if c := orderCells(a.keys[i], b.keys[i], key.Descending); c != 0 {
				return c
			}
		}
		if c := a.Session.Sampled.Compare(b.Session.Sampled); c != 0 {
			return c
		}
		return strings.Compare(a.Session.Path, b.Session.Path)
	})
}

// orderCells puts numbers in order, a bound beside its limit, then texts; what is missing comes last in any order.
func orderCells(a, b Cell, descending bool) int {
	if a.Missing != b.Missing {
		if a.Missing {
			return 1
		}
		return -1
	}
	c := 0
	switch {
	case a.Value < b.Value:
		c = -1
	case a.Value > b.Value:
		c = 1
	case a.Bound != b.Bound:
		c = int(a.Bound) - int(b.Bound)
	case !a.Number && !b.Number && a.Bound == water.Exact && a.Value == 0:
		c = strings.Compare(a.Text, b.Text)
	}
	if descending {
		return -c
	}
	return c
}

// Notes lists the texts of the expression that no record can match.
func (x *Expression) Notes(j *journal.Journal) []string {
	var notes []string
	for _, m := range x.mentions {
		var known []string
		if kind, ok := kinds[m.field]; ok {
			if j.Exists(kind, m.text) {
				continue
			}
			known = j.IDs(kind)
		} else if known = choices[m.field]; slices.Contains(known, m.text) {
			continue
		}
		note := fmt.Sprintf("the journal has no %s %q", m.field, shorten(m.text))
		switch m.field {
		case "by", "recorded_by":
			note = fmt.Sprintf("the journal has no person %q", shorten(m.text))
		case "source", "sample", "stage":
			note = fmt.Sprintf("%s is never %q", m.field, shorten(m.text))
		}
		if near := spelling.Hint(m.text, known); near != "" {
			note += "; " + near
		} else if len(known) > 0 && len(known) <= 12 {
			note += "; known are " + strings.Join(known, ", ")
		}
		if !slices.Contains(notes, note) {
			notes = append(notes, note)
		}
	}
	return notes
}

func unixIn(seconds int64, r *row) time.Time { return time.Unix(seconds, 0).In(r.zone) }
