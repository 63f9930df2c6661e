package report

import (
	"fmt"
	"strings"
	"time"

	"wj/docs/schema"
	"wj/journal"
	"wj/render"
)

// Method is a procedure to work by.
type Method struct {
	Schema      string        `json:"schema"`
	ID          string        `json:"id"`
	Name        string        `json:"name"`
	Analytes    []string      `json:"analytes"`
	Void        *Void         `json:"void"`
	WithinHours *Number       `json:"within_hours"` // of sampling; null where it does not matter
	TimersS     int           `json:"timers_s"`     // how long the timers run together
	Principle   string        `json:"principle,omitempty"`
	Steps       []Step        `json:"steps"`
	Disturbed   []Disturbance `json:"disturbed_by"`
	Ranges      []MethodRange `json:"ranges"`

	notes  string
	within time.Duration
}

// Step is one step with its timers, in seconds.
type Step struct {
	Do    string `json:"do"`
	MixS  int    `json:"mix_s,omitempty"`
	WaitS int    `json:"wait_s,omitempty"`
}

// Disturbance is what makes the method read wrong.
type Disturbance struct {
	Analyte string `json:"analyte,omitempty"`
	Above   string `json:"above,omitempty"`
	Effect  string `json:"effect"`
	Remedy  string `json:"remedy,omitempty"`
}

// MethodRange is what the method can measure, as typed.
type MethodRange struct {
	Analyte string `json:"analyte"`
	Low     string `json:"low"`
	High    string `json:"high"`
}

// NewMethod reads a procedure.
func NewMethod(j *journal.Journal, m *journal.Method) (*Method, error) {
	d, _, err := j.ReadRecord(journal.File{Kind: journal.KindMethod, ID: m.ID, Path: m.Path})
	if err != nil {
		return nil, err
	}
	out := &Method{Schema: schema.ID("method"), ID: m.ID, Name: m.Name, Analytes: []string{}, TimersS: Timers(m), Principle: m.Principle, Steps: []Step{}, Disturbed: []Disturbance{}, Ranges: []MethodRange{},
		notes: strings.TrimSpace(string(d.Source[d.Body:])), within: m.StaleAfter}
	if m.Void != nil {
		out.Void = &Void{Moment{m.Void.On}, m.Void.By, m.Void.Reason, j.PersonName(m.Void.By)}
	}
	if m.StaleAfter > 0 {
		out.WithinHours = number(m.StaleAfter.Hours())
	}
	for _, id := range m.Analytes {
		out.Analytes = append(out.Analytes, id.String())
		if x := m.Measures[id]; x != nil && x.Low.Set && x.High.Set {
			out.Ranges = append(out.Ranges, MethodRange{id.String(), x.Low.String(), x.High.String()})
		}
	}
	for _, s := range m.Steps {
		out.Steps = append(out.Steps, Step{s.Do, int(s.Mix.Seconds()), int(s.Wait.Seconds())})
	}
	for _, x := range m.Interferences {
		one := Disturbance{Effect: x.Effect, Remedy: x.Remedy}
		if x.HasAnalyte {
			one.Analyte = x.Analyte.String()
			if x.Above.Value > 0 {
				one.Above = x.Above.String()
			}
		}
		out.Disturbed = append(out.Disturbed, one)
	}
	return out, nil
}

// Timers is how long the timers of a method run together, in seconds.
func Timers(m *journal.Method) int {
	total := 0
	for _, s := range m.Steps {
		total += int((s.Mix + s.Wait).Seconds())
	}
	return total
}

// ClockText writes seconds as a timer shows them: "2:20"; nothing for none.
func ClockText(seconds int) string {
	if seconds == 0 {
		return ""
	}
	return fmt.Sprintf("%d:%02d", seconds/60, seconds%60)
}

// Document lays the procedure out to work by.
func (m *Method) Document() render.Document {
	d := render.Document{Title: m.Name}
	if m.Void != nil {
		d.Answer("VOID since %s by %s: %s", longDay(m.Void.On.Time), m.Void.name, sentence(m.Void.Reason))
	}
	facts := []string{"for " + strings.ReplaceAll(strings.Join(m.Analytes, ", "), "_", " ")}
	if m.within > 0 {
		facts = append(facts, "within "+everyText(m.within)+" of sampling")
	}
	if t := ClockText(m.TimersS); t != "" {
		facts = append(facts, "timers "+t)
	}
	if m.Principle != "" {
		facts = append(facts, m.Principle)
	}
	d.Answer("%s", strings.Join(facts, " · "))
	for n, s := range m.Steps {
		var times []string
		if s.MixS > 0 {
			times = append(times, "mix "+ClockText(s.MixS))
		}
		if s.WaitS > 0 {
			times = append(times, "wait "+ClockText(s.WaitS))
		}
		text := s.Do
		if len(times) > 0 {
			text += " (" + strings.Join(times, ", ") + ")"
		}
		d.Fact(fmt.Sprintf("%d.", n+1), "%s", text)
	}
	var items []string
	for _, x := range m.Disturbed {
		text := x.Effect
		if x.Analyte != "" {
			what := strings.ReplaceAll(x.Analyte, "_", " ")
			if x.Above != "" {
				what += " above " + x.Above
			}
			text = what + ": " + text
		}
		if x.Remedy != "" {
			text += "; " + x.Remedy
		}
		items = append(items, text)
	}
	d.Items("Interferences", items)
	items = nil
	for _, r := range m.Ranges {
		items = append(items, fmt.Sprintf("%s %s to %s", strings.ReplaceAll(r.Analyte, "_", " "), r.Low, r.High))
	}
	d.Items("Range", items)
	d.Passage("Notes", m.notes)
	return d
}

// everyText writes a span in days, or as it is.
func everyText(d time.Duration) string {
	if h := int(d.Hours()); h > 0 && h%24 == 0 {
		return fmt.Sprintf("%d d", h/24)
	}
	if d%time.Hour == 0 {
		return fmt.Sprintf("%d h", int(d.Hours()))
	}
	return d.String()
}
