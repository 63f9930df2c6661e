package exchange

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"wj/journal"
	"wj/water"
)

// results writes what a plan holds, one result a line: site, day, analyte, value, note.
func results(t *testing.T, j *journal.Journal, p *Plan) string {
	t.Helper()
	files := map[string][]byte{}
	for _, r := range p.Records {
		files[r.Path] = r.Source
	}
	with := j.With(files)
	if len(with.Problems) > 0 {
		t.Fatal(with.Problems[0])
	}
	var lines []string
	for _, s := range with.Sessions.List {
		if files[s.Path] == nil {
			continue
		}
		for i := range s.Readings {
			g := &s.Readings[i]
			line := fmt.Sprintf("%s %s %s %s", s.Site, s.Sampled.Format("2006-01-02"), g.Analyte, journal.TypedReading(g))
			if g.Note != "" {
				line += " (" + g.Note + ")"
			}
			lines = append(lines, line+"\n")
		}
	}
	slices.Sort(lines)
	return strings.Join(lines, "")
}

func sorted(text string) string {
	lines := strings.SplitAfter(text, "\n")
	slices.Sort(lines)
	return strings.Join(lines, "")
}

// TestGuessShapes: tables as laboratories and utilities send them. Each is drafted, the questions are
// answered, and it is imported; what it holds is written beside it.
func TestGuessShapes(t *testing.T) {
	for _, c := range []struct {
		name, file string
		answers    []string // old, new, …
		want       string
	}{
		{"analytes in rows, a date a column", "Laboratory Tarrow\nParameter;Einheit;04.03.2026;11.03.2026\nCalcium;mg/l;84,2;86\nSulfat;mg/l;<5;52\nLeitfähigkeit;µS/cm;612;620\nGeruch;;ohne;ohne\n",
			[]string{"site:  #", "site: north-well  #"},
			"north-well 2026-03-04 calcium 84.2 mg/L\nnorth-well 2026-03-04 sulfate <5 mg/L\nnorth-well 2026-03-04 conductivity 612 uS/cm\nnorth-well 2026-03-11 calcium 86 mg/L\nnorth-well 2026-03-11 sulfate 52 mg/L\nnorth-well 2026-03-11 conductivity 620 uS/cm\n"},
		{"analytes in rows under sites and dates, heads without words", ";;North well;;Town main\n;;2026-03-04;2026-03-11;2026-03-04\nVápník;mg/l;84,2;86;40\nSírany;mg/l;52;53;<5\n", nil,
			"north-well 2026-03-04 calcium 84.2 mg/L\nnorth-well 2026-03-04 sulfate 52 mg/L\nnorth-well 2026-03-11 calcium 86 mg/L\nnorth-well 2026-03-11 sulfate 53 mg/L\ntown-main 2026-03-04 calcium 40 mg/L\ntown-main 2026-03-04 sulfate <5 mg/L\n"},
		{"months across, lowest, mean and highest below", "Drinking water 2025\nParameter;Unit;Statistic;Jan;Feb\nSulphate;mg/l;min;40;41\nSulphate;mg/l;mean;50;51\nSulphate;mg/l;max;60;61\nChloride;mg/l;mean;20;21\n",
			[]string{"site:  #", "site: town-main  #"},
			"town-main 2025-01-15 chloride 20 mg/L (mean of a period)\ntown-main 2025-01-15 sulfate 50 mg/L (mean of a period, lowest 40, highest 60)\ntown-main 2025-02-15 chloride 21 mg/L (mean of a period)\ntown-main 2025-02-15 sulfate 51 mg/L (mean of a period, lowest 41, highest 61)\n"},
		{"months over statistics", "Ukazatel;Jednotka;leden 2026;;;únor 2026;;\n;;min;průměr;max;min;průměr;max\nSírany;mg/l;40;50;60;41;51;61\nChloridy;mg/l;18;20;22;19;21;23\n",
			[]string{"site:  #", "site: town-main  #"},
			"town-main 2026-01-15 chloride 20 mg/L (průměr of a period, lowest 18, highest 22)\ntown-main 2026-01-15 sulfate 50 mg/L (průměr of a period, lowest 40, highest 60)\ntown-main 2026-02-15 chloride 21 mg/L (průměr of a period, lowest 19, highest 23)\ntown-main 2026-02-15 sulfate 51 mg/L (průměr of a period, lowest 41, highest 61)\n"},
		{"one analyte, years by months", "Sulfate, mg/l\nYear;January;February;March\n2024;50;51;<5\n2025;53;;54\n",
			[]string{"site:  #", "site: town-main  #"},
			"town-main 2024-01-15 sulfate 50 mg/L\ntown-main 2024-02-15 sulfate 51 mg/L\ntown-main 2024-03-15 sulfate <5 mg/L\ntown-main 2025-01-15 sulfate 53 mg/L\ntown-main 2025-03-15 sulfate 54 mg/L\n"},
		{"year and month in columns, long", "Rok;Miesiąc;Punkt poboru;Wskaźnik;Jednostka;Wynik\n2026;marzec;North well;Siarczany;mg/l;52,5\n2026;maj;North well;Twardość ogólna;mg/l CaCO3;300\n", nil,
			"north-well 2026-03-15 sulfate 52.5 mg/L\nnorth-well 2026-05-15 total_hardness 300 mg/L CaCO3\n"},
		{"year and month in columns, wide, with lowest and highest", "Year,Month,Sulfate min mg/L,Sulfate mean mg/L,Sulfate max mg/L,Calcium mg/L\n2026,3,40,50,60,80\n2026,4,41,51,61,81\n",
			[]string{"site:  #", "site: town-main  #"},
			"town-main 2026-03-15 calcium 80 mg/L\ntown-main 2026-03-15 sulfate 50 mg/L (lowest 40, highest 60)\ntown-main 2026-04-15 calcium 81 mg/L\ntown-main 2026-04-15 sulfate 51 mg/L (lowest 41, highest 61)\n"},
		{"long, with the unit in each cell, and conductivity at 20 °C", "Punto de muestreo,Fecha,Parámetro,Valor\nNorth well,15/02/2023,pH,7.6\nNorth well,15/02/2023,Nitratos,38 mg/L\nNorth well,15/02/2023,Cloruros,<5 mg/L\nNorth well,15/02/2023,Conductividad a 20 °C,890 µS/cm\nTown main,15/02/2023,Dureza total,32 °f\n",
			[]string{"basis: }  #", "basis: NO3}  #"},
			"north-well 2023-02-15 pH 7.6\nnorth-well 2023-02-15 chloride <5 mg/L\nnorth-well 2023-02-15 nitrate 38 mg/L NO3\ntown-main 2023-02-15 total_hardness 32 fH\n"},
		{"wide, with units in the cells", "Messstelle;Entnahmedatum;Sulfat;Eisen, gesamt;Leitfähigkeit bei 25 °C\nNorth well;14.03.2022;92 mg/l;< 20 µg/l;64 mS/m\nNorth well;20.09.2022;95,5 mg/l;0,03 mg/l;63,5 mS/m\n", nil,
			"north-well 2022-03-14 sulfate 92 mg/L\nnorth-well 2022-03-14 iron <20 ug/L\nnorth-well 2022-03-14 conductivity 64 mS/m\nnorth-well 2022-09-20 sulfate 95.5 mg/L\nnorth-well 2022-09-20 iron 0.03 mg/L\nnorth-well 2022-09-20 conductivity 63.5 mS/m\n"},
		{"not detected, with limit and its unit apart", "SiteName,SampleDate,Parameter,Result,Unit,Detection condition,Detection limit,Limit unit\nNorth well,2021-05-04,pH,7.4,std units,,,\nNorth well,2021-05-04,Iron,,,Not Detected,10,ug/l\nNorth well,2021-05-04,Nitrate,2.1,mg/l as N,,,\n", nil,
			"north-well 2021-05-04 pH 7.4\nnorth-well 2021-05-04 nitrate 2.1 mg/L N\nnorth-well 2021-05-04 iron <10 ug/L\n"},
		{"species in the unit, numbers as qualifiers", "nom_station;date_prelevement;nom_param;resultat;symbole_unite;code_remarque;limite_quantification\nNorth well;14/05/2021;Nitrates;24,6;mg(NO3)/L;1;0,5\nNorth well;14/05/2021;Chlorures;18;mg(Cl)/L;1;\nNorth well;14/05/2021;Potentiel en Hydrogène (pH);7,35;unité pH;1;\nNorth well;14/05/2021;Fer;10;µg/L;10;10\n",
			[]string{"\"1\": refuse", "\"1\": exact", "\"10\": refuse", "\"10\": below"},
			"north-well 2021-05-14 pH 7.35\nnorth-well 2021-05-14 chloride 18 mg/L Cl\nnorth-well 2021-05-14 nitrate 24.6 mg/L NO3\nnorth-well 2021-05-14 iron <10 ug/L\n"},
		{"the sign in a column of its own", "Site;Date;;Sulfat mg/l;;Eisen µg/l\nNorth well;2026-03-04;<;5;;30\nTown main;2026-03-04;;50;<;20\n", nil,
			"north-well 2026-03-04 sulfate <5 mg/L\nnorth-well 2026-03-04 iron 30 ug/L\ntown-main 2026-03-04 sulfate 50 mg/L\ntown-main 2026-03-04 iron <20 ug/L\n"},
		{"long, the sign in a column without a word", "Näytteenottopaikka;Päivämäärä;Muuttuja;x;Tulos;Yksikkö\nNorth well;4.3.2026;Sulfaatti;<;5;mg/l\nNorth well;4.3.2026;Rauta;;30;µg/l\n", nil,
			"north-well 2026-03-04 sulfate <5 mg/L\nnorth-well 2026-03-04 iron 30 ug/L\n"},
		{"the table twice in one sheet", "Site;Date;Sulfate mg/L\nNorth well;2026-03-04;50\nTown main;2026-03-04;40\n;;\nSite;Date;Sulfate mg/L\nNorth well;2026-03-04;50\nNorth well;2026-03-11;51\n", nil,
			"north-well 2026-03-04 sulfate 50 mg/L\nnorth-well 2026-03-11 sulfate 51 mg/L\ntown-main 2026-03-04 sulfate 40 mg/L\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			j := smallJournal(t, map[string]string{"sites/town-main.md": "---\nname: Town main\nowner: quillmarsh\nstage: intake\n---\n"})
			draft, _, err := Draft(j, []byte(c.file), "lab.csv", "", "ines")
			if err != nil {
				t.Fatal(err)
			}
			text := string(draft)
			for i := 0; i+1 < len(c.answers); i += 2 {
				if !strings.Contains(text, c.answers[i]) {
					t.Fatalf("the draft lacks %q:\n%s", c.answers[i], text)
				}
				text = strings.Replace(text, c.answers[i], c.answers[i+1], 1)
			}
			m, problems := ParseMapping("map.yaml", []byte(text))
			if len(problems) > 0 {
				t.Fatalf("%v in\n%s", problems[0], text)
			}
			s, err := Read([]byte(c.file), m)
			if err != nil {
				t.Fatal(err)
			}
			p, wrong := Import(j, m, s, ImportOptions{File: "lab.csv", By: "ines"})
			if wrong != nil {
				t.Fatalf("%v with\n%s", wrong, text)
			}
			if got := results(t, j, p); got != sorted(c.want) {
				t.Errorf("it holds\n%swant\n%swith\n%s%s", got, c.want, text, verdicts(p))
			}
		})
	}
}

