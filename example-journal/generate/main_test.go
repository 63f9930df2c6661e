package main

import (
	"bytes"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"wj/water"
)

// The folder holds what the program writes, byte for byte, and nothing else in
// the folders that are its own.
func TestFolderIsWhatTheProgramWrites(t *testing.T) {
	files, err := build()
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range files {
		got, err := os.ReadFile(filepath.Join("..", filepath.FromSlash(name)))
		if err != nil || !bytes.Equal(got, want) {
			t.Errorf("%s is not what the program writes (%v): go run ./example-journal/generate", name, err)
		}
	}
	for _, kind := range kinds {
		err := filepath.WalkDir(filepath.Join("..", kind), func(full string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			name, err := filepath.Rel("..", full)
			if _, ok := files[filepath.ToSlash(name)]; !ok {
				t.Errorf("%s is not written by the program", name)
			}
			return err
		})
		if err != nil {
			t.Error(err)
		}
	}
}

func TestEveryRunIsTheSame(t *testing.T) {
	first, err := build()
	if err != nil {
		t.Fatal(err)
	}
	again, err := build()
	if err != nil {
		t.Fatal(err)
	}
	if len(first) != len(again) {
		t.Errorf("%d files, then %d", len(first), len(again))
	}
	for name := range first {
		if !bytes.Equal(first[name], again[name]) {
			t.Errorf("%s differs from run to run", name)
		}
	}
}

// Every change meets its target at the time of its proposal, and the doses of
// the story come to the numbers that the story gives them.
func TestChangesMeetTheirTargets(t *testing.T) {
	j, _, err := compose()
	if err != nil {
		t.Fatal(err)
	}
	ranges := map[string]map[string][2]float64{
		"wicket-bitter": {"calcium": {90, 140}, "sulfate": {180, 240}, "chloride": {40, 80}, "residual_alkalinity": {-30, 10}},
		"pale-lager":    {"calcium": {35, 120}, "sulfate": {0, 100}, "chloride": {30, 110}, "residual_alkalinity": {-30, 25}},
		"dark-mild":     {"calcium": {60, 140}, "sulfate": {0, 180}, "chloride": {30, 90}, "residual_alkalinity": {0, 130}},
	}
	// From the story's own table: worked by hand from the formula sheet's salt
	// contributions (gypsum: 232.79 mg Ca and 557.93 mg SO4 per g; calcium
	// chloride dihydrate: 272.62 mg Ca and 482.29 mg Cl per g, all by molar mass).
	story := map[string]map[string]float64{
		"2023-11-08-wicket-bitter":             {"calcium": 126, "sulfate": 218, "residual_alkalinity": -18},
		"2026-06-11-wicket-bitter-less-gypsum": {"calcium": 121.7, "sulfate": 201.0, "chloride": 56.9, "residual_alkalinity": -14.8},
	}
	for i := range changes {
		c := &changes[i]
		values, _, err := c.expect(j.sessions)
		if err != nil {
			t.Fatal(err)
		}
		for key, between := range ranges[c.target] {
			if v := values[key]; v < between[0] || v > between[1] {
				t.Errorf("%s: %s %.1f is not within %v", c.id, key, v, between)
			}
		}
		for key, want := range story[c.id] {
			if v := values[key]; v < want-0.5 || v > want+0.5 {
				t.Errorf("%s: %s %.2f, the story has %.1f", c.id, key, v, want)
			}
		}
	}
}

// What the bench shows sums to the sodium that the story tells: 36 mg/L at the
// well for two years and 12 on the bad lot, as worked by hand in the story's
// table of waters.
func TestBadLotShowsInTheSodium(t *testing.T) {
	j, _, err := compose()
	if err != nil {
		t.Fatal(err)
	}
	low := 0
	for _, s := range j.sessions {
		if s.site != "north-well" || s.source != "" {
			continue
		}
		a, err := analysis(s)
		if err != nil {
			t.Fatal(err)
		}
		sodium := a.Number(water.Sodium)
		bad := s.reading("sulfate").lot == "SU-2507"
		if bad {
			low++
		}
		if bad && sodium > 20 || !bad && (sodium < 20 || sodium > 52) {
			t.Errorf("%s: derived sodium %.0f (bad lot: %v)", s.id, sodium, bad)
		}
	}
	if low != 3 {
		t.Errorf("%d sessions of the well on the bad lot, the story has three running", low)
	}
}
