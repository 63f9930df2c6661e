package journaltest

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
)

// Generate makes a small journal by chance, and a moment at which to ask it: two
// sources, what is fed by them, limits of the journal and of sites with their first
// days, schedules, supply periods, recalled lots, every kind of sample, values
// beside and over limits and below the range, changes that are signed, refused,
// brewed with and verified, and roles that end.
func Generate(t testing.TB, r *rand.Rand) (files map[string]string, now time.Time) {
	g := &generator{Rand: r, files: Blend()}
	g.now = g.day(560).Add(time.Duration(g.IntN(200*24)) * time.Hour)
	g.settings()
	g.sites()
	g.sessions()
	g.decisions(t)
	return g.files, g.now
}

type generator struct {
	*rand.Rand
	files map[string]string
	now   time.Time
}

// often reports true in so many of a hundred cases.
func (g *generator) often(percent int) bool { return g.IntN(100) < percent }

// maybe is a text in so many of a hundred cases, else nothing.
func (g *generator) maybe(percent int, text string) string {
	if g.often(percent) {
		return text
	}
	return ""
}

func (g *generator) of(list ...string) string { return list[g.IntN(len(list))] }

// day is a morning so many days into the journal's time.
func (g *generator) day(n int) time.Time {
	return time.Date(2025, 1, 1, 8, g.IntN(50), 0, 0, time.FixedZone("", 2*3600)).AddDate(0, 0, n)
}

func date(t time.Time) string { return t.Format("2006-01-02") }

func moment(t time.Time) string { return t.Format("2006-01-02T15:04-07:00") }

// since is a first day around now, or none.
func (g *generator) since() string {
	return g.maybe(60, ", since: "+date(g.now.AddDate(0, 0, g.IntN(400)-300)))
}

func (g *generator) settings() {
	limits := g.maybe(50, fmt.Sprintf("  sulfate: {max: %d mg/L%s}\n", 60+g.IntN(120), g.since())) + g.maybe(30, "  nitrate: {max: 50 mg/L NO3}\n") + g.maybe(30, "  pH: {min: 6.8, max: 8.2"+g.since()+"}\n")
	if limits != "" {
		limits = "limits:\n" + limits
	}
	g.files["wj.yaml"] = "format: 1\nname: Quillmarsh Brewery\ntimezone: Europe/Vilnius\njurisdictions: " + g.of("eu", "who", "[eu, us]") + "\n" + limits +
		fmt.Sprintf("policy:\n  changes: {reviewers: %d, other_than_author: %t, valid_for: %d d, emergency_review: 24 h}\n", g.IntN(3), g.often(70), 30+g.IntN(300)) +
		"lint: {site/overdue: warning}\n"
	g.files["owners/tarrow-lane.md"] = "---\nname: Tarrow Lane\n---\n"
	end := g.now.AddDate(0, 0, g.IntN(200)-150)
	g.files["people/jonas.md"] = "---\nname: Jonas Welk\nemail: jonas@quillmarsh.example\nroles:\n  - {role: " + g.of("reviewer", "reviewer", "quality") + ", since: 2023-01-01" + g.maybe(40, ", until: "+date(end)) + "}\n---\n"
	g.files["people/pia.md"] = "---\nname: Pia Orlen\nemail: pia@quillmarsh.example\nroles:\n  - {role: reviewer, since: " + date(g.day(g.IntN(500))) + "}\n---\n"
}

