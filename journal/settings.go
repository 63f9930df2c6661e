package journal

import (
	"fmt"
	"reflect"
	"slices"
	"sync"
	"time"

	"wj/journal/frontmatter"
	"wj/water"
)

// SettingsFile marks the root of a journal.
const SettingsFile = "wj.yaml"

// Format is the version of the journal format that this program reads.
const Format = 1

// Settings are the contents of wj.yaml.
type Settings struct {
	Format        int
	Journal       string // its name among all journals; "" if not said
	Name          string
	Timezone      string
	Zone          *time.Location
	Units         map[water.ID]water.Unit
	Limits        map[water.ID]Limit
	Jurisdictions []string
	Restricted    map[string]Restriction // by the key of the substance
	Policy        Policy
	Scale         struct{ Mass, Volume water.Quantity }
	Lint          map[string]RuleSettings
	LintFor       []LintPart           // lint settings of a part of the journal; a later one wins
	Rules         map[string]HouseRule // the house's own lint rules, by name: house/iron
	Joined        []Joined             // other journals that were brought in
	Origin        *Origin              // the journal that it was split off from, nil where it is none
	Rounds        map[string][]string  // sites that are tested in one sitting, by the round's name
}

// Policy says who must review what. The zero Policy is not the default:
// DefaultPolicy is.
type Policy struct {
	Reviewers       int           `key:"changes.reviewers"`
	OtherThanAuthor bool          `key:"changes.other_than_author"`
	Proof           bool          `key:"-"`                // sign-offs need the signer's own signature beside them
	GuardReviewers  int           `key:"guards.reviewers"` // others who must sign a change of what everything is judged by
	ValidFor        time.Duration `key:"changes.valid_for"`
	EmergencyReview time.Duration `key:"changes.emergency_review"`
	ReasonRequired  bool          `key:"-"`
	Required        []Required    // who must sign some records besides
}

// Scope is a part of the records; an empty list limits nothing.
type Scope struct {
	Kinds  []string // folders, or wj.yaml
	Owners []string // whose water they are about
	Paths  []string // files and folders, * within one name, ** over folders
	Stages []string // of the sites that they are about
}

// Required says how many of whom must sign the records of a scope.
type Required struct {
	Span
	Scope
	People    []string
	Role      string // with People empty and no role, the reviewers
	Reviewers int
}

// DefaultPolicy is the two-person rule: one reviewer who is not the author,
// approvals for a year, emergencies reviewed within a day.
func DefaultPolicy() Policy {
	return Policy{Reviewers: 1, GuardReviewers: 1, OtherThanAuthor: true, ValidFor: 365 * 24 * time.Hour, EmergencyReview: 24 * time.Hour, ReasonRequired: true}
}

// Restriction keeps a substance out of beer, by the brewery's own list.
type Restriction struct {
	Span
	Where, Source string
}

// Origin is the journal that another one was split off from, as whoever did it says.
type Origin struct {
	Commit, Journal string // its last commit then, and the SHA-256 over its files
	Files           int
	By              string
	On              time.Time
	Anchor          string // the receipt of its last anchor, if any
}

// RuleSettings are what wj.yaml says of one lint rule.
type RuleSettings struct {
	Severity string            // "" if not said
	Values   map[string]string // thresholds, as written
}

// LintPart are lint settings for some sites, their sessions, or some files alone.
type LintPart struct {
	Sites, Paths []string // ids; files and folders, * within one name, ** over folders
	Lint         map[string]RuleSettings
}

// HouseRule is a lint rule of the house itself: an expression of the query language that
// must not hold of a session.
type HouseRule struct{ Where, Severity, Message, Help string }

// HousePrefix begins the name of a house rule.
const HousePrefix = "house/"

// DecodeSettings reads settings from a document; what it cannot read keeps its
// default.
func DecodeSettings(d *frontmatter.Document) Settings {
	s := Settings{Format: Format, Zone: time.Local, Policy: DefaultPolicy(), Lint: map[string]RuleSettings{}}
	if !d.OK() {
		return s
	}
	x := newDecoder()
	x.d = d
	x.fill(reflect.ValueOf(&s).Elem(), settingsPlan(), 0, 0)
	s.Joined = slices.DeleteFunc(s.Joined, func(j Joined) bool { return j.Prefix == "" })
	if z, err := time.LoadLocation(s.Timezone); err == nil && s.Timezone != "" {
		s.Zone = z
	}
	return s
}

var settingsPlan = sync.OnceValue(func() plan { return planFor(reflect.TypeFor[Settings](), KindSettings.Fields()) })

// lint reads what is said of rules: a severity, or a mapping with thresholds.
func (x *decoder) lint(i int32) map[string]RuleSettings {
	out := map[string]RuleSettings{}
	x.each(i, func(key []byte, c int32) {
		r := RuleSettings{}
		if x.d.Nodes[c].Kind == frontmatter.Scalar {
			r.Severity = x.fresh(c)
		}
		x.each(c, func(key []byte, c int32) {
			if string(key) == "severity" {
				r.Severity = x.fresh(c)
				return
			}
			if r.Values == nil {
				r.Values = map[string]string{}
			}
			r.Values[string(key)] = x.fresh(c)
		})
		out[string(key)] = r
	})
	return out
}

// take reads what is no yes or no in the file.
func (p *Policy) take(x *decoder, key string, node int32, _ water.ID) {
	switch key {
	case "proof":
		p.Proof = x.fresh(node) == "signature"
	case "amendments":
		if reason, ok := x.d.Child(node, "reason"); ok {
			p.ReasonRequired = x.fresh(reason) != "optional"
		}
	}
}

// setKey begins an item: one person must sign where nothing else is said.
func (r *Required) setKey([]byte) (water.ID, bool) {
	r.Reviewers = 1
	return 0, true
}

// checkSettings adds what the schema cannot say of wj.yaml.
func checkSettings(d *frontmatter.Document, out []Problem) []Problem {
	c := checker{d: d, path: SettingsFile, out: out}
	if i, ok := d.FindPath("timezone"); ok {
		if z := d.Text(i); z == "" || z == "Local" {
			c.report(RuleValue, i, "the time zone is not named", "write an IANA name such as Europe/Vilnius")
		} else if _, err := time.LoadLocation(z); err != nil {
			c.report(RuleValue, i, "\""+z+"\" is not a known time zone", "write an IANA name such as Europe/Vilnius")
		}
	}
	if i, ok := d.FindPath("format"); ok {
		if n, ok := digits(d.Text(i)); ok && n != Format {
			help := "use a newer wj"
			if n < Format {
				help = "wj migrate"
			}
			c.report(RuleValue, i, fmt.Sprintf("this journal has format %d, and this program reads format %d", n, Format), help)
		}
	}
	return c.out
}
