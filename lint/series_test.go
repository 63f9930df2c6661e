package lint

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"wj/journal"
	"wj/water"
)

type expanded struct{ path, text, comment string }

// jitter is what repeated sessions differ by, in units of what follows ~.
var jitter = []float64{0, 0.7, -0.5, 1, -0.9, 0.3, -0.2, 0.6, -1, 0.4}

// usualLot is the lot of the base journal for an analyte.
var usualLot = map[string]string{"pH": "PH-2601", "alkalinity": "AL-2601", "calcium_hardness": "CH-2601", "total_hardness": "TH-2601", "chloride": "CL-2601",
	"sulfate": "SU-2601", "free_chlorine": "FC-2601", "total_chlorine": "FC-2601"}

// expandSeries makes a session of each line: DAY SITE NAME=VALUE …, or several
// of "repeat N DAYS DAY SITE NAME=VALUE~JITTER+STEP …". An analyte's value is a
// number in its standard unit, or a quantity with _ for blanks, with xN for a
// dilution; lot.ANALYTE, at (time of day) and fields of a session may follow.
func expandSeries(t *testing.T, text string) []expanded {
	t.Helper()
	zone, err := time.LoadLocation("Europe/Vilnius")
	if err != nil {
		t.Fatal(err)
	}
	var out []expanded
	for _, line := range strings.Split(text, "\n") {
		line, comment, _ := strings.Cut(line, "#")
		fields := strings.Fields(line)
		if len(fields) == 0 {
			continue
		}
		n, step := 1, 0
		if fields[0] == "repeat" {
			n, _ = strconv.Atoi(fields[1])
			step, _ = strconv.Atoi(strings.TrimSuffix(fields[2], "d"))
			fields = fields[3:]
		}
		day := at(t, fields[0])
		for i := range n {
			clock, lots, head, readings := "08:15", map[string]string{}, "", ""
			for _, f := range fields[2:] {
				key, value, _ := strings.Cut(f, "=")
				value = strings.ReplaceAll(value, "_", " ")
				if a, ok := strings.CutPrefix(key, "lot."); ok {
					lots[a] = value
				} else if key == "at" {
					clock = value
				}
			}
			hasBy, hasMeter := false, false
			for _, f := range fields[2:] {
				key, value, _ := strings.Cut(f, "=")
				id, analyte := water.LookupAnalyte(key)
				switch {
				case key == "at" || strings.HasPrefix(key, "lot."):
				case analyte:
					readings += "  " + key + ": " + seriesReading(id, value, lots, i) + "\n"
				default:
					hasBy, hasMeter = hasBy || key == "by", hasMeter || key == "instrument" || key == "source"
					if key != "id" {
						head += key + ": " + strings.ReplaceAll(value, "_", " ") + "\n"
					}
				}
			}
			d := day.AddDate(0, 0, i*step)
			hour, minute, _ := strings.Cut(clock, ":")
			h, _ := strconv.Atoi(hour)
			m, _ := strconv.Atoi(minute)
			sampled := time.Date(d.Year(), d.Month(), d.Day(), h, m, 0, 0, zone)
			id := d.Format("2006-01-02") + "-" + fields[1]
			for _, f := range fields[2:] {
				if v, ok := strings.CutPrefix(f, "id="); ok {
					id += v
				}
			}
			if !hasBy {
				head = "by: ines\n" + head
			}
			if !hasMeter {
				head += "instrument: meter-2\n"
			}
			body := fmt.Sprintf("---\nsite: %s\nsampled: %s\ntested: %s\n%sreadings:\n%s---\n", fields[1], journal.FormatTime(sampled), journal.FormatTime(sampled.Add(10*time.Minute)), head, readings)
			out = append(out, expanded{"sessions/" + d.Format("2006") + "/" + id + ".md", body, "#" + comment})
		}
	}
	return out
}

func seriesReading(id water.ID, value string, lots map[string]string, i int) string {
	value, dilution, diluted := strings.Cut(value, "x")
	quantity := strings.ReplaceAll(value, "_", " ")
	mean, more, varied := strings.Cut(quantity, "~")
	if varied {
		spread, slope, _ := strings.Cut(more, "+")
		m, _ := strconv.ParseFloat(mean, 64)
		s, _ := strconv.ParseFloat(spread, 64)
		b, _ := strconv.ParseFloat(slope, 64)
		decimals := 0
		if _, frac, ok := strings.Cut(mean, "."); ok {
			decimals = len(frac)
		}
		// Each analyte walks through the jitter at its own pace.
		v := m + s*jitter[(i*(3+2*int(id)%4)+int(id))%len(jitter)] + b*float64(i)
		quantity = strconv.FormatFloat(math.Round(v*math.Pow10(decimals))/math.Pow10(decimals), 'f', decimals, 64)
	}
	if !strings.Contains(quantity, " ") {
		if u := id.Info().Unit; !u.IsNone() {
			quantity += " " + u.String()
		}
	}
	lot := usualLot[id.String()]
	if l, ok := lots[id.String()]; ok {
		lot = l
	}
	out := "{value: " + quantity
	if diluted {
		out += ", dilution: " + dilution
	}
	switch {
	case id == water.ElectricalConductivity:
		out += ", instrument: ec-pen-1"
	case lot != "" && lot != "none":
		out += ", lot: " + lot
	}
	return out + "}"
}
