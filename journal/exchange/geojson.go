package exchange

import (
	"bufio"
	"cmp"
	"io"
	"sort"
	"strconv"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/exchange/dataset"
	"wj/journal/judge"
	"wj/render"
	"wj/water"
)

// NewGeoJSON writes a FeatureCollection (RFC 7946) with a feature for each
// session, at the place where it was sampled, else at its site's. A session
// without a place has a null geometry (section 3.2). A value is a number in its
// standard unit; a bound is null with its text beside it. Where it comes from is
// in members of the collection (section 6.1).
func NewGeoJSON(w io.Writer, j *journal.Journal, o dataset.Origin) dataset.Sink {
	return &geoView{w: bufio.NewWriter(w), j: j, origin: o}
}

type geoView struct {
	w        *bufio.Writer
	j        *journal.Journal
	origin   dataset.Origin
	features int
}

func (v *geoView) Write(e *dataset.Entry) error {
	s := e.Session
	if s == nil {
		return nil
	}
	place := s.Place
	if site, ok := v.j.Sites.Get(s.Site); ok && !place.Set {
		place = site.Place
	}
	properties := render.Object{
		{Name: "session_id", Value: s.ID}, {Name: "site_id", Value: s.Site}, {Name: "owner_id", Value: OwnerOf(v.j, s)},
		{Name: "sampled", Value: formatMoment(s.Sampled)}, {Name: "tester_id", Value: s.By}, {Name: "data_source", Value: s.Source}, {Name: "laboratory", Value: s.Laboratory}, {Name: "sample_type", Value: s.Sample},
	}
	if s.Void != nil {
		properties = append(properties, render.Member{Name: "void", Value: s.Void.Reason})
	}
	for i := range e.Values {
		properties = append(properties, valueMembers(e.Values[i].Value, s, e.Values[i].Reading)...)
	}
	text, err := render.JSON(feature("session/"+s.ID, place, properties))
	if err != nil {
		return err
	}
	if v.features == 0 {
		text = v.head() + text
	} else {
		text = ",\n" + text
	}
	v.features++
	_, err = v.w.WriteString(text)
	return err
}

func (v *geoView) head() string {
	text, err := render.JSON(render.Object{{Name: "type", Value: "FeatureCollection"}, {Name: "journal_id", Value: v.origin.JournalID}, {Name: "commit_sha", Value: v.origin.Commit},
		{Name: "program_version", Value: v.origin.Program}, {Name: "schema_version", Value: dataset.SchemaVersion}, {Name: "format_version", Value: journal.Format}})
	if err != nil {
		return ""
	}
	return strings.TrimSuffix(text, "}") + `,"features":[`
}

func (v *geoView) Finish() error {
	end := "]}\n"
	if v.features == 0 {
		end = v.head() + end
	}
	if _, err := v.w.WriteString(end); err != nil {
		return err
	}
	return v.w.Flush()
}

// SitesGeoJSON is a FeatureCollection with a feature for each site and, as its
// properties, the newest value of everything that was measured there.
func SitesGeoJSON(j *journal.Journal, sites []*journal.Site, sessions []*journal.Session) render.Object {
	latest := Latest(j, sessions)
	var features []any
	for _, site := range sites {
		properties := render.Object{
			{Name: "site", Value: site.ID}, {Name: "name", Value: site.Name}, {Name: "owner", Value: site.Owner}, {Name: "stage", Value: site.Stage},
		}
		values := latest[site.ID]
		if last := lastSampled(values); !last.IsZero() {
			properties = append(properties, render.Member{Name: "sampled", Value: formatMoment(last)})
		}
		for _, v := range values {
			properties = append(properties, valueMembers(v.Value, v.Session, v.Reading)...)
			properties = append(properties, render.Member{Name: v.Value.ID.String() + "_sampled", Value: formatMoment(v.Session.Sampled)})
		}
		features = append(features, feature("site/"+site.ID, site.Place, properties))
	}
	return collection(features)
}

// valueMembers are the properties of one value: number, unit, bound and what
// was typed.
func valueMembers(v water.Value, s *journal.Session, r *journal.Reading) render.Object {
	name := v.ID.String()
	out := render.Object{{Name: name, Value: nil}}
	if v.Bound == water.Exact {
		if text := formatReal(v.Value); text != "" {
			out[0].Value = render.Number(text)
		}
	} else {
		out = append(out, render.Member{Name: name + "_bound", Value: v.Bound.String() + formatReal(v.Value)})
	}
	if u := v.ID.Info().Unit; !u.IsNone() {
		out = append(out, render.Member{Name: name + "_unit", Value: u.String()})
	}
	if r != nil {
		out = append(out, render.Member{Name: name + "_typed", Value: journal.TypedReading(r)})
		for _, m := range [][2]string{{"_lot", r.Lot}, {"_instrument", cmp.Or(r.Instrument, s.Instrument)}, {"_tested", formatMoment(r.Tested)}} {
			if m[1] != "" {
				out = append(out, render.Member{Name: name + m[0], Value: m[1]})
			}
		}
	} else {
		out = append(out, render.Member{Name: name + "_derived", Value: true})
	}
	return out
}

func feature(id string, place journal.Place, properties render.Object) render.Object {
	var geometry any
	if place.Set {
		// Longitude comes first (RFC 7946, section 3.1.1).
		geometry = render.Object{{Name: "type", Value: "Point"}, {Name: "coordinates", Value: []any{degrees(place.Longitude), degrees(place.Latitude)}}}
	}
	return render.Object{{Name: "type", Value: "Feature"}, {Name: "id", Value: id}, {Name: "geometry", Value: geometry}, {Name: "properties", Value: properties}}
}

func collection(features []any) render.Object {
	if features == nil {
		features = []any{}
	}
	return render.Object{{Name: "type", Value: "FeatureCollection"}, {Name: "features", Value: features}}
}

func degrees(v float64) render.Number {
	return render.Number(strconv.FormatFloat(v, 'f', -1, 64))
}

// LatestValue is the newest value of one analyte at a site.
type LatestValue struct {
	Session *journal.Session
	Reading *journal.Reading
	Value   water.Value
}

// Latest finds, for each site, the newest measured value of every analyte, in
// the order of the analyte table. Check standards, blanks and void sessions say
// nothing of the site.
func Latest(j *journal.Journal, sessions []*journal.Session) map[string][]LatestValue {
	newest := map[string]map[water.ID]LatestValue{}
	var a water.Analysis
	for _, s := range sessions {
		if !judge.SiteWater(s) {
			continue
		}
		dataset.Values(j, s, &a, false, func(r dataset.Value) {
			if newest[s.Site] == nil {
				newest[s.Site] = map[water.ID]LatestValue{}
			}
			old, ok := newest[s.Site][r.ID]
			if !ok || !s.Sampled.Before(old.Session.Sampled) {
				newest[s.Site][r.ID] = LatestValue{s, r.Reading, r.Value}
			}
		})
	}
	out := map[string][]LatestValue{}
	for site, values := range newest {
		for _, v := range values {
			out[site] = append(out[site], v)
		}
		sort.Slice(out[site], func(a, b int) bool { return out[site][a].Value.ID < out[site][b].Value.ID })
	}
	return out
}

func lastSampled(values []LatestValue) (last time.Time) {
	for _, v := range values {
		if v.Session.Sampled.After(last) {
			last = v.Session.Sampled
		}
	}
	return last
}
