package exchange

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/xml"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"wj/journal"
	"wj/journal/exchange/dataset"
	"wj/water"
)

// The elements, their order and their greatest lengths are those of WQX 3.0, the
// schema of the Water Quality Exchange (http://www.exchangenetwork.net/schema/wqx/3,
// United States Environmental Protection Agency); TestWQXFollowsItsSchema holds them
// to it. Domain values are of the exchange's lists, from memory; whoever submits data
// checks them against the lists of the day.
const wqxNamespace = "http://www.exchangenetwork.net/schema/wqx/3"

type wqxDescription struct {
	XMLName xml.Name `xml:"OrganizationDescription"`
	ID      string   `xml:"OrganizationIdentifier"`
	Name    string   `xml:"OrganizationFormalName"`
	Text    string   `xml:"OrganizationDescriptionText,omitempty"`
}

type wqxProject struct {
	XMLName xml.Name `xml:"Project"`
	ID      string   `xml:"ProjectIdentifier"`
	Name    string   `xml:"ProjectName"`
	Text    string   `xml:"ProjectDescriptionText,omitempty"`
}

type wqxLocation struct {
	XMLName xml.Name    `xml:"MonitoringLocation"`
	ID      string      `xml:"MonitoringLocationIdentity>MonitoringLocationIdentifier"`
	Name    string      `xml:"MonitoringLocationIdentity>MonitoringLocationName"`
	Type    string      `xml:"MonitoringLocationIdentity>MonitoringLocationTypeName"`
	Place   wqxPosition `xml:"MonitoringLocationGeospatial"`
}

type wqxPosition struct {
	Latitude  string `xml:"LatitudeMeasure"`
	Longitude string `xml:"LongitudeMeasure"`
	Method    string `xml:"HorizontalCollectionMethodName"`
	Datum     string `xml:"HorizontalCoordinateReferenceSystemDatumName"`
}

type wqxTime struct {
	Time string `xml:"Time"`
	Zone string `xml:"TimeZoneCode"`
}

type wqxActivity struct {
	XMLName xml.Name `xml:"Activity"`
	About   struct {
		ID      string  `xml:"ActivityIdentifier"`
		Type    string  `xml:"ActivityTypeCode"`
		Media   string  `xml:"ActivityMediaName"`
		Date    string  `xml:"ActivityStartDate"`
		Time    wqxTime `xml:"ActivityStartTime"`
		Project string  `xml:"ProjectIdentifier"`
		Site    string  `xml:"MonitoringLocationIdentifier,omitempty"`
		Comment string  `xml:"ActivityCommentText,omitempty"`
	} `xml:"ActivityDescription"`
	Place   *wqxPosition `xml:"ActivityLocation"`
	Results []wqxResult  `xml:"Result"`
}

type wqxResult struct {
	Condition      string      `xml:"ResultDescription>ResultDetectionConditionText,omitempty"`
	Characteristic string      `xml:"ResultDescription>CharacteristicName"`
	Speciation     string      `xml:"ResultDescription>MethodSpeciationName,omitempty"`
	Measure        *wqxMeasure `xml:"ResultDescription>ResultMeasure"`
	Status         string      `xml:"ResultDescription>ResultStatusIdentifier"`
	ValueType      string      `xml:"ResultDescription>ResultValueTypeName"`
	Quality        *wqxQuality `xml:"ResultDescription>DataQuality"`
	Comment        string      `xml:"ResultDescription>ResultCommentText,omitempty"`
	Lab            *wqxLab     `xml:"ResultLabInformation"`
}

type wqxMeasure struct {
	Value string `xml:"ResultMeasureValue"`
	Unit  string `xml:"MeasureUnitCode"`
}

type wqxQuality struct {
	Confidence string `xml:"ConfidenceIntervalValue"`
	Upper      string `xml:"UpperConfidenceLimitValue"`
	Lower      string `xml:"LowerConfidenceLimitValue"`
}

type wqxLab struct {
	Name  string    `xml:"LaboratoryName,omitempty"`
	Date  string    `xml:"AnalysisStartDate,omitempty"`
	Time  *wqxTime  `xml:"AnalysisStartTime"`
	Limit *wqxLimit `xml:"ResultDetectionQuantitationLimit"`
}

type wqxLimit struct {
	Type  string `xml:"DetectionQuantitationLimitTypeName"`
	Value string `xml:"DetectionQuantitationLimitMeasure>MeasureValue"`
	Unit  string `xml:"DetectionQuantitationLimitMeasure>MeasureUnitCode"`
}

