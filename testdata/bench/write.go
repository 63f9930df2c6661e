package main

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"time"
)

// site is a sampling point of the invented brewery with the middle of its readings.
type site struct {
	id, stage                            string
	alkalinity, calcium, total           float64
	chloride, sulfate, pH, warm, upwards float64
}

var sites = []site{
	{"north-well", "intake", 118, 92, 138, 21, 260, 7.4, 9, 30},
	{"town-tap", "intake", 96, 80, 110, 18, 45, 7.7, 12, 0},
	{"carbon-outlet", "carbon-outlet", 95, 79, 109, 18, 44, 7.6, 12, 0},
	{"softener-outlet", "softener-outlet", 95, 8, 12, 19, 44, 7.7, 13, 0},
	{"ro-permeate", "ro-permeate", 8, 6, 9, 4, 6, 6.1, 14, 1},
	{"blend-tank", "blend-tank", 60, 50, 72, 14, 150, 7.1, 15, 10},
	{"hot-liquor", "hot-liquor", 70, 60, 85, 18, 150, 7.5, 18, 10},
	{"cold-liquor", "cold-liquor", 90, 76, 104, 18, 60, 7.6, 8, 2},
}

var people = []string{"ines", "jonas", "mara", "tomas"}

var notes = []string{
	"Clear, no smell. Sample from the cold tap after two minutes of running.",
	"Second sulfate strip after the first ran past the range; sample cut 1:1 with distilled water.",
	"Slightly cloudy at first, clear after a minute. Hose had been standing since the evening shift.",
	"Read twice because the first cuvette had a scratch. Both results are given.",
	"Temperature taken in the beaker, not in the stream. Meter zeroed before the series.",
	"Shared the bench with the yeast count, so the series took longer than usual.",
}

// write makes the journal with so many sites: 8 are dense, 400 wide. The same n and number of sites give the same bytes.
func write(dir string, n, wanted int) error {
	for i := len(sites); i < wanted; i++ {
		s := sites[i%8]
		s.id = fmt.Sprintf("%s-%d", s.id, i/8+1)
		sites = append(sites, s)
	}

	if _, err := os.Stat(dir); err == nil {
		return fmt.Errorf("write the journal to %s: it is there already; name a new folder", dir)
	}
	file := func(name, content string) error {
		full := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
			return err
		}
		return os.WriteFile(full, []byte(content), 0o644)
	}
	if err := file("wj.yaml", "format: 1\nname: Quillmarsh Brewery\ntimezone: Europe/Vilnius\n"); err != nil {
		return err
	}
	if err := file("owners/quillmarsh.md", "---\nname: Quillmarsh Brewery\nself: true\n---\n"); err != nil {
		return err
	}
	for _, p := range people {
		if err := file("people/"+p+".md", "---\nname: "+p+"\nsince: 2015-01-01\n---\n"); err != nil {
			return err
		}
	}
	for _, s := range sites {
		if err := file("sites/"+s.id+".md", fmt.Sprintf("---\nname: %s\nowner: quillmarsh\nstage: %s\n---\n", s.id, s.stage)); err != nil {
			return err
		}
	}
	meter := "---\nname: Photometer\nmeasures:\n  sulfate: {units: mg/L, range: [2 mg/L, 500 mg/L], resolution: 1 mg/L, accuracy: 5 mg/L + 8 %}\n---\n"
	if err := file("instruments/meter-2.md", meter); err != nil {
		return err
	}

	rng := rand.New(rand.NewPCG(2511, 850))
	lots := map[string]bool{}
	var b bytes.Buffer
	made := map[string]bool{}
	begin := time.Date(2016, 1, 4, 6, 0, 0, 0, time.UTC)
	zone, err := time.LoadLocation("Europe/Vilnius")
	if err != nil {
		return err
	}
	step := 10 * 365 * 24 * time.Hour / time.Duration(max(n, 1))
	for i := range n {
		at := begin.Add(time.Duration(i) * step).Truncate(time.Minute).In(zone)
		s := &sites[i%len(sites)]
		id := fmt.Sprintf("%s-%s-%d", at.Format("2006-01-02"), s.id, i)
		folder := filepath.Join(dir, "sessions", at.Format("2006"), at.Format("01"))
		if !made[folder] {
			if err := os.MkdirAll(folder, 0o755); err != nil {
				return err
			}
			made[folder] = true
		}
		b.Reset()
		session(&b, rng, s, at, i, lots)
		if err := os.WriteFile(filepath.Join(folder, id+".md"), b.Bytes(), 0o644); err != nil {
			return err
		}
	}
	for lot := range lots {
		analyte := map[string]string{"PH": "pH", "AL": "alkalinity", "CH": "calcium_hardness", "TH": "total_hardness", "CL": "chloride", "SU": "sulfate"}[lot[:2]]
		if err := file("lots/"+lot+".md", fmt.Sprintf("---\nanalyte: %s\nexpires: 20%s-%s\ntests: 50000\n---\n", analyte, fmt.Sprint(number(lot[3:5])+1), lot[5:7])); err != nil {
			return err
		}
	}
	return nil
}

