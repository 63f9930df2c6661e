package main

import (
	"bufio"
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"wj/journal/exchange"
)

// several exports several journals into one file or folder; each row says whose it is.
// No two owners meet in it unless that is asked for.
func (c *exportCmd) several(a *app) error {
	united := slices.Contains(exchange.UnitedFormats, c.As)
	if !united && c.As != "sqlite" && c.As != "parquet" || c.ChangedSince != "" {
		return withHint("wj -C "+a.shown(a.members[0].Dir)+" export --as "+c.As+" …; of several: --as sqlite, parquet, "+strings.Join(exchange.UnitedFormats, ", ")+" or ical", "this export is of one journal, and here are %d", len(a.members))
	}
	owners, ids := map[string]string{}, map[string]bool{} // names, by id
	var alike error
	meet := func(one *exportCmd) {
		for _, id := range one.owners {
			if was, there := owners[id]; there && was != one.names[id] && !c.AllOwners {
				alike = exchange.OneID(id, was, one.names[id])
			}
			owners[id], ids[id] = one.names[id], true
		}
	}
	apart := func() error { return cmp.Or(alike, exchange.Apart("export", ids, c.Owner, c.AllOwners)) }
	if united {
		return c.united(a, meet, apart)
	}
	list, err := across(a, func(a *app) ([]exchange.Source, error) {
		one := *c
		one.Owner = slices.Clone(c.Owner)
		s, err := one.source(a)
		meet(&one)
		return []exchange.Source{s}, err
	}, func(journals []string, list [][]exchange.Source) []exchange.Source {
		for i := range list {
			list[i][0].Name = journals[i]
		}
		return slices.Concat(list...)
	})
	if err == nil {
		err = apart()
	}
	if err != nil {
		return err
	}
	return c.write(a, list)
}

// united puts texts together that are exported one after another.
func (c *exportCmd) united(a *app, meet func(*exportCmd), apart func() error) error {
	folder, err := os.MkdirTemp("", "wj-export-*")
	if err != nil {
		return fmt.Errorf("export several journals: %w", err)
	}
	defer os.RemoveAll(folder)
	var names []string
	var parts []io.ReadSeeker
	if _, err := across(a, func(a *app) (*os.File, error) {
		one := *c
		one.Owner, one.Output = slices.Clone(c.Owner), ""
		f, err := os.CreateTemp(folder, "")
		if err == nil {
			out := bufio.NewWriter(f)
			a.stdout = out
			err = errors.Join(one.one(a), out.Flush())
		}
		meet(&one)
		return f, err
	}, func(journals []string, files []*os.File) *os.File {
		for _, f := range files {
			_, _ = f.Seek(0, io.SeekStart)
			parts = append(parts, f)
		}
		names = journals
		return nil
	}); err != nil {
		return err
	}
	if err := apart(); err != nil {
		return err
	}
	x := exchange.Export{Output: c.Output, Stdout: a.stdout}
	return x.United(c.As, names, parts)
}
