package exchange

import (
	"bufio"
	"io"
	"strconv"
	"strings"

	"wj/journal"
	"wj/journal/exchange/dataset"
	"wj/render"
	"wj/water"
)

// The formats of this file are views: they hold results, which ReadView brings back, and
// no other record.

// originColumns say in every row of a view where it comes from.
var originColumns = []string{"commit_sha", "program_version", "schema_version", "format_version"}

func originFields(o dataset.Origin) []string {
	return []string{o.Commit, o.Program, dataset.SchemaVersion, strconv.Itoa(journal.Format)}
}

// csvView is the tidy table: one row a result.
type csvView struct {
	w      *bufio.Writer
	raw    bool
	origin []string
	began  bool
}

// NewCSV writes the results as CSV (RFC 4180). raw leaves texts that look like a
// spreadsheet's formula as they are; otherwise they get an apostrophe.
func NewCSV(w io.Writer, raw bool, origin dataset.Origin) dataset.Sink {
	return &csvView{w: bufio.NewWriter(w), raw: raw, origin: originFields(origin)}
}

func (v *csvView) Write(e *dataset.Entry) error {
	if !v.began {
		v.began = true
		var heads []string
		for _, c := range dataset.ResultColumns() {
			heads = append(heads, c.Name)
		}
		if err := render.CSVLine(v.w, append(heads, originColumns...), v.raw); err != nil {
			return err
		}
	}
	for _, row := range e.Rows {
		if row.Table.Name != "results" {
			continue
		}
		fields := make([]string, len(row.Values))
		for i, value := range row.Values {
			fields[i] = dataset.FormatValue(value)
		}
		if err := render.CSVLine(v.w, append(fields, v.origin...), v.raw); err != nil {
			return err
		}
	}
	return nil
}

func (v *csvView) Finish() error { return v.w.Flush() }

// Wide is one row a session: a column for each value that any of them has, with
// its standard unit in the head. Where results are bounds, two columns beside it
// hold the sign and the limit. The column measured names the values that were, and were not computed. Which columns there are is known after all sessions
// have been seen, so the export goes through it twice: first Columns, then the
// sink that Rows gives.
type Wide struct {
	j            *journal.Journal
	has, bounded [water.NumNames]bool
}

// NewWide makes the first pass.
func NewWide(j *journal.Journal) *Wide { return &Wide{j: j} }

// Write notes which values there are.
func (v *Wide) Write(e *dataset.Entry) error {
	for i := range e.Values {
		id := e.Values[i].ID
		v.has[id] = true
		v.bounded[id] = v.bounded[id] || e.Values[i].Bound != water.Exact
	}
	return nil
}

// Finish ends the first pass.
func (v *Wide) Finish() error { return nil }

// Rows is the second pass.
func (v *Wide) Rows(w io.Writer, raw bool, origin dataset.Origin) dataset.Sink {
	return &wideRows{Wide: v, w: bufio.NewWriter(w), raw: raw, origin: originFields(origin)}
}

type wideRows struct {
	*Wide
	w      *bufio.Writer
	raw    bool
	origin []string
	began  bool
}

// unitHead is the head of a column of values: the name with its unit.
func unitHead(id water.ID) string {
	if u := id.Info().Unit; !u.IsNone() {
		return id.String() + " (" + u.String() + ")"
	}
	return id.String()
}

func (v *wideRows) Write(e *dataset.Entry) error {
	if !v.began {
		v.began = true
		heads := []string{"session_id", "site_id", "owner_id", "sampled", "tester_id", "data_source", "laboratory", "sample_type", "is_void", "measured"}
		for id := range v.has {
			if v.has[id] {
				heads = append(heads, unitHead(water.ID(id)))
			}
			if v.bounded[id] {
				heads = append(heads, water.ID(id).String()+" bound", water.ID(id).String()+" limit")
			}
		}
		if err := render.CSVLine(v.w, append(heads, originColumns...), v.raw); err != nil {
			return err
		}
	}
	s := e.Session
	if s == nil {
		return nil
	}
	var cells, signs, limits [water.NumNames]string
	var measured []string
	for i := range e.Values {
		value := &e.Values[i]
		if value.Reading != nil {
			measured = append(measured, value.ID.String())
		}
		if value.Bound == water.Exact {
			cells[value.ID] = formatReal(value.Value.Value)
		} else {
			signs[value.ID], limits[value.ID] = value.Bound.String(), formatReal(value.Value.Value)
		}
	}
	row := []string{s.ID, s.Site, OwnerOf(v.j, s), formatMoment(s.Sampled), s.By, s.Source, s.Laboratory, s.Sample, dataset.FormatValue(s.Void != nil), strings.Join(measured, " ")}
	for id := range v.has {
		if v.has[id] {
			row = append(row, cells[id])
		}
		if v.bounded[id] {
			row = append(row, signs[id], limits[id])
		}
	}
	return render.CSVLine(v.w, append(row, v.origin...), v.raw)
}

