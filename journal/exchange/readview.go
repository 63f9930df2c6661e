package exchange

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"wj/journal"
	"wj/water"
)

// viewMap is the map by which the results of a view come back.
//
//go:embed readview.yaml
var viewMap []byte

// viewHeads are the heads of the sheet that a view is read into: one row a result.
var viewHeads = []string{"session", "site", "sampled", "tested", "by", "source", "laboratory", "sample", "instrument", "latitude", "longitude", "void", "origin", "analyte", "typed", "lot", "dilution"}

// ReadView reads what wj wrote as a view (csv, csv --wide, geojson, wqx, wqx-csv) into a sheet of one row a result, and gives the map that
// imports it. form is "" where the file is no such view. A computed value is a row that the map leaves out, or none.
func ReadView(j *journal.Journal, src []byte) (s *Sheet, form string, text []byte, err error) {
	v := &viewReader{j: j, sheet: &Sheet{}}
	v.sheet.Lines = []Line{{Number: 1, Cells: cellsOf(viewHeads)}}
	begin := bytes.TrimLeft(src[:min(len(src), 4096)], "\ufeff \r\n\t")
	switch {
	case len(src) > MaxSheetFile:
	case bytes.HasPrefix(begin, []byte(`{"type":"FeatureCollection","journal_id"`)):
		form, err = "geojson", v.geoJSON(src)
	case bytes.Contains(begin, []byte(`<WQX xmlns="`+wqxNamespace+`"`)):
		form, err = "wqx", v.wqx(src)
	case bytes.HasPrefix(begin, []byte(`"journal_id","session_id","analyte","origin"`)), bytes.HasPrefix(begin, []byte(`"session_id","site_id","owner_id","sampled"`)), bytes.HasPrefix(begin, []byte(`"Org_FormalName","Location_Identifier"`)):
		form, err = v.table(src)
	}
	if err != nil {
		return nil, form, nil, fmt.Errorf("read it as %s: %w", form, err)
	}
	return v.sheet, form, viewMap, nil
}

type viewReader struct {
	j     *journal.Journal
	sheet *Sheet
}

// viewRow is a result of a view by the names of viewHeads.
type viewRow map[string]string

func cellsOf(texts []string) []Cell {
	cells := make([]Cell, len(texts))
	for i, t := range texts {
		cells[i].Text = t
	}
	return cells
}

// add takes a row of the file. The place of the site is not said again.
func (v *viewReader) add(number int, row viewRow) {
	if site, ok := v.j.Sites.Get(row["site"]); ok && site.Place.Set && row["latitude"] == string(degrees(site.Place.Latitude)) && row["longitude"] == string(degrees(site.Place.Longitude)) {
		delete(row, "latitude")
		delete(row, "longitude")
	}
	texts := make([]string, len(viewHeads))
	for i, h := range viewHeads {
		texts[i] = row[h]
	}
	v.sheet.Lines = append(v.sheet.Lines, Line{Number: number, Cells: cellsOf(texts)})
}

// table reads the CSV views.
func (v *viewReader) table(src []byte) (form string, err error) {
	s, err := ReadDelimited(src, ',', "utf-8")
	if err != nil || len(s.Lines) == 0 {
		return "csv", err
	}
	heads := s.Lines[0].Cells
	form = map[string]string{"journal_id": "csv", "session_id": "csv --wide", "Org_FormalName": "wqx-csv"}[heads[0].Text]
	for _, l := range s.Lines[1:] {
		row := map[string]string{}
		for i, h := range heads {
			text := l.cell(i).Text
			if len(text) > 1 && text[0] == '\'' && strings.ContainsRune("=+-@\t\r", rune(text[1])) { // put there against spreadsheets
				text = text[1:]
			}
			row[h.Text] = text
		}
		out := viewRow{"session": row["session_id"], "site": row["site_id"], "by": row["tester_id"], "source": row["data_source"], "laboratory": row["laboratory"], "sample": row["sample_type"], "void": row["is_void"]}
		switch form {
		case "csv":
			out["sampled"], out["tested"], out["instrument"] = row["sampled_typed"], v.zoned(row["tested_utc"]), row["instrument_id"]
			out["origin"], out["analyte"], out["lot"], out["dilution"] = row["origin"], row["analyte"], row["lot_id"], row["dilution"]
			if out["typed"] = row["typed"]; row["origin"] != "measured" {
				out["typed"] = "computed"
			}
			v.add(l.Number, out)
		case "csv --wide":
			out["sampled"], out["origin"] = row["sampled"], "measured"
			v.wide(l.Number, out, heads, row)
		default:
			v.exchanged(l.Number, out, row)
		}
	}
	return form, nil
}

// zoned writes a moment in the journal's zone; as it is where it is none.
func (v *viewReader) zoned(text string) string {
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return text
	}
	return journal.FormatTime(t.In(v.j.Settings.Zone))
}

// wide makes a row of each value that was measured: the column measured names them, and the unit is in the head.
func (v *viewReader) wide(number int, session viewRow, heads []Cell, row map[string]string) {
	measured := strings.Fields(row["measured"])
	for _, h := range heads {
		name, unit, _ := strings.Cut(strings.TrimSuffix(h.Text, ")"), " (")
		if !slices.Contains(measured, name) {
			continue
		}
		out := viewRow{"analyte": name, "typed": sixDecimals(row[h.Text])}
		for k, text := range session {
			out[k] = text
		}
		if sign := row[name+" bound"]; sign != "" {
			out["typed"] = sign + sixDecimals(row[name+" limit"])
		}
		if unit != "" {
			out["typed"] += " " + unit
		}
		v.add(number, out)
	}
}

