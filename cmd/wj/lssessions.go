package main

import (
	"cmp"
	"slices"
	"strconv"
	"time"

	"wj/journal"
	"wj/query/report"
	"wj/render"
)

// sessionRow is what a list shows of a session: a hundred thousand whole ones
// would fill the memory.
type sessionRow struct {
	sampled            int64 // Unix time
	at, site, by, what string
	readings           int32
	shown, unreadable  bool
}

// sessions lists the sessions in the order of sampling.
func (c *lsCmd) sessions(a *app, j *journal.Journal, in func(time.Time) bool) (*listing, error) {
	files := j.SessionFiles()
	rows := make([]sessionRow, len(files))
	j.EachSessionHead(func(_, i int, _ journal.File, h *journal.SessionHead) {
		if h == nil {
			rows[i].unreadable = true
			return
		}
		if c.Site != "" && h.Site != c.Site || !in(h.Sampled) {
			return
		}
		what := h.Source
		if h.Sample != journal.SampleRoutine {
			what += ", " + h.Sample
		}
		rows[i] = sessionRow{h.Sampled.Unix(), minuteText(h.Sampled), h.Site, h.By, report.MarkText(h.Void, what), int32(h.Readings), true, false}
	})
	type key struct {
		sampled int64
		row     int32
	}
	order, unreadable := make([]key, 0, len(rows)), 0
	for i := range rows {
		if rows[i].shown {
			order = append(order, key{rows[i].sampled, int32(i)})
		} else if rows[i].unreadable {
			unreadable++
		}
	}
	slices.SortFunc(order, func(a, b key) int { return cmp.Or(cmp.Compare(a.sampled, b.sampled), cmp.Compare(a.row, b.row)) })
	if unreadable > 0 {
		defer a.say("left out: %s unreadable (see wj lint)", journal.Count(unreadable, "session"))
	}
	if len(order) == 0 {
		a.say("no sessions")
		return nil, errFindings
	}
	return &listing{long: &render.List{Columns: heads("id", "sampled", "site", "by", "readings#", "what"), Count: len(order), Row: func(i int, texts []string) {
		n := order[i].row
		r := &rows[n]
		texts[0], texts[1], texts[2], texts[3], texts[4], texts[5] = files[n].ID, r.at, r.site, r.by, strconv.Itoa(int(r.readings)), r.what
	}}}, nil
}

// minuteText is t.Format("2006-01-02 15:04"), in a quarter of its time.
func minuteText(t time.Time) string {
	year, month, day := t.Date()
	if year < 0 || year > 9999 {
		return t.Format("2006-01-02 15:04")
	}
	hour, minute, _ := t.Clock()
	b := [16]byte{4: '-', 7: '-', 10: ' ', 13: ':'}
	for _, part := range [...]struct{ at, digits, value int }{{0, 4, year}, {5, 2, int(month)}, {8, 2, day}, {11, 2, hour}, {14, 2, minute}} {
		for i, v := part.at+part.digits-1, part.value; i >= part.at; i-- {
			b[i] = byte('0' + v%10)
			v /= 10
		}
	}
	return string(b[:])
}