func number(digits string) int { return int(digits[0]-'0')*10 + int(digits[1]-'0') }

// session writes one session. Readings wander through the year and, at the well, upwards over the years.
func session(b *bytes.Buffer, rng *rand.Rand, s *site, at time.Time, i int, lots map[string]bool) {
	years := at.Sub(time.Date(2016, 1, 1, 0, 0, 0, 0, time.UTC)).Hours() / 8766
	season := math.Sin(2 * math.Pi * years)
	quarter := time.Date(at.Year(), (at.Month()-1)/3*3+1, 1, 0, 0, 0, 0, time.UTC).Format("0601")
	lot := func(prefix string) string {
		lots[prefix+"-"+quarter] = true
		return prefix + "-" + quarter
	}
	around := func(middle, relative float64) float64 { return middle * (1 + relative*rng.NormFloat64()) }
	whole := func(v float64) string { return fmt.Sprintf("%.0f", max(v, 0)) }

	fmt.Fprintf(b, "---\nsite: %s\nsampled: %s\ntested: %s\nby: %s\ninstrument: meter-2\nplace: [54.6872, 25.2797]\nreadings:\n",
		s.id, at.Format("2006-01-02T15:04-07:00"), at.Add(8*time.Minute).Format("2006-01-02T15:04-07:00"), people[rng.IntN(len(people))])
	fmt.Fprintf(b, "  pH:               {value: %.2f, lot: %s}\n", s.pH+0.1*rng.NormFloat64(), lot("PH"))
	fmt.Fprintf(b, "  alkalinity:       {value: %s mg/L CaCO3, lot: %s}\n", whole(around(s.alkalinity, 0.04)), lot("AL"))
	fmt.Fprintf(b, "  calcium_hardness: {value: %s mg/L CaCO3, lot: %s}\n", whole(around(s.calcium, 0.04)), lot("CH"))
	fmt.Fprintf(b, "  total_hardness:   {value: %s mg/L CaCO3, lot: %s}\n", whole(around(s.total, 0.04)), lot("TH"))
	chloride := around(s.chloride, 0.06)
	switch {
	case chloride < 5:
		fmt.Fprintf(b, "  chloride:         {value: <5 mg/L, lot: %s}\n", lot("CL"))
	case i%7 == 0:
		fmt.Fprintf(b, "  chloride:         {value: [%s mg/L, %s mg/L], lot: %s}\n", whole(chloride), whole(chloride+1), lot("CL"))
	default:
		fmt.Fprintf(b, "  chloride:         {value: %s mg/L, lot: %s}\n", whole(chloride), lot("CL"))
	}
	if i%20 != 0 { // one in twenty has no sulfate
		sulfate := around(s.sulfate+s.upwards*years/2+10*season, 0.06)
		if sulfate > 200 {
			fmt.Fprintf(b, "  sulfate:          {value: %s mg/L, dilution: 2, lot: %s}\n", whole(sulfate/2), lot("SU"))
		} else {
			fmt.Fprintf(b, "  sulfate:          {value: %s mg/L, lot: %s}\n", whole(sulfate), lot("SU"))
		}
	}
	fmt.Fprintf(b, "  temperature:      %.1f degC\n---\n\n", s.warm+3*season+0.3*rng.NormFloat64())
	for b.Len() < 850 {
		b.WriteString(notes[rng.IntN(len(notes))])
		b.WriteByte('\n')
	}
}
