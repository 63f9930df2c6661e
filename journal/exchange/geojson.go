package exchange

import (
	"sort"
	"strconv"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/render"
	"wj/water"
)

// SessionsGeoJSON is a FeatureCollection (RFC 7946) with a feature for each
// session, at the place where it was sampled, else at its site's. A session
// without a place has a null geometry (section 3.2). A value is a number in its
// standard unit; a bound is null with its text beside it.
func SessionsGeoJSON(j *journal.Journal, sessions []*journal.Session, opt Options) render.Object {
	values := make([]render.Object, len(sessions))
	eachResult(j, sessions, opt, func(n int, r result) {
		values[n] = append(values[n], valueMembers(r.value, r.reading)...)
	})
	var features []any
	for n, s := range sessions {
		place := s.Place
		if site, ok := j.Sites.Get(s.Site); ok && !place.Set {
			place = site.Place
		}
		properties := append(render.Object{
			{Name: "session", Value: s.ID}, {Name: "site", Value: s.Site}, {Name: "owner", Value: OwnerOf(j, s)},
			{Name: "sampled", Value: formatMoment(s.Sampled)}, {Name: "by", Value: s.By}, {Name: "source", Value: s.Source}, {Name: "sample", Value: s.Sample},
		}, values[n]...)
		features = append(features, feature("session/"+s.ID, place, properties))
	}
	return collection(features)
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
			properties = append(properties, valueMembers(v.Value, v.Reading)...)
			properties = append(properties, render.Member{Name: v.Value.ID.String() + "_sampled", Value: formatMoment(v.Session.Sampled)})
		}
		features = append(features, feature("site/"+site.ID, site.Place, properties))
	}
	return collection(features)
}

// valueMembers are the properties of one value: number, unit, bound and what
// was typed.
func valueMembers(v water.Value, r *journal.Reading) render.Object {
	name := v.ID.String()
	out := render.Object{{Name: name, Value: nil}}
	if v.Bound == water.Exact {
		out[0].Value = jsonValue(v.Value)
	} else {
		out = append(out, render.Member{Name: name + "_bound", Value: v.Bound.String() + formatReal(v.Value)})
	}
	if u := v.ID.Info().Unit; !u.IsNone() {
		out = append(out, render.Member{Name: name + "_unit", Value: u.String()})
	}
	if r != nil {
		out = append(out, render.Member{Name: name + "_typed", Value: journal.TypedReading(r)})
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
		results(j, s, &a, false, func(r result) {
			if newest[s.Site] == nil {
				newest[s.Site] = map[water.ID]LatestValue{}
			}
			old, ok := newest[s.Site][r.value.ID]
			if !ok || !s.Sampled.Before(old.Session.Sampled) {
				newest[s.Site][r.value.ID] = LatestValue{s, r.reading, r.value}
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
