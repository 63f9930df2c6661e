package main

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"strings"

	"wj/journal/evidence"
	"wj/journal/overlay"
)

// id numbers the brews of a year: about 258 of them, most of which need no
// record of water.
func (b batch) id() string {
	return fmt.Sprintf("%s-%03d", b.day[:4], int(math.Round(float64(day(b.day).YearDay())*0.7066)))
}

func (b batch) path() string { return "batches/" + b.id() + ".md" }

// people who dosed and who read the labels with them.
func (b batch) hands() (dosed, witness string) {
	switch {
	case b.change == "2025-02-17-pale-lager-main-break":
		return "ines", "pia"
	case b.day < "2024-08-30":
		return "emil", "jonas"
	case b.day < "2025-03-01":
		return "jonas", "ines"
	}
	return "pia", "jonas"
}

// text writes the batch, in the morning without the mash and the remark.
func (b batch) text(morning bool, ignore []pair) string {
	var t strings.Builder
	fmt.Fprintf(&t, "---\nbeer: %s\nbrewed: %s\n", b.beer, b.day)
	if c := changeNamed(b.change); c != nil {
		fmt.Fprintf(&t, "change: %s\n", c.id)
		fmt.Fprintf(&t, "volume: %s L\nweighed:\n", plain(b.volume))
		width := 0
		for _, d := range c.add {
			width = max(width, len(d.substance)+1)
		}
		for _, d := range c.add {
			weighed := d.amount * b.volume / c.volume * (1 + 0.008*normal(b.day, d.substance))
			if b.id() == "2026-118" { // as the story tells it
				weighed = map[string]float64{gypsum: 207, calcium: 118, lactic: 74}[d.substance]
			}
			fmt.Fprintf(&t, "  %-*s {amount: %.0f %s, lot: %s}\n", width, d.substance+":", weighed, d.unit(), d.lot)
		}
		dosed, witness := b.hands()
		fmt.Fprintf(&t, "dosed_by: %s\nwitnessed_by: %s\n", dosed, witness)
	}
	if morning {
		return t.String() + "---\n"
	}
	fmt.Fprintf(&t, "mash_pH: {value: %s, temperature: 20 degC, after: 15 min, instrument: electrode-1}\n", b.mash)
	ignored(&t, ignore)
	t.WriteString("---\n")
	if b.body != "" {
		t.WriteString("\n" + b.body + "\n")
	}
	return t.String()
}

func (s signoff) path() string { return "signoffs/" + s.id + ".md" }

// rests lists the files that a sign-off covers.
func (s signoff) rests(where func(id string) string) []string {
	var out []string
	add := func(id string) {
		for _, have := range out {
			if have == where(id) {
				return
			}
		}
		out = append(out, where(id))
	}
	if c := changeNamed(s.of); c != nil {
		add(c.id)
		for _, b := range c.basis {
			add(b.session)
		}
		add(c.target)
	}
	for _, id := range s.covers {
		add(id)
	}
	return out
}

func (s signoff) text(covers []string, files map[string][]byte) (string, error) {
	var b strings.Builder
	settings := overlay.New(nil, map[string][]byte{"wj.yaml": files["wj.yaml"]})
	fmt.Fprintf(&b, "---\nof: %s\nby: %s\non: %s\ndecision: %s\nmeaning: %s\npolicy: %s\n", s.of, s.by, moment(clockTime(s.on[:10], s.on[11:])), s.decision, s.meaning, evidence.PolicyDigest(settings))
	if changeNamed(s.of) != nil {
		fmt.Fprintf(&b, "settings: %s\n", evidence.SettingsDigest(settings))
	}
	b.WriteString("covers:\n")
	for _, name := range covers {
		content, ok := files[name]
		if !ok {
			return "", fmt.Errorf("sign-off %s covers %s, which is not there", s.id, name)
		}
		fmt.Fprintf(&b, "  %s: %s\n", name, digest(content))
	}
	b.WriteString("---\n")
	if s.body != "" {
		b.WriteString("\n" + s.body + "\n")
	}
	return b.String(), nil
}

func digest(content []byte) string {
	sum := sha256.Sum256(content)
	return hex.EncodeToString(sum[:])
}
