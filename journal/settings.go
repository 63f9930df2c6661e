package journal

import (
	"fmt"
	"time"

	"wj/journal/frontmatter"
	"wj/water"
	"wj/water/substance"
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
	Reviewers       int
	OtherThanAuthor bool
	Proof           bool // sign-offs need the signer's own signature beside them
	GuardReviewers  int  // others who must sign a change of what everything is judged by
	ValidFor        time.Duration
	EmergencyReview time.Duration
	ReasonRequired  bool
	Required        []Required // who must sign some records besides
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
	x.each(0, func(key []byte, c int32) {
		switch string(key) {
		case "format":
			s.Format = x.integer(c)
		case "journal":
			s.Journal = x.fresh(c)
		case "name":
			s.Name = x.fresh(c)
		case "joined":
			for n := range d.Children(c) {
				var j Joined
				x.each(n, func(key []byte, c int32) {
					switch string(key) {
					case "prefix":
						j.Prefix = x.fresh(c)
					case "commit":
						j.Commit = x.fresh(c)
					case "by":
						j.By = x.fresh(c)
					}
				})
				if j.Prefix != "" {
					s.Joined = append(s.Joined, j)
				}
			}
		case "origin":
			s.Origin = x.origin(c)
		case "timezone":
			s.Timezone = x.fresh(c)
			if z, err := time.LoadLocation(s.Timezone); err == nil && s.Timezone != "" {
				s.Zone = z
			}
		case "units":
			s.Units = x.units(c)
		case "limits":
			s.Limits = x.limits(c)
		case "jurisdictions":
			s.Jurisdictions = x.texts(c)
		case "restricted":
			s.Restricted = x.restricted(c)
		case "policy":
			x.policy(c, &s.Policy)
		case "scale":
			x.each(c, func(key []byte, c int32) {
				switch string(key) {
				case "mass":
					s.Scale.Mass = x.quantity(c)
				case "volume":
					s.Scale.Volume = x.quantity(c)
				}
			})
		case "rounds":
			s.Rounds = map[string][]string{}
			x.each(c, func(key []byte, c int32) { s.Rounds[string(key)] = x.texts(c) })
		case "lint":
			s.Lint = x.lint(c)
		case "lint_for":
			s.LintFor = x.lintParts(c)
		case "rules":
			s.Rules = map[string]HouseRule{}
			x.each(c, func(key []byte, c int32) { s.Rules[string(key)] = x.houseRule(c) })
		}
	})
	return s
}

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

func (x *decoder) origin(i int32) *Origin {
	o := &Origin{}
	x.each(i, func(key []byte, c int32) {
		switch string(key) {
		case "commit":
			o.Commit = x.fresh(c)
		case "journal":
			o.Journal = x.fresh(c)
		case "files":
			o.Files = x.integer(c)
		case "by":
			o.By = x.fresh(c)
		case "on":
			o.On, _ = ParseTime(x.fresh(c))
		case "anchor":
			o.Anchor = x.fresh(c)
		}
	})
	return o
}

func (x *decoder) lintParts(i int32) []LintPart {
	var out []LintPart
	for c := range x.d.Children(i) {
		var p LintPart
		x.each(c, func(key []byte, c int32) {
			switch string(key) {
			case "sites":
				p.Sites = x.texts(c)
			case "paths":
				p.Paths = x.texts(c)
			case "lint":
				p.Lint = x.lint(c)
			}
		})
		out = append(out, p)
	}
	return out
}

func (x *decoder) houseRule(i int32) (r HouseRule) {
	x.each(i, func(key []byte, c int32) {
		switch string(key) {
		case "where":
			r.Where = x.fresh(c)
		case "severity":
			r.Severity = x.fresh(c)
		case "message":
			r.Message = x.fresh(c)
		case "help":
			r.Help = x.fresh(c)
		}
	})
	return r
}

func (x *decoder) restricted(i int32) map[string]Restriction {
	m := map[string]Restriction{}
	x.each(i, func(key []byte, c int32) {
		sub, ok := substance.ByKey(string(key))
		if !ok {
			return
		}
		var r Restriction
		x.each(c, func(key []byte, c int32) {
			switch string(key) {
			case "source":
				r.Source = x.fresh(c)
			case "where":
				r.Where = x.fresh(c)
			default:
				x.span(&r.Span, key, c)
			}
		})
		m[sub.Key] = r
	})
	return m
}

func (x *decoder) policy(i int32, p *Policy) {
	x.each(i, func(key []byte, c int32) {
		switch string(key) {
		case "proof":
			p.Proof = x.fresh(c) == "signature"
		case "guards":
			x.each(c, func(key []byte, c int32) {
				if string(key) == "reviewers" {
					p.GuardReviewers = x.integer(c)
				}
			})
		case "changes":
			x.each(c, func(key []byte, c int32) {
				switch string(key) {
				case "reviewers":
					p.Reviewers = x.integer(c)
				case "other_than_author":
					p.OtherThanAuthor = x.flag(c)
				case "valid_for":
					p.ValidFor = x.duration(c)
				case "emergency_review":
					p.EmergencyReview = x.duration(c)
				}
			})
		case "required":
			for item := range x.d.Children(c) {
				p.Required = append(p.Required, x.required(item))
			}
		case "amendments":
			x.each(c, func(key []byte, c int32) {
				if string(key) == "reason" {
					p.ReasonRequired = x.fresh(c) != "optional"
				}
			})
		}
	})
}

func (x *decoder) required(i int32) Required {
	r := Required{Reviewers: 1}
	lists := map[string]*[]string{"kinds": &r.Kinds, "owners": &r.Owners, "paths": &r.Paths, "stages": &r.Stages, "people": &r.People}
	x.each(i, func(key []byte, c int32) {
		switch list := lists[string(key)]; {
		case list != nil:
			*list = x.texts(c)
		case string(key) == "role":
			r.Role = x.fresh(c)
		case string(key) == "reviewers":
			r.Reviewers = x.integer(c)
		default:
			x.span(&r.Span, key, c)
		}
	})
	return r
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