func (g *generator) sites() {
	own := func(id string) string {
		if g.often(40) {
			return ""
		}
		return fmt.Sprintf("limits:\n  %s: {max: %d mg/L%s%s%s}\n", g.of("sulfate", "chloride"), 40+g.IntN(300), g.maybe(50, `, source: "own decision"`), g.maybe(50, ", severity: error"), g.since())
	}
	schedule := func() string {
		return g.maybe(80, "schedule:\n"+fmt.Sprintf("  - {every: %d d, analytes: [sulfate, pH]%s}\n", 5+g.IntN(60), g.since())+g.maybe(40, fmt.Sprintf("  - {every: %d h, analytes: [chloride]}\n", 12+g.IntN(100))))
	}
	supply := func() string {
		return g.maybe(50, fmt.Sprintf("supply:\n  - {since: 2024-01-01, until: %s, regime: reservoir}\n  - {since: %s, regime: wellfield}\n", date(g.day(300)), date(g.day(301))))
	}
	site := func(id, stage, more string) {
		g.files["sites/"+id+".md"] = "---\nname: " + id + "\nowner: " + g.of("quillmarsh", "quillmarsh", "tarrow-lane") + "\nstage: " + stage + "\n" + more + "---\n"
	}
	site("well", "intake", supply()+schedule()+own("well"))
	site("main", "intake", supply()+schedule()+own("main"))
	site("mixed", g.of("other", "carbon-outlet", "intake"), "fed_by: [main, well]\n"+schedule()+own("mixed"))
	site("ro", "ro-permeate", "fed_by: main\n")
	site("tank", "hot-liquor", own("tank"))
	if g.often(30) {
		at := g.day(150 + g.IntN(300))
		g.files["events/"+date(at)+"-replaced.md"] = "---\nsite: " + g.of("well", "main", "mixed") + "\non: " + date(at) + "\nwhat: pump and column replaced\nsort: replacement\nby: ines\n---\n"
	}
	g.files["lots/SU-1.md"] = fmt.Sprintf("---\nanalyte: sulfate\nexpires: %s\ntests: %d\n%s---\n", date(g.day(400+g.IntN(500))), 30+g.IntN(60), g.maybe(20, "finished: "+date(g.day(600))+"\n"))
	g.files["lots/SU-2.md"] = "---\nanalyte: sulfate\nexpires: 2028-12\ntests: 100\n" + g.maybe(50, "recalled: {on: "+date(g.day(g.IntN(700)))+", reason: reads low}\n") + "---\n"
	g.files["lots/CW-1.md"] = "---\nstandard: {sulfate: 100 mg/L, pH: 7.4}\nexpires: 2028-12\n---\n"
	g.files["methods/sulfate.md"] = "---\nname: Sulfate\nmeasures:\n  sulfate: {accuracy: 5 mg/L + 8 %}\nsteps:\n  - {do: Read it.}\n---\n"
}

// sessions are about three dozen at the sources and half as many at what they
// feed: water that is steady, steps, drifts or throws one reading.
func (g *generator) sessions() {
	for _, at := range []struct {
		site  string
		n     int
		level float64
	}{{"well", 30 + g.IntN(10), 120}, {"main", 24 + g.IntN(12), 60}, {"mixed", 22 + g.IntN(8), 90}, {"ro", 6, 3}, {"tank", 3, 150}} {
		kind, turn := g.of("steady", "steady", "step", "drift", "odd", "end"), 20+g.IntN(8)
		for i := range at.n {
			when := g.day(i*590/at.n + g.IntN(8))
			level := at.level
			switch {
			case kind == "step" && i >= turn, kind == "odd" && i == turn, kind == "end" && i == at.n-1:
				level *= 1.5
			case kind == "drift":
				level *= 1 + 0.02*float64(i)
			}
			g.session(at.site, when, level*(1+0.03*g.NormFloat64()))
		}
	}
	for i := range 4 + g.IntN(4) { // the tests are tested too
		when := g.day(40 + 90*i)
		g.files["sessions/"+date(when)+"-bench-check.md"] = "---\nsite: well\nsampled: " + moment(when) + "\nby: ines\ninstrument: meter-1\nsample: check-standard\n" + g.of("standard: {sulfate: 100 mg/L}\n", "standard_lot: CW-1\n", "standard: {sulfate: 90 mg/L}\nstandard_lot: CW-1\n") +
			fmt.Sprintf("readings:\n  sulfate: {value: %.0f mg/L, lot: SU-1}\n---\n", 100+12*g.NormFloat64())
	}
}