// The names of the table are folded and read back; a name that two analytes have is none's.
func TestNamesInOtherLanguages(t *testing.T) {
	for name, want := range map[string]water.ID{"Twardość ogólna": water.TotalHardness, "Sähkönjohtavuus": water.ElectricalConductivity, "dusičnany": water.Nitrate, "Geležis": water.Iron,
		"Vezetőképesség": water.ElectricalConductivity, "Cloro libero": water.FreeChlorine, "IJzer": water.Iron, "Hårdhed, total": water.TotalHardness, "Željezo": water.Iron} {
		if id, ok := analyteNamed(name); !ok || id != want {
			t.Errorf("%s: %v %v, want %s", name, id, ok, want)
		}
	}
	languages := map[string]bool{}
	for line := range strings.Lines(namesTable) {
		if code, _, ok := strings.Cut(line, "\t"); ok && len(code) == 2 {
			languages[code] = true
		}
	}
	if len(languages) < 12 {
		t.Errorf("%d languages", len(languages))
	}
	for text, want := range map[string]string{"únor 2026": "February 2026", "marzec": "March", "Mar": "March", "juin 2025": "June 2025", "juil. 2025": "July 2025", "listopad": "listopad", "März": "March", "heinäkuu": "July"} {
		if got := monthsIn(text, "January 2006"); got != want {
			t.Errorf("%s: %s, want %s", text, got, want)
		}
	}
}