// WQX writes sessions as a WQX 3.0 document: the journal as an organization and a
// project, sites as monitoring locations, sessions as activities, values as results.
// The locations come before the activities, so the export goes through it twice:
// first WQX itself, then the sink that Document gives.
type WQX struct {
	LeftOut int // values that the exchange has no characteristic for
	NoPlace int // sites without a place, which cannot be locations there
	j       *journal.Journal
	sites   map[string]bool
}

// NewWQX makes the first pass.
func NewWQX(j *journal.Journal) *WQX { return &WQX{j: j, sites: map[string]bool{}} }

// Write notes which sites there are.
func (v *WQX) Write(e *dataset.Entry) error {
	if e.Session != nil {
		v.sites[e.Session.Site] = true
	}
	return nil
}

// Finish ends the first pass.
func (v *WQX) Finish() error { return nil }

// Document is the second pass.
func (v *WQX) Document(w io.Writer, o dataset.Origin) dataset.Sink {
	enc := xml.NewEncoder(&references{to: w})
	enc.Indent("", " ")
	return &wqxDocument{WQX: v, w: w, enc: enc, origin: o, project: within(o.JournalID, 55)}
}

type wqxDocument struct {
	*WQX
	w       io.Writer
	enc     *xml.Encoder
	origin  dataset.Origin
	project string
	began   bool
	err     error
}

var (
	wqxRoot         = xml.StartElement{Name: xml.Name{Space: wqxNamespace, Local: "WQX"}}
	wqxOrganization = xml.StartElement{Name: xml.Name{Local: "Organization"}}
)

func (d *wqxDocument) put(elements ...any) {
	for _, x := range elements {
		if d.err != nil {
			return
		}
		if token, ok := x.(xml.Token); ok {
			switch token.(type) {
			case xml.StartElement, xml.EndElement:
				d.err = d.enc.EncodeToken(token)
				continue
			}
		}
		d.err = d.enc.Encode(x)
	}
}

// begin writes what comes before the activities.
func (d *wqxDocument) begin() {
	if d.began || d.err != nil {
		return
	}
	d.began = true
	name := d.j.Settings.Name
	if name == "" {
		name = d.origin.JournalID
	}
	_, d.err = io.WriteString(d.w, xml.Header)
	d.put(wqxRoot, wqxOrganization,
		wqxDescription{ID: within(d.origin.JournalID, 35), Name: within(name, 255), Text: "Exported by wj " + d.origin.Program + " from commit " + d.origin.Commit},
		wqxProject{ID: d.project, Name: within(name, 512), Text: "schema " + dataset.SchemaVersion})
	for _, s := range d.j.Sites.List {
		if !d.sites[s.ID] {
			continue
		}
		if !s.Place.Set {
			d.NoPlace++
			continue
		}
		d.put(wqxLocation{ID: within(s.ID, 55), Name: within(orElse(s.Name, s.ID), 255), Type: "Facility Other", Place: wqxPlace(s.Place)})
	}
}

// Write writes a session.
func (d *wqxDocument) Write(e *dataset.Entry) error {
	d.begin()
	s := e.Session
	if s == nil || d.err != nil {
		return d.err
	}
	var a wqxActivity
	at := s.Sampled.UTC() // the list of zones has codes for a few countries only
	a.About.ID, a.About.Type, a.About.Media = within(s.ID, 55), activityTypes[s.Sample], "Water"
	a.About.Date, a.About.Time, a.About.Project = at.Format(time.DateOnly), wqxTime{at.Format(time.TimeOnly), "UTC"}, d.project
	if site, ok := d.j.Sites.Get(s.Site); ok && site.Place.Set {
		a.About.Site = within(s.Site, 55)
	} else {
		a.About.Comment = within("site="+s.Site, 4000)
	}
	if s.Void != nil {
		a.About.Comment = within("void: "+s.Void.Reason+"; "+a.About.Comment, 4000)
	}
	if s.Place.Set {
		place := wqxPlace(s.Place)
		a.Place = &place
	}
	for i := range e.Values {
		if r, ok := d.result(&e.Values[i]); ok {
			a.Results = append(a.Results, r)
		} else {
			d.LeftOut++
		}
	}
	d.put(a)
	return d.err
}

// Finish ends the document.
func (d *wqxDocument) Finish() error {
	d.begin()
	d.put(wqxOrganization.End(), wqxRoot.End())
	if d.err == nil {
		d.err = d.enc.Close()
	}
	if d.err == nil {
		_, d.err = io.WriteString(d.w, "\n")
	}
	return d.err
}

