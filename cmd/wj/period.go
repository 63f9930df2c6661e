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
		if from, _, err = query.ParsePeriod(since, zone, a.now()); err != nil {
			return from, to, err
		}
	}
	if until != "" {
		if _, to, err = query.ParsePeriod(until, zone, a.now()); err != nil {
			return from, to, err
		}
		to = to.Add(-time.Second)
	}
	return from, to, nil
}
