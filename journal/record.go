// Package journal holds what a water journal holds: records of every kind,
// read from plain Markdown files with front matter, with the place of every
// field, and written back without loss. It works on any fs.FS and needs no
// repository.
//
//	j, err := journal.Load(os.DirFS("brewery-water"), journal.Options{Sessions: true})
//	for _, s := range j.Sessions.List {
//		if r, ok := s.Reading(water.Sulfate); ok {
//			fmt.Println(s.ID, r.First) // 2026-03-11-town-main 112 mg/L, as typed
//		}
//	}
package journal

import (
	"slices"
	"time"

	"wj/water"
)

// Record is what every record has.
type Record struct {
	Kind        Kind
	ID          string // the file name without .md
	Path        string // from the journal's root, with forward slashes
	Amended     []Amendment
	Void        *Mark             // the whole record is wrong
	Ignore      map[string]string // silenced lint rules and why
	Attachments map[string]string // file → SHA-256
	Note        string
}

// Base is the record itself; it lets every kind be treated as a Record.
func (r *Record) Base() *Record { return r }

// Any is a record of any kind.
type Any interface{ Base() *Record }

// Amendment is one correction, as the file shows it.
type Amendment struct {
	Key, Was, By, Reason string
	On                   time.Time
}

// Mark is somebody's word about a record at a time: void, emergency, closed.
type Mark struct {
	By, Reason string
	On         time.Time
}

// Span is the days between which something is so; a zero time is open.
type Span struct{ Since, Until time.Time }

// Covers reports whether the day of t (in t's own zone) is inside the span.
func (s Span) Covers(t time.Time) bool {
	day := Day(t)
	return (s.Since.IsZero() || !day.Before(s.Since)) && (s.Until.IsZero() || !day.After(s.Until))
}

