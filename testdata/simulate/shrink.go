package main

import (
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
)

// shrink finds a shorter run that fails in the same way: the last day first, then acts are left out, halves before single ones (delta
// debugging: Zeller and Hildebrandt 2002). Each act has its own dice, so that leaving one out changes no other's luck.
func shrink(o options, first error, say func(string)) options {
	var f *failure
	if !errors.As(first, &f) {
		return o
	}
	want := kindOf(first)
	o.days = f.day + 1
	fails := func(skip map[string]bool) (*sim, bool) {
		tried := o
		tried.skip = skip
		s, err := simulate(tried)
		return s, err != nil && kindOf(err) == want
	}
	s, ok := fails(o.skip)
	if !ok {
		return o
	}
	acts := s.acts
	for size := (len(acts) + 1) / 2; size >= 1; size /= 2 {
		for at := 0; at < len(acts); {
			part := acts[at:min(at+size, len(acts))]
			skip := maps.Clone(o.skip)
			if skip == nil {
				skip = map[string]bool{}
			}
			for _, name := range part {
				skip[name] = true
			}
			if _, ok := fails(skip); ok {
				o.skip = skip
				acts = slices.Delete(slices.Clone(acts), at, min(at+size, len(acts)))
				say(fmt.Sprintf("%d acts left", len(acts)))
				continue
			}
			at += size
		}
	}
	o.only = acts
	return o
}

var particular = regexp.MustCompile(`[0-9]+|"[^"]*"`)

// kindOf is a failure without its numbers and names: two that have the same are taken for one.
func kindOf(err error) string {
	var f *failure
	if !errors.As(err, &f) {
		return err.Error()
	}
	words := strings.Fields(particular.ReplaceAllString(f.what, "#"))
	return strings.Join(words[:min(6, len(words))], " ")
}
