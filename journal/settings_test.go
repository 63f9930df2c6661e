package journal

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"wj/journal/frontmatter"
	"wj/water"
)

// Every key of wj.yaml has its place in the settings, and what is not said keeps its default.
func TestDecodeSettings(t *testing.T) {
	decode := func(text string) Settings {
		var d frontmatter.Document
		d.ParseYAML([]byte(text))
		return DecodeSettings(&d)
	}
	s := decode(`format: 1
journal: quillmarsh-k7m3q9x2wd
name: Quillmarsh Brewery
timezone: Europe/Vilnius
joined:
  - {prefix: mill, commit: abc, by: ines, on: 2026-03-01T08:00+02:00}
  - {commit: lost}
origin: {commit: def, journal: sha, files: 12, anchor: receipt, by: jonas, on: 2026-03-02T08:00+02:00}
units: {alkalinity: dKH, nonsense: mg/L}
limits: {sulfate: {max: 250 mg/L, source: own}}
jurisdictions: eu
restricted: {lactic_acid: {source: law, where: home, since: 2020-01-01}, nonsense: {source: x}}
policy:
  proof: signature
  guards: {reviewers: 2}
  changes: {reviewers: 3, other_than_author: false, valid_for: 30 d, emergency_review: 2 d}
  amendments: {reason: optional}
  required:
    - {kinds: [lots, sites], owners: [q], paths: ["a/*"], stages: [intake], people: [ines], role: quality, reviewers: 2, since: 2026-01-01}
    - {kinds: [people]}
scale: {mass: 1 g, volume: 5 mL}
rounds: {monday: [main, well], friday: [ro]}
lint: {reagent/expired: off, limit/health: {severity: error, every: 3}}
lint_for: [{sites: main, paths: [x], lint: {unit/odd: info}}]
rules: {house/iron: {where: iron > 1, severity: error, message: too much, help: flush}}
`)
	zone, limit := s.Zone, s.Limits[water.Sulfate]
	s.Zone, s.Limits = nil, nil
	origin := *s.Origin
	s.Origin = nil
	got := fmt.Sprint(zone, limit.Max.Quantity, limit.Source, origin.On.UTC(), " ", origin.Commit, origin.Journal, origin.Files, origin.By, origin.Anchor, "\n") + fmt.Sprintf("%+v", s)
	want := `Europe/Vilnius 250 mg/Lown2026-03-02 06:00:00 +0000 UTC defsha12jonasreceipt
{Format:1 Journal:quillmarsh-k7m3q9x2wd Name:Quillmarsh Brewery Timezone:Europe/Vilnius Zone:UTC Units:map[alkalinity:dKH] Limits:map[] Jurisdictions:[eu] ` +
		`Restricted:map[lactic_acid:{Span:{Since:2020-01-01 00:00:00 +0000 UTC Until:0001-01-01 00:00:00 +0000 UTC} Where:home Source:law}] ` +
		`Policy:{Reviewers:3 OtherThanAuthor:false Proof:true GuardReviewers:2 ValidFor:720h0m0s EmergencyReview:48h0m0s ReasonRequired:false Required:[` +
		`{Span:{Since:2026-01-01 00:00:00 +0000 UTC Until:0001-01-01 00:00:00 +0000 UTC} Scope:{Kinds:[lots sites] Owners:[q] Paths:[a/*] Stages:[intake]} People:[ines] Role:quality Reviewers:2} ` +
		`{Span:{Since:0001-01-01 00:00:00 +0000 UTC Until:0001-01-01 00:00:00 +0000 UTC} Scope:{Kinds:[people] Owners:[] Paths:[] Stages:[]} People:[] Role: Reviewers:1}]} ` +
		`Scale:{Mass:1 g Volume:5 mL} Lint:map[limit/health:{Severity:error Values:map[every:3]} reagent/expired:{Severity:off Values:map[]}] ` +
		`LintFor:[{Sites:[main] Paths:[x] Lint:map[unit/odd:{Severity:info Values:map[]}]}] Rules:map[house/iron:{Where:iron > 1 Severity:error Message:too much Help:flush}] ` +
		`Joined:[{Prefix:mill Commit:abc By:ines}] Origin:<nil> Rounds:map[friday:[ro] monday:[main well]]}`
	if got != want {
		t.Errorf("%s\nnot\n%s", strings.ReplaceAll(got, "} ", "}\n"), strings.ReplaceAll(want, "} ", "}\n"))
	}
	if s := decode("name: x\n"); fmt.Sprint(s.Policy) != fmt.Sprint(DefaultPolicy()) || s.Zone != time.Local || s.Format != Format || s.Lint == nil || s.Origin != nil {
		t.Errorf("defaults: %+v", s)
	}
}
