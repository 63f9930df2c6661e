package exchange

import (
	"encoding/json"
	"encoding/xml"
	"io"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wj/journal"
	"wj/render"
)

func at(latitude, longitude float64) journal.Place {
	return journal.Place{Latitude: latitude, Longitude: longitude, Set: true}
}

// TestDistancePublished compares with a published line and with what follows from
// the definition of a great circle.
func TestDistancePublished(t *testing.T) {
	// Flinders Peak to Buninyong on the ellipsoid: 54972.271 m, azimuth 306°52'05.37"
	// (Geocentric Datum of Australia Technical Manual, version 2.3, section 4.1). The
	// sphere may differ by 0.6 %.
	dms := func(d, m, s float64) float64 { return d + m/60 + s/3600 }
	flinders, buninyong := at(-dms(37, 57, 3.72030), dms(144, 25, 29.52440)), at(-dms(37, 39, 10.15610), dms(143, 55, 35.38390))
	if d := journal.Distance(flinders, buninyong); math.Abs(d/54972.271-1) > 0.006 {
		t.Errorf("Flinders Peak to Buninyong: %.0f m", d)
	}
	if b := Bearing(flinders, buninyong); math.Abs(b-dms(306, 52, 5.37)) > 0.2 {
		t.Errorf("its azimuth: %.3f", b)
	}
	// A quarter of the circle, from the pole to the equator.
	if d := journal.Distance(at(90, 0), at(0, 77)); math.Abs(d-journal.EarthRadius*math.Pi/2) > 1e-3 {
		t.Errorf("pole to equator: %v", d)
	}
	// Antipodes, and across the date line.
	if d := journal.Distance(at(10, 20), at(-10, -160)); math.Abs(d-journal.EarthRadius*math.Pi) > 1 {
		t.Errorf("antipodes: %v", d)
	}
	if d := journal.Distance(at(0, 179.5), at(0, -179.5)); math.Abs(d-journal.EarthRadius*math.Pi/180) > 1e-3 {
		t.Errorf("across the date line: %v", d)
	}
}

func TestDistanceProperties(t *testing.T) {
	place := rapid.Custom(func(t *rapid.T) journal.Place {
		return at(rapid.Float64Range(-90, 90).Draw(t, "latitude"), rapid.Float64Range(-180, 180).Draw(t, "longitude"))
	})
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := place.Draw(t, "a"), place.Draw(t, "b"), place.Draw(t, "c")
		ab := journal.Distance(a, b)
		if math.Abs(ab-journal.Distance(b, a)) > 1e-6 || journal.Distance(a, a) != 0 || ab > journal.EarthRadius*math.Pi+1e-6 {
			t.Fatalf("%v", ab)
		}
		if ab > journal.Distance(a, c)+journal.Distance(c, b)+1 {
			t.Fatal("the way round is shorter")
		}
	})
}

// checkGeoJSON holds a collection to RFC 7946: sections 3, 3.1.1, 3.2, 3.3 and 4.
func checkGeoJSON(t *testing.T, text string) []map[string]any {
	t.Helper()
	var c struct {
		Type     string
		Features []struct {
			Type     string
			Geometry *struct {
				Type        string
				Coordinates []float64
			}
			Properties map[string]any
		}
	}
	if err := json.Unmarshal([]byte(text), &c); err != nil {
		t.Fatal(err)
	}
	if c.Type != "FeatureCollection" || c.Features == nil {
		t.Fatalf("no feature collection: %s", text)
	}
	var out []map[string]any
	for _, f := range c.Features {
		if f.Type != "Feature" || f.Properties == nil {
			t.Errorf("no feature: %v", f)
		}
		if g := f.Geometry; g != nil {
			if g.Type != "Point" || len(g.Coordinates) != 2 || math.Abs(g.Coordinates[0]) > 180 || math.Abs(g.Coordinates[1]) > 90 {
				t.Errorf("no point: %v", g)
			}
			f.Properties["lon"], f.Properties["lat"] = g.Coordinates[0], g.Coordinates[1]
		}
		out = append(out, f.Properties)
	}
	return out
}

func TestGeoJSON(t *testing.T) {
	j := smallJournal(t, nil)
	for _, object := range []render.Object{SitesGeoJSON(j, j.Sites.List, j.Sessions.List), SitesGeoJSON(j, nil, nil)} {
		text, err := render.JSON(object)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range checkGeoJSON(t, text) {
			if p["site"] == "north-well" {
				// Longitude first.
				if p["lon"] != 19.0387 || p["lat"] != 55.7231 || p["sulfate"] != 170.0 || p["sulfate_unit"] != "mg/L" || p["chloride"] != nil || p["chloride_bound"] != "<5" {
					t.Errorf("north-well: %v", p)
				}
			} else if p["lon"] != nil {
				t.Errorf("a place from nowhere: %v", p)
			}
		}
	}
}

// TestMapSVG: well-formed, nothing outside the sheet, hostile names harmless, and
// no place makes it fail.
func TestMapSVG(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var points []MapPoint
		for range rapid.IntRange(0, 30).Draw(t, "points") {
			p := MapPoint{Name: rapid.String().Draw(t, "name"), Remark: "</svg><script>alert(1)</script>"}
			if rapid.IntRange(0, 9).Draw(t, "set") > 0 {
				p.Place = at(rapid.Float64Range(-90, 90).Draw(t, "latitude"), rapid.Float64Range(-180, 180).Draw(t, "longitude"))
			}
			points = append(points, p)
		}
		svg := MapSVG("sites \x1b[31m & <more>", points)
		if strings.Contains(svg, "<script") || strings.Contains(svg, "\x1b") || strings.Contains(svg, "NaN") || strings.Contains(svg, "Inf") {
			t.Fatal(svg)
		}
		d := xml.NewDecoder(strings.NewReader(svg))
		for {
			token, err := d.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatalf("%v in %s", err, svg)
			}
			if e, ok := token.(xml.StartElement); ok && e.Name.Local == "circle" {
				for _, a := range e.Attr {
					var v float64
					if a.Name.Local == "cx" || a.Name.Local == "cy" {
						if err := json.Unmarshal([]byte(a.Value), &v); err != nil || v < mapLeft-1 || v > mapWidth || v > mapHeight && a.Name.Local == "cy" {
							t.Fatalf("a mark at %s=%s", a.Name.Local, a.Value)
						}
					}
				}
			}
		}
	})
}