// Day is the day of t in its own zone, as midnight UTC.
func Day(t time.Time) time.Time {
	y, m, d := t.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// Place is a point on WGS 84, in degrees.
type Place struct {
	Latitude, Longitude float64
	Set                 bool
}

// Person is who tests, brews or reviews.
type Person struct {
	Record
	Span
	Name  string
	Email []string
	Roles []Role
	Keys  []Key
}

// Role is what a person may do, and when.
type Role struct {
	Span
	Role    string
	Methods []string
	Scope   // a reviewer's: for these records alone
}

// Key is a public key that a person signs with.
type Key struct {
	Span
	Key     string
	Revoked *Mark // On and Reason
}

// Owner is whose water it is.
type Owner struct {
	Record
	Span
	Name  string
	Email []string
	Units map[water.ID]water.Unit
	Self  bool
}

// Site is a sampling point.
type Site struct {
	Record
	Span
	Name     string
	Owner    string      `key:"-"`     // of now: the last entry
	Owners   []SiteOwner `key:"owner"` // in the order of their days, where the site changed hands
	Stage    string
	FedBy    []string
	Place    Place
	Radius   float64 // m; 0 if not said
	Capacity water.Quantity
	Reject   water.Quantity // of its feed
	Price    string         // "2.40 EUR/m3"
	Schedule []Schedule
	Limits   map[water.ID]Limit
	Supply   []Supply
}

// SiteOwner is whose water a site's is from a day on.
type SiteOwner struct {
	Span
	Owner string
}

// OwnerAt is whose water it was at a time: results stay with the owner of
// their day.
func (s *Site) OwnerAt(t time.Time) string {
	if len(s.Owners) == 0 {
		return s.Owner
	}
	at := s.Owners[0].Owner
	for _, o := range s.Owners {
		if !o.Since.IsZero() && Day(t).Before(o.Since) {
			break
		}
		at = o.Owner
	}
	return at
}

// OwnedBy reports whether a site was ever an owner's.
func (s *Site) OwnedBy(owner string) bool {
	return s.Owner == owner || slices.ContainsFunc(s.Owners, func(o SiteOwner) bool { return o.Owner == owner })
}

// Schedule is what is tested how often at a site.
type Schedule struct {
	Span
	Every    time.Duration
	Analytes []water.ID
}

// Supply is a period of one supply regime.
type Supply struct {
	Span
	Regime, Evidence string
}

// Limit is a bound on a value, in the analyte's standard unit.
type Limit struct {
	Min, Max       Bounded
	Source, Action string
	Reason         string // why the brewery sets it
	Severity       string
	Since          time.Time
}

// Bounded is a quantity that may be absent.
type Bounded struct {
	water.Quantity
	Set bool
}

// Lot is a lot of a reagent, a check standard or an additive.
type Lot struct {
	Record
	Analytes                            []water.ID `key:"analyte"`
	Form, Substance                     string
	Standard                            map[water.ID]water.Quantity
	Expires, Received, Opened, Finished time.Time
	Tests, Losses                       int
	Amount                              water.Quantity
	Assay                               water.Quantity
	Strength, Grade, Price, Supplier    string
	Recalled                            *Mark
}

// Instrument is a meter.
type Instrument struct {
	Record
	Span
	Name, Serial, Sort string
	Measures           map[water.ID]*Measures
	Resolution         water.Quantity
}

// Measures is what a meter or method can show for one analyte.
type Measures struct {
	Units         []water.Unit
	Low, High     Bounded
	Resolution    Bounded
	Accuracy      water.Accuracy // standard unit
	HasAccuracy   bool
	Repeatability water.Accuracy
	Method        string
}

// Method is a written test procedure.
type Method struct {
	Record
	Span
	Name, Principle string
	Analytes        []water.ID `key:"analyte"`
	Measures        map[water.ID]*Measures
	Steps           []Step
	Interferences   []Interference
	EndPoint        float64 // pH at which a titration of alkalinity ends; 0 where it says none
	StaleAfter      time.Duration
}

// Step is one step of a method.
type Step struct {
	Do        string
	Wait, Mix time.Duration
}

// Interference is what disturbs a method.
type Interference struct {
	Analyte        water.ID
	HasAnalyte     bool
	Above          water.Quantity
	Effect, Remedy string
}

// Session is a test session: one site, one sampling moment, all its readings.
type Session struct {
	Record
	Site, By, RecordedBy, Instrument string
	Sampled, Tested                  time.Time
	Place                            Place
	Source                           string // bench, lab or utility
	Laboratory                       string
	Sample                           string // routine, check-standard, blank, duplicate or verification
	Standard                         map[water.ID]water.Quantity
	StandardLot                      string
	DuplicateOf, Change, Batch       string
	Readings                         []Reading
}

// Reading is one result of a session, as the meter showed it.
type Reading struct {
	Analyte                 water.ID
	First                   water.Quantity   // the value, or the first replicate
	More                    []water.Quantity // further replicates
	Dilution                float64          // as written, 1 if absent; Factor is what it multiplies
	Lot, Instrument, Method string
	Tested                  time.Time
	Temperature             water.Quantity
	Note                    string
	Tests                   int  // taken from the lot, where that is more than its replicates; 0 if not said
	Faulty                  bool // the value could not be read: it is an error elsewhere and never a number
}

// Replicates is how many results the reading has.
func (r *Reading) Replicates() int { return 1 + len(r.More) }

// Taken is how many tests of its lot the reading took: one for each replicate, or
// as many as it says, such as a first one that ran past the range before the
// sample was diluted.
func (r *Reading) Taken() int { return max(r.Tests, r.Replicates()) }

// Analytes are the names of the readings.
func (s *Session) Analytes() (set water.Set) {
	for i := range s.Readings {
		set.Add(s.Readings[i].Analyte)
	}
	return set
}

// Reading finds the session's reading of an analyte.
func (s *Session) Reading(id water.ID) (*Reading, bool) {
	for i := range s.Readings {
		if s.Readings[i].Analyte == id {
			return &s.Readings[i], true
		}
	}
	return nil, false
}

// Target is the water that a beer wants.
type Target struct {
	Record
	Span
	Name, Owner string
	Ranges      []Range
	Grist       []Malt
	Liquor      water.Quantity
	MashLiquor  water.Quantity
}

// Range is what one value should be. Mash is true for the mash pH, whose
// values are kept as pH.
type Range struct {
	Analyte       water.ID
	Mash          bool
	Min, Max, Aim Bounded
	Weight        float64
}

// Malt is one malt of a grist.
type Malt struct {
	Malt        string
	Mass        water.Quantity
	DistilledPH float64 `key:"distilled_pH"` // 0 if not given
	Buffer      float64 // meq/(kg·pH), 0 if not given
}

// Change is a proposed water change.
type Change struct {
	Record
	For, Author, Supersedes string
	Proposed                time.Time
	Basis                   []Basis
	Volume                  water.Quantity
	Temperature             water.Quantity
	Tank                    string
	Open                    bool
	Add                     []Addition
	Expect                  []Expected
	Emergency               *Mark
}

// Basis is one water of a blend.
type Basis struct {
	Session string
	Share   water.Quantity
}

// Addition is one salt, acid or base, as planned or as weighed.
type Addition struct {
	Substance            string
	Amount, Assay        water.Quantity
	Strength, Lot, Stage string
	Note                 string
}

// Expected is one computed value of a change.
type Expected struct {
	Name  water.ID
	Value water.Quantity
}

// Signoff is one person's review of one record.
type Signoff struct {
	Record
	Of, By, Decision, Meaning string
	On                        time.Time
	Seen                      string            // the commit that the signer had before them
	Policy, Settings          string            // digests, see journal/evidence
	Covers                    map[string]string // path → SHA-256
}

// Anchor marks the whole journal at one commit.
type Anchor struct {
	Record
	By, Commit string
	On         time.Time
	Journal    string            // digest over all files
	Count      int               `key:"files"`
	Before     map[string]string // the anchor before: path → SHA-256
}

// Batch is a brew.
type Batch struct {
	Record
	Beer, Change, Owner  string
	Brewed               time.Time
	Volume               water.Quantity
	Weighed              []Addition
	DosedBy, WitnessedBy string
	MashPH               float64 `key:"mash_pH.value"`
	HasMashPH            bool
	MashTemperature      water.Quantity `key:"mash_pH.temperature"`
	MashAfter            water.Quantity `key:"mash_pH.after"`
	MashInstrument       string         `key:"mash_pH.instrument"`
	Grist                []Malt
}

// Event is something done to the plant or the supply.
type Event struct {
	Record
	Sites          []string `key:"site"`
	On             time.Time
	What, Sort, By string
}

// Action is a deviation and what became of it.
type Action struct {
	Record
	About                []string
	Opened, Due          time.Time
	By, Deviation, Cause string
	Correction, Effect   string
	Closed               *Mark
}

// Report is what was sent to whom.
type Report struct {
	Record
	Owner, By, Subject, Replaces string
	To                           []string
	Sent                         time.Time
	Files, RestsOn               map[string]string // name or path → SHA-256
}