// A workbook with the same table in two sheets: both are named in the draft, and what is in both is taken once.
func TestSheetTwice(t *testing.T) {
	cell := func(ref, text string) string {
		return `<c r="` + ref + `" t="inlineStr"><is><t>` + text + `</t></is></c>`
	}
	head := `<row r="1">` + cell("A1", "Site") + cell("B1", "Date") + cell("C1", "Sulfate mg/L") + `</row>`
	row := func(n, day, value string) string {
		return `<row r="` + n + `">` + cell("A"+n, "North well") + cell("B"+n, day) + cell("C"+n, value) + `</row>`
	}
	src := workbookOf(t, head+row("2", "2026-05-04", "50"), map[string]string{
		"xl/workbook.xml":            `<workbook xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="2025" sheetId="1" r:id="rId1"/><sheet name="2025 (2)" sheetId="2" r:id="rId2"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships><Relationship Id="rId1" Target="worksheets/sheet1.xml"/><Relationship Id="rId2" Target="worksheets/sheet2.xml"/></Relationships>`,
		"xl/worksheets/sheet2.xml":   `<worksheet><sheetData>` + head + row("2", "2026-05-04", "50") + row("3", "2026-05-11", "51") + `</sheetData></worksheet>`,
	})
	j := smallJournal(t, nil)
	draft, _, err := Draft(j, src, "lab.xlsx", "", "ines")
	if err != nil || !strings.Contains(string(draft), `sheet: [2025, 2025 (2)]  # ? these sheets have the same heads`) {
		t.Fatalf("%v %s", err, draft)
	}
	m, problems := ParseMapping("map.yaml", draft)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	s, err := Read(src, m)
	if err != nil {
		t.Fatal(err)
	}
	p := plan(t, j, m, s)
	if got := results(t, j, p); got != "north-well 2026-05-04 sulfate 50 mg/L\nnorth-well 2026-05-11 sulfate 51 mg/L\n" {
		t.Errorf("%s%s", got, verdicts(p))
	}
	if lines := strings.Join(p.Lines("lab.xlsx"), "\n"); !strings.Contains(lines, "lab.xlsx, 2025 (2):2: skipped: the same as in row 2") {
		t.Error(lines)
	}
}
