package start

import (
	"fmt"
	"strings"
	"testing"

	"wj/journal"
	"wj/render/terminal"
)

// asked types answers line by line, and keeps what did not fit.
func asked(lines ...string) (*terminal.Questions, *[]string) {
	wrong := new([]string)
	q := terminal.NewQuestions(strings.NewReader(strings.Join(lines, "\n") + "\n"))
	q.Print = func(string) error { return nil }
	q.Talk = func(string, ...any) {}
	q.Complain = func(err error) { *wrong = append(*wrong, err.Error()) }
	return q, wrong
}

func TestAnswersAsk(t *testing.T) {
	q, wrong := asked("Hill Brewery", "Norway", "NO", "Europe/Nowhere", "Europe/Oslo", "Ída Berg", "", "ida@hill.example",
		"Town main, Hot liquor=hot-liquor", "ph-1", "electrode", "", "-", "", "soon", "14 d")
	a := Answers{Timezone: "UTC"}
	if err := a.Ask(q, nil); err != nil {
		t.Fatal(err)
	}
	if len(*wrong) != 3 {
		t.Errorf("refused %q", *wrong)
	}
	got := fmt.Sprintf("%s|%s|%s|%s|%s|%s|%v|%d", a.Name, a.Country, a.Timezone, a.Person, a.Email, a.Every, a.Taps, len(a.Meters[0].Measures))
	if want := "Hill Brewery|NO|Europe/Oslo|ida|ida@hill.example|14 d|[{town-main Town main intake} {hot-liquor Hot liquor hot-liquor}]|1"; got != want {
		t.Errorf("%s\nnot %s", got, want)
	}
	if files, err := Files(a, nil); err != nil || len(files) < 6 {
		t.Errorf("%d files, %v", len(files), err)
	}
}

func TestAskRecord(t *testing.T) {
	for _, c := range []struct {
		kind  journal.Kind
		id    string
		lines []string
		want  string
	}{
		{journal.KindLot, "", []string{"a b", "SU-7", "sulfate", "2027-05", "50"}, "SU-7 [analyte=sulfate expires=2027-05 tests=50]"},
		{journal.KindLot, "GY-1", []string{"", "gypsum", "", ""}, "GY-1 [substance=gypsum]"},
		{journal.KindInstrument, "th-1", []string{"thermometer", "degC 0 60"}, "th-1 [name=Thermometer sort=thermometer measures.temperature={units: degC, range: [0 degC, 60 degC]}]"},
	} {
		q, _ := asked(c.lines...)
		name, fields, err := AskRecord(q, c.kind, c.id)
		if got := fmt.Sprint(name, " ", fields); err != nil || got != c.want {
			t.Errorf("%s: %v\n%s, not\n%s", c.kind, err, got, c.want)
		}
	}
}