// sixDecimals rounds a number to as many decimals as a record may have.
func sixDecimals(text string) string {
	f, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return text
	}
	return strconv.FormatFloat(f, 'f', min(6, len(text[strings.IndexByte(text+".", '.'):])), 64)
}

// exchanged makes a row of one in the columns of the exchange's portal.
func (v *viewReader) exchanged(number int, out viewRow, row map[string]string) {
	out["session"], out["site"], out["laboratory"] = row["Activity_ActivityIdentifier"], row["Location_Identifier"], row["LabInfo_Name"]
	out["latitude"], out["longitude"] = row["Location_Latitude"], row["Location_Longitude"]
	out["sampled"] = v.zoned(row["Activity_StartDate"] + "T" + row["Activity_StartTime"] + "Z")
	v.commented(number, out, row["Result_ResultComment"], row["Result_Characteristic"])
}

// commented fills in what the exchange has no column for, and adds the row. A result without it is a computed one.
func (v *viewReader) commented(number int, out viewRow, comment, characteristic string) {
	out["origin"], out["analyte"], out["typed"] = "derived", characteristic, "computed"
	for _, part := range strings.Split(comment, "; ") {
		if key, value, ok := strings.Cut(part, "="); ok && slices.Contains(viewHeads, key) {
			out[key] = value
			if key == "typed" {
				out["origin"] = "measured"
			}
		}
	}
	v.add(number, out)
}

func (v *viewReader) geoJSON(src []byte) error {
	var doc struct {
		Features []struct {
			Geometry *struct {
				Coordinates []json.Number `json:"coordinates"`
			} `json:"geometry"`
			Properties map[string]any `json:"properties"`
		} `json:"features"`
	}
	if err := json.Unmarshal(src, &doc); err != nil {
		return err
	}
	for i, f := range doc.Features {
		p := func(name string) string { s, _ := f.Properties[name].(string); return s }
		for id := water.ID(0); id < water.NumAnalytes; id++ {
			name := id.String()
			if p(name+"_typed") == "" {
				continue
			}
			row := viewRow{"session": p("session_id"), "site": p("site_id"), "sampled": p("sampled"), "by": p("tester_id"), "source": p("data_source"), "laboratory": p("laboratory"), "sample": p("sample_type"),
				"instrument": p(name + "_instrument"), "tested": p(name + "_tested"), "origin": "measured", "analyte": name, "typed": p(name + "_typed"), "lot": p(name + "_lot")}
			if p("void") != "" {
				row["void"] = "1"
			}
			if f.Geometry != nil && len(f.Geometry.Coordinates) > 1 {
				row["longitude"], row["latitude"] = f.Geometry.Coordinates[0].String(), f.Geometry.Coordinates[1].String()
			}
			v.add(i+2, row) // 1 is the heads
		}
	}
	return nil
}

func (v *viewReader) wqx(src []byte) error {
	dec := xml.NewDecoder(bytes.NewReader(src))
	for n := 2; ; {
		token, err := dec.Token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		start, ok := token.(xml.StartElement)
		if !ok || start.Name.Local != "Activity" {
			continue
		}
		var a wqxActivity
		a.XMLName = start.Name
		if err := dec.DecodeElement(&a, &start); err != nil {
			return err
		}
		for _, r := range a.Results {
			row := viewRow{"session": a.About.ID, "site": a.About.Site, "sampled": v.zoned(a.About.Date + "T" + a.About.Time.Time + "Z")}
			for _, part := range strings.Split(a.About.Comment, "; ") {
				if site, ok := strings.CutPrefix(part, "site="); ok {
					row["site"] = site
				}
				if strings.HasPrefix(part, "void: ") {
					row["void"] = "1"
				}
			}
			if a.Place != nil {
				row["latitude"], row["longitude"] = shortDegrees(a.Place.Latitude), shortDegrees(a.Place.Longitude)
			}
			if r.Lab != nil {
				row["laboratory"] = r.Lab.Name
				if r.Lab.Date != "" && r.Lab.Time != nil {
					row["tested"] = v.zoned(r.Lab.Date + "T" + r.Lab.Time.Time + "Z")
				}
			}
			v.commented(n, row, r.Comment, r.Characteristic)
		}
		n++
	}
}

// shortDegrees writes degrees as a record does.
func shortDegrees(text string) string {
	f, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return text
	}
	return string(degrees(f))
}

// diluted is how a reading of a diluted sample is written.
var diluted = regexp.MustCompile(`^(.*?)(?: × ([0-9.e+]+)| in a sample diluted ([0-9.e+]+)-fold)$`)

// asWritten reads a reading as [journal.TypedReading] writes it: replicates, each with its unit, and the dilution.
func asWritten(id water.ID, text string) (values []string, dilution string, f *fault) {
	if m := diluted.FindStringSubmatch(text); m != nil {
		text, dilution = m[1], firstNonEmpty(m[2], m[3])
	}
	for _, one := range strings.Split(text, ", ") {
		q, err := water.ParseQuantity(one)
		if err == nil {
			err = id.Info().Fit(q)
		}
		if err != nil {
			return nil, "", faultf("", "%s", err.Error())
		}
		values = append(values, q.String())
	}
	return values, dilution, nil
}
