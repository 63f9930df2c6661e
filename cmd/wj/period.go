package main

import (
	"time"

	"wj/query"
)

// period reads --since and --until in the words of the query language: a day,
// a month, a quarter or a year stands for its first or last second in the
// journal's zone, and "last 90 d" for that long ago. An absent end is a zero time.
func (a *app) period(since, until string, zone *time.Location) (from, to time.Time, err error) {
	if since != "" {
		if from, _, err = query.ParsePeriod(since, zone, a.Now()); err != nil {
			return from, to, err
		}
	}
	if until != "" {
		if _, to, err = query.ParsePeriod(until, zone, a.Now()); err != nil {
			return from, to, err
		}
		to = to.Add(-time.Second)
	}
	return from, to, nil
}

// atFlag is --at of every command that reads.
type atFlag struct {
	At string `placeholder:"REV|DATE" help:"As it was then, by what was known then and as of that moment: a commit, a branch or a date."`
}

func (f atFlag) looksAt() (revision string, reads bool) { return f.At, true }

// reader is a command that may only read: then it works in a repository without
// a working tree too.
type reader interface {
	looksAt() (revision string, reads bool)
}

// asOf is which state a command looks at, and the day that it judges by, for
// those that only show.
type asOf struct {
	atFlag
	Now string `placeholder:"DATE" help:"Judge as of this day instead of today."`
}

// set moves the clock of the command to the last second of the day.
func (o asOf) set(a *app, zone *time.Location) error {
	if o.Now == "" {
		return nil
	}
	_, day, err := a.period("", o.Now, zone)
	if err != nil {
		return withHint("write it as --now 2026-10-01", "read --now: %w", err)
	}
	a.Now = func() time.Time { return day }
	return nil
}