func (g *generator) session(site string, when time.Time, level float64) {
	sulfate := fmt.Sprintf("{value: %.1f mg/L, lot: %s}", level, g.of("SU-1", "SU-1", "SU-2"))
	switch {
	case g.often(5):
		sulfate = fmt.Sprintf("{value: [%.1f mg/L, %.1f mg/L], dilution: 2, lot: SU-1}", level/2, level/2+1)
	case g.often(4):
		sulfate = g.of(`"<5 mg/L"`, `{value: ">200 mg/L", lot: SU-1}`)
	}
	head := g.maybe(12, "source: "+g.of("lab", "utility")+"\n")
	switch {
	case g.often(4):
		head += "sample: blank\n"
	case g.often(4):
		head += "sample: verification\n"
	case g.often(3):
		head += "sample: check-standard\nstandard_lot: CW-1\n"
	case g.often(4):
		head += "void: {by: ines, on: " + moment(when.AddDate(0, 0, 1)) + ", reason: wrong tap}\n"
	}
	g.files["sessions/"+date(when)+"-"+site+".md"] = "---\nsite: " + site + "\nsampled: " + moment(when) + "\nby: ines\n" + g.maybe(60, "instrument: meter-1\n") + head +
		fmt.Sprintf("readings:\n  sulfate: %s\n  chloride: %.1f mg/L\n  pH: %s\n%s---\n", sulfate, level/3*(1+0.03*g.NormFloat64()), g.of(fmt.Sprintf("%.2f", 7.4+0.1*g.NormFloat64()), fmt.Sprintf("%.1f", 7.4+0.3*g.NormFloat64()), `{value: 7.1, dilution: 2}`),
			g.maybe(20, fmt.Sprintf("  nitrate: %d mg/L NO3\n", 20+g.IntN(45)))+g.maybe(10, fmt.Sprintf("  total_hardness: %d mg/L CaCO3\n", 200+g.IntN(50))))
}

// decisions are a few changes for one target, and what people made of them.
func (g *generator) decisions(t testing.TB) {
	var basis []string
	for _, site := range []string{"well", "ro"} {
		newest := ""
		for p := range g.files {
			if strings.HasPrefix(p, "sessions/") && strings.HasSuffix(p, "-"+site+".md") && !strings.Contains(g.files[p], "sample:") && !strings.Contains(g.files[p], "void:") && p < "sessions/"+date(g.day(500)) && p > newest {
				newest = p
			}
		}
		basis = append(basis, strings.TrimSuffix(strings.TrimPrefix(newest, "sessions/"), ".md"))
	}
	for i := range 1 + g.IntN(3) {
		proposed := g.day(505 + 10*i)
		id := date(proposed) + "-bitter"
		if i == 0 {
			delete(g.files, "changes/"+BlendChange+".md")
		}
		more := ""
		if i > 0 {
			more = g.maybe(60, "supersedes: "+date(g.day(505+10*(i-1)))+"-bitter\n")
		}
		g.files["changes/"+id+".md"] = "---\nfor: bitter\nauthor: " + g.of("ines", "ines", "jonas") + "\nproposed: " + date(proposed) + "\nbasis:\n  - {session: " + basis[0] + ", share: 60 %}\n  - {session: " + basis[1] + ", share: 40 %}\nvolume: 1500 L\n" +
			more + g.maybe(15, "emergency: {by: ines, on: "+moment(proposed.Add(time.Hour))+", reason: main break}\n") + g.maybe(6, "void: {by: ines, on: "+moment(proposed.AddDate(0, 0, 3))+", reason: typed twice}\n") +
			"add:\n  gypsum: {amount: 310 g, lot: GY-1}\nexpect:\n  sulfate: 190 ± 40 mg/L\n---\n"
		for k, by := range []string{"jonas", "pia", "ines"} {
			if on := proposed.AddDate(0, 0, 1+k); g.often(60) {
				decision := g.of("accepted", "accepted", "accepted", "refused", "proposed")
				Sign(t, g.files, id, by, moment(on), decision)
				if g.often(20) {
					Sign(t, g.files, id, by, moment(on.AddDate(0, 0, 3)), g.of("accepted", "refused"))
				}
			}
		}
		for k := range g.IntN(3) {
			brewed := proposed.AddDate(0, 0, k*g.IntN(90)+g.IntN(4))
			g.files[fmt.Sprintf("batches/2026-%d%d.md", i, k)] = "---\nbeer: bitter\nbrewed: " + g.of(date(brewed), moment(brewed)) + "\nchange: " + id + "\n---\n"
		}
		if g.often(30) {
			when := proposed.AddDate(0, 0, 6)
			g.files["sessions/"+date(when)+"-tank-v.md"] = "---\nsite: tank\nsample: verification\nchange: " + id + "\nsampled: " + moment(when) + "\nby: jonas\ninstrument: meter-1\nreadings:\n  sulfate: " + g.of("195", "310") + " mg/L\n---\n"
		}
	}
	if g.often(25) { // what was signed is edited afterwards
		p := "sessions/" + basis[0] + ".md"
		g.files[p] = strings.Replace(g.files[p], "by: ines", "by: jonas", 1)
	}
}
