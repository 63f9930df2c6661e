package exchange

import (
	"strings"

	"wj/journal"
	"wj/water"
)

// The column names are those of WQX 3.0 as the federal water-quality portal of
// the United States writes them. Domain values (activity types, detection
// conditions, value types) are of the WQX domain lists, from memory unless said
// otherwise; whoever submits data checks them against the lists of the day.

// exchangeUnits are units whose spelling in the WQX domain list differs from
// ours; from memory.
var exchangeUnits = map[string]string{"": "None", "degC": "deg C", "uS/cm": "uS/cm", "NTU": "NTU", "%": "%", "meq/L": "meq/L", "mmol/L": "mmol/L"}

// activityTypes are WQX activity types. A blank or standard of this journal is
// tested at the bench, so it counts as a laboratory's.
var activityTypes = map[string]string{
	"routine":        "Sample-Routine",
	"verification":   "Sample-Routine",
	"duplicate":      "Quality Control Sample-Field Replicate",
	"blank":          "Quality Control Sample-Lab Blank",
	"check-standard": "Quality Control Sample-Reference Sample",
}

// WaterQuality is the table of results under the names of the water-quality
// exchange. A result that is only a bound has an empty value, a detection
// condition and the limit. The condition is "Below Reporting Limit", which says
// no more than "<" does; "Present Below Quantification Limit" would say that
// something was there. The sample fraction stays empty: the journal does not
// know whether a sample was filtered. leftOut counts values that the exchange
// has no characteristic for.
func WaterQuality(j *journal.Journal, sessions []*journal.Session, opt Options) (t Table, leftOut int) {
	t = Table{Name: "results", Doc: "results under the names of the water-quality exchange (WQX 3.0)"}
	for _, name := range []string{
		"Org_FormalName", "Location_Identifier", "Location_Name", "Location_Latitude", "Location_Longitude", "Location_HorzCoordReferenceSystemDatum",
		"Activity_ActivityIdentifier", "Activity_TypeCode", "Activity_Media", "Activity_StartDate", "Activity_StartTime", "Activity_StartTimeZone",
		"Result_Characteristic", "Result_MethodSpeciation", "Result_SampleFraction", "Result_ResultDetectionCondition",
		"Result_Measure", "Result_MeasureUnit", "Result_MeasureStatusIdentifier", "Result_MeasureType",
		"DetectionLimit_TypeA", "DetectionLimit_MeasureA", "DetectionLimit_MeasureUnitA", "LabInfo_Name", "Result_ResultComment",
	} {
		t.Columns = append(t.Columns, Column{Name: name})
	}
	eachResult(j, sessions, opt, func(_ int, r result) {
		s, place := r.session, r.session.Place
		var location [4]any
		if site, ok := j.Sites.Get(s.Site); ok {
			location[0] = textOrNil(site.Name)
			if !place.Set {
				place = site.Place
			}
		}
		if place.Set {
			location[1], location[2], location[3] = string(degrees(place.Latitude)), string(degrees(place.Longitude)), "WGS84"
		}
		// The zone is UTC: the list of zones there has codes for a few countries only.
		at := s.Sampled.UTC()
		info := r.value.ID.Info()
		if info.Exchange == "" {
			leftOut++
			return
		}
		unit := strings.TrimSuffix(info.Unit.String(), " "+strings.TrimPrefix(info.Speciation, "as "))
		if known, ok := exchangeUnits[unit]; ok {
			unit = known
		}
		var condition, value, limitType, limit, limitUnit, comment any
		valueType := "Actual"
		if r.reading == nil {
			valueType = "Calculated"
		} else {
			comment = "as read: " + journal.TypedReading(r.reading)
		}
		switch r.value.Bound {
		case water.Below:
			condition, limitType, limit, limitUnit = "Below Reporting Limit", "Lower Reporting Limit", r.value.Value, unit
		case water.Above:
			condition, limitType, limit, limitUnit = "Present Above Quantification Limit", "Upper Reporting Limit", r.value.Value, unit
		default:
			value = realOrNil(r.value.Value)
		}
		t.Rows = append(t.Rows, []any{
			textOrNil(j.Settings.Name), s.Site, location[0], location[1], location[2], location[3],
			s.ID, textOrNil(activityTypes[s.Sample]), "Water", at.Format("2006-01-02"), at.Format("15:04:05"), "UTC",
			info.Exchange, textOrNil(info.Speciation), nil, condition,
			value, unit, "Final", valueType, limitType, limit, limitUnit, textOrNil(s.Laboratory), comment,
		})
	})
	return t, leftOut
}