func (d *wqxDocument) result(v *dataset.Value) (wqxResult, bool) {
	x, ok := exchanged(v)
	if !ok {
		return wqxResult{}, false
	}
	out := wqxResult{Condition: x.condition, Characteristic: x.characteristic, Speciation: x.speciation, Status: "Final", ValueType: x.valueType, Comment: within(x.comment(), 4000)}
	lab := wqxLab{Name: within(v.Session.Laboratory, 60)}
	if r := v.Reading; r != nil && !r.Tested.IsZero() {
		at := r.Tested.UTC()
		lab.Date, lab.Time = at.Format(time.DateOnly), &wqxTime{at.Format(time.TimeOnly), "UTC"}
	}
	if x.limitType != "" {
		lab.Limit = &wqxLimit{x.limitType, x.number, x.unit}
	} else {
		out.Measure = &wqxMeasure{x.number, x.unit}
		if u := v.Value.U; u > 0 {
			out.Quality = &wqxQuality{"95", formatReal(v.Value.Value + 2*u), formatReal(v.Value.Value - 2*u)}
		}
	}
	if lab != (wqxLab{}) {
		out.Lab = &lab
	}
	return out, true
}

func wqxPlace(p journal.Place) wqxPosition {
	return wqxPosition{fmt.Sprintf("%.7f", p.Latitude), fmt.Sprintf("%.7f", p.Longitude), "Unknown", "WGS84"}
}

// within keeps a text within so many letters. One that is longer ends in the first
// eight characters of its SHA-256, so that two that begin alike stay two.
func within(text string, most int) string {
	if utf8.RuneCountInString(text) <= most {
		return text
	}
	sum := sha256.Sum256([]byte(text))
	return string([]rune(text)[:most-9]) + "-" + hex.EncodeToString(sum[:4])
}

func orElse(text, other string) string {
	if strings.TrimSpace(text) == "" {
		return other
	}
	return text
}

// exchangeValue is a value in the words of the water-quality exchange.
type exchangeValue struct {
	characteristic, speciation, number, unit string
	condition, limitType                     string // of a bound
	valueType                                string
	typed                                    []string // the reading as typed, lot, dilution: key=value
}

func (x *exchangeValue) comment() string { return strings.Join(x.typed, "; ") }

// exchanged puts a value into the words of the exchange; false where it has none. A
// result that is only a bound has a detection condition and the limit. The condition
// is "Below Reporting Limit", which says no more than "<" does; "Present Below
// Quantification Limit" would say that something was there.
func exchanged(value *dataset.Value) (x exchangeValue, ok bool) {
	info := value.ID.Info()
	if info.Exchange == "" {
		return x, false
	}
	x = exchangeValue{characteristic: info.Exchange, speciation: info.Speciation, number: formatReal(value.Value.Value), valueType: "Calculated"}
	x.unit = strings.TrimSuffix(info.Unit.String(), " "+strings.TrimPrefix(info.Speciation, "as "))
	if known, ok := exchangeUnits[x.unit]; ok {
		x.unit = known
	}
	if r := value.Reading; r != nil {
		s := value.Session
		x.valueType, x.typed = "Actual", []string{"typed=" + journal.TypedReading(r), "analyte=" + value.ID.String(), "sampled=" + journal.FormatTime(s.Sampled), "by=" + s.By, "source=" + s.Source, "sample=" + s.Sample}
		if meter := cmp.Or(r.Instrument, s.Instrument); meter != "" {
			x.typed = append(x.typed, "instrument="+meter)
		}
		if !r.Tested.IsZero() {
			x.typed = append(x.typed, "tested="+journal.FormatTime(r.Tested))
		}
		for _, long := range [][2]string{{"session", s.ID}, {"site", s.Site}, {"laboratory", s.Laboratory}} { // there they are cut
			if utf8.RuneCountInString(long[1]) > 55 {
				x.typed = append(x.typed, long[0]+"="+long[1])
			}
		}
		if r.Lot != "" {
			x.typed = append(x.typed, "lot="+r.Lot)
		}
		if r.Dilution != 0 && r.Dilution != 1 {
			x.typed = append(x.typed, "dilution="+formatReal(r.Dilution))
		}
	}
	switch value.Bound {
	case water.Below:
		x.condition, x.limitType = "Below Reporting Limit", "Lower Reporting Limit"
	case water.Above:
		x.condition, x.limitType = "Present Above Quantification Limit", "Upper Reporting Limit"
	}
	return x, true
}