func (v *wideRows) Finish() error { return v.w.Flush() }

// The column names are those of WQX 3.0 as the federal water-quality portal of
// the United States writes them. Domain values (activity types, detection
// conditions, value types) are of the WQX domain lists, from memory unless said
// otherwise; whoever submits data checks them against the lists of the day.

// exchangeUnits are units whose spelling in the WQX domain list differs from
// ours; from memory.
var exchangeUnits = map[string]string{"": "None", "degC": "deg C"}

// activityTypes are WQX activity types. A blank or standard of this journal is
// tested at the bench, so it counts as a laboratory's.
var activityTypes = map[string]string{
	journal.SampleRoutine:      "Sample-Routine",
	journal.SampleVerification: "Sample-Routine",
	journal.SampleDuplicate:    "Quality Control Sample-Field Replicate",
	journal.SampleBlank:        "Quality Control Sample-Lab Blank",
	journal.SampleStandard:     "Quality Control Sample-Reference Sample",
}

var exchangeColumns = []string{
	"Org_FormalName", "Location_Identifier", "Location_Name", "Location_Latitude", "Location_Longitude", "Location_HorzCoordReferenceSystemDatum",
	"Activity_ActivityIdentifier", "Activity_TypeCode", "Activity_Media", "Activity_StartDate", "Activity_StartTime", "Activity_StartTimeZone",
	"Result_Characteristic", "Result_MethodSpeciation", "Result_SampleFraction", "Result_ResultDetectionCondition",
	"Result_Measure", "Result_MeasureUnit", "Result_MeasureStatusIdentifier", "Result_MeasureType",
	"DetectionLimit_TypeA", "DetectionLimit_MeasureA", "DetectionLimit_MeasureUnitA", "LabInfo_Name", "Result_ResultComment",
}

// WaterQuality is the table of results under the names of the water-quality
// portal. A result that is only a bound has an empty value, a detection
// condition and the limit. The sample fraction stays empty: the journal does not
// know whether a sample was filtered. What has no column is in the comment, as
// key=value: the reading as typed, lot, dilution, journal, commit, program.
type WaterQuality struct {
	LeftOut int // values that the exchange has no characteristic for
	j       *journal.Journal
	w       *bufio.Writer
	raw     bool
	origin  string
	began   bool
}

// NewWaterQuality writes them as CSV.
func NewWaterQuality(w io.Writer, raw bool, j *journal.Journal, o dataset.Origin) *WaterQuality {
	return &WaterQuality{j: j, w: bufio.NewWriter(w), raw: raw, origin: "journal=" + o.JournalID + "; commit=" + o.Commit + "; wj=" + o.Program + "; schema=" + dataset.SchemaVersion}
}

// Write writes the values of a session.
func (v *WaterQuality) Write(e *dataset.Entry) error {
	if !v.began {
		v.began = true
		if err := render.CSVLine(v.w, exchangeColumns, v.raw); err != nil {
			return err
		}
	}
	for i := range e.Values {
		if row := v.row(&e.Values[i]); row == nil {
			v.LeftOut++
		} else if err := render.CSVLine(v.w, row, v.raw); err != nil {
			return err
		}
	}
	return nil
}

// Finish writes what is still held.
func (v *WaterQuality) Finish() error { return v.w.Flush() }

func (v *WaterQuality) row(value *dataset.Value) []string {
	x, ok := exchanged(value)
	if !ok {
		return nil
	}
	s, place, name, position := value.Session, value.Session.Place, "", [3]string{}
	if site, ok := v.j.Sites.Get(s.Site); ok {
		name = site.Name
		if !place.Set {
			place = site.Place
		}
	}
	if place.Set {
		position = [3]string{string(degrees(place.Latitude)), string(degrees(place.Longitude)), "WGS84"}
	}
	measure, limit, limitUnit := x.number, "", ""
	if x.limitType != "" {
		measure, limit, limitUnit = "", x.number, x.unit
	}
	// The zone is UTC: the list of zones there has codes for a few countries only.
	at := s.Sampled.UTC()
	return []string{
		v.j.Settings.Name, s.Site, name, position[0], position[1], position[2],
		s.ID, activityTypes[s.Sample], "Water", at.Format("2006-01-02"), at.Format("15:04:05"), "UTC",
		x.characteristic, x.speciation, "", x.condition,
		measure, x.unit, "Final", x.valueType, x.limitType, limit, limitUnit, s.Laboratory, strings.Join(append(x.typed, v.origin), "; "),
	}
}
