package exchange

import (
	"archive/zip"
	"bytes"
	"strings"
	"testing"

	"wj/journal"
)

// workbookOf packs a workbook of one sheet from its parts.
func workbookOf(t testing.TB, sheetXML string, more map[string]string) []byte {
	t.Helper()
	parts := map[string]string{
		"xl/workbook.xml":            `<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="Results" sheetId="1" r:id="rId1"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Target="worksheets/sheet1.xml"/></Relationships>`,
		"xl/worksheets/sheet1.xml":   `<worksheet><sheetData>` + sheetXML + `</sheetData></worksheet>`,
		"xl/sharedStrings.xml":       `<sst><si><t>Site</t></si><si><r><t>Ca </t></r><r><t>(mg/l)</t></r><rPh><t>x</t></rPh></si></sst>`,
		"xl/styles.xml":              `<styleSheet><numFmts><numFmt numFmtId="164" formatCode="dd/mm/yyyy\ hh:mm"/><numFmt numFmtId="165" formatCode="0.00&quot; d&quot;"/></numFmts><cellStyleXfs><xf numFmtId="14"/></cellStyleXfs><cellXfs><xf numFmtId="0"/><xf numFmtId="14"/><xf numFmtId="164"/><xf numFmtId="165"/></cellXfs></styleSheet>`,
	}
	for name, text := range more {
		parts[name] = text
	}
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, text := range parts {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(text)); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestWorkbook: values, shared texts, gaps, dates. Serial numbers: ECMA-376, part
// 1, 18.17.4: 1 is 1900-01-01; 43831 is 2020-01-01 (as spreadsheets show it).
func TestWorkbook(t *testing.T) {
	src := workbookOf(t, `<row r="2"><c r="A2" t="s"><v>0</v></c><c r="C2" t="s"><v>1</v></c></row>`+
		`<row r="5"><c r="A5" t="inlineStr"><is><t> W1 </t></is></c><c r="B5" s="1"><v>43831</v></c><c r="C5"><v>7.4200000000000008</v></c><c r="D5" s="2"><v>43831.34375</v></c><c r="E5" s="3"><v>3</v></c>`+
		`<c r="F5" t="str"><f>A1&amp;"x"</f><v>y</v></c><c r="G5"><f>1+1</f></c><c r="H5" t="e"><v>#N/A</v></c><c r="I5" t="b"><v>1</v></c><c r="J5" s="1"><v>1</v></c><c r="K5"><v>1E-3</v></c></row>`, nil)
	s, err := ReadWorkbook(src, "")
	if err != nil {
		t.Fatal(err)
	}
	if s.Name != "Results" || len(s.Lines) != 2 || s.Lines[0].Number != 2 || s.Lines[1].Number != 5 {
		t.Fatalf("%+v", s)
	}
	var texts []string
	for _, l := range s.Lines {
		for _, c := range l.Cells {
			texts = append(texts, c.Text)
		}
	}
	if got, want := strings.Join(texts, "|"), "Site||Ca (mg/l)|W1|2020-01-01|7.42|2020-01-01 08:15:00|3|y|=1+1|#N/A|true|1900-01-01|0.001"; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if c := s.Lines[1].Cells[1]; !c.Day || c.Clock {
		t.Errorf("a date without a time: %+v", c)
	}
	if c := s.Lines[1].Cells[3]; !c.Day || !c.Clock {
		t.Errorf("a date with a time: %+v", c)
	}
	mac := workbookOf(t, `<row r="1"><c r="A1" s="1"><v>42369</v></c></row>`, map[string]string{"xl/workbook.xml": `<workbook xmlns:r="r"><workbookPr date1904="1"/><sheets><sheet name="S" r:id="rId1"/></sheets></workbook>`})
	if s, err := ReadWorkbook(mac, "S"); err != nil || s.Lines[0].Cells[0].Text != "2020-01-01" {
		t.Errorf("dates from 1904: %+v %v", s, err)
	}
	if _, err := ReadWorkbook(src, "Other"); err == nil || !strings.Contains(err.Error(), "its sheets are Results") {
		t.Errorf("a sheet that is not there: %v", err)
	}
}

// TestHostileWorkbooks: each is refused.
func TestHostileWorkbooks(t *testing.T) {
	bomb := workbookOf(t, `<row r="1"/>`, map[string]string{"xl/sharedStrings.xml": "<sst>" + strings.Repeat(" ", maxPart+1) + "</sst>"})
	if len(bomb) > 1<<20 {
		t.Fatal("the bomb is no bomb")
	}
	deep := strings.Repeat("<is>", 200_000)
	for name, src := range map[string][]byte{
		"bomb":           bomb,
		"deep":           workbookOf(t, `<row r="1"><c r="A1">`+deep+`</c></row>`, nil),
		"text out":       workbookOf(t, `<row r="1"><c r="A1" t="s"><v>7</v></c></row>`, nil),
		"negative":       workbookOf(t, `<row r="1"><c r="A1" t="s"><v>-1</v></c></row>`, nil),
		"row order":      workbookOf(t, `<row r="9"/><row r="3"/>`, nil),
		"far column":     workbookOf(t, `<row r="1"><c r="XFD1"><v>1</v></c></row>`, nil),
		"column order":   workbookOf(t, `<row r="1"><c r="C1"><v>1</v></c><c r="A1"><v>1</v></c></row>`, nil),
		"no row":         workbookOf(t, `<c r="A1"><v>1</v></c>`, nil),
		"broken xml":     workbookOf(t, `<row r="1"><c`, nil),
		"outside target": workbookOf(t, ``, map[string]string{"xl/_rels/workbook.xml.rels": `<Relationships><Relationship Id="rId1" Target="../../../etc/passwd"/></Relationships>`}),
		"entity":         workbookOf(t, `&xxe;`, nil),
		"no zip":         []byte("PK\x03\x04 nothing"),
		"old":            []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"),
	} {
		if s, err := ReadWorkbook(src, ""); err == nil {
			t.Errorf("%s was read: %d lines", name, len(s.Lines))
		}
	}
}

func TestDelimited(t *testing.T) {
	for _, c := range []struct{ text, encoding, want string }{
		{"a,b\n1,2\n", "", "1:a|b 2:1|2"},
		{"a;b\n1,5;2\n", "", "1:a|b 2:1,5|2"},
		{"a\tb\r\n1\t2\r\n", "", "1:a|b 2:1|2"},
		{"a,b\r1,2\r", "", "1:a|b 2:1|2"}, // old spreadsheets end lines with CR alone
		{"\xef\xbb\xbfa,b\n", "", "1:a|b"},
		{"a,\"x\ny\"\n1,2\n", "", "1:a|x\ny 3:1|2"},
		{"\xff\xfea\x00,\x00\xb5\x00\n\x00", "", "1:a|µ"},
		{"Temp \xb0C,b\n", "windows-1252", "1:Temp °C|b"},
		{"\x80\xa0,b\n", "windows-1252", "1:€|b"},
		{"a|b|c\n1|2|3\n", "", "1:a|b|c 2:1|2|3"},
	} {
		s, err := ReadDelimited([]byte(c.text), 0, c.encoding)
		if err != nil {
			t.Errorf("%q: %v", c.text, err)
			continue
		}
		var lines []string
		for _, l := range s.Lines {
			var cells []string
			for _, cell := range l.Cells {
				cells = append(cells, cell.Text)
			}
			lines = append(lines, strings.TrimSpace(strings.Join([]string{string(rune('0' + l.Number)), ":", strings.Join(cells, "|")}, "")))
		}
		if got := strings.Join(lines, " "); got != c.want {
			t.Errorf("%q: got %q, want %q", c.text, got, c.want)
		}
	}
	for _, bad := range []string{"a,b\n\"1,2\n", "a\x00b", "Temp \xb0C,b\n", "a,\"" + strings.Repeat("x", maxCellText+1) + "\"\n"} {
		if _, err := ReadDelimited([]byte(bad), 0, ""); err == nil {
			t.Errorf("%.20q was read", bad)
		}
	}
}

func FuzzReadDelimited(f *testing.F) {
	for _, s := range []string{"a,b\n1,2\n", "a;\"b\n\"\"\";\n", "\xff\xfea\x00", "\xef\xbb\xbf\t\t\n", "a\rb"} {
		f.Add([]byte(s))
	}
	j := smallJournal(f, nil)
	f.Fuzz(func(t *testing.T, src []byte) {
		if len(src) > 1<<16 {
			return
		}
		s, err := ReadDelimited(src, 0, "")
		if err != nil {
			return
		}
		last := 0
		for _, l := range s.Lines {
			if l.Number < last {
				t.Fatal("lines go back")
			}
			last = l.Number
		}
		_, _, _ = Guess(j, s, "f", "ines")
	})
}

func FuzzReadWorkbook(f *testing.F) {
	f.Add(workbookOf(f, `<row r="1"><c r="A1" t="s"><v>0</v></c></row>`, nil))
	f.Fuzz(func(t *testing.T, src []byte) {
		_, _ = ReadWorkbook(src, "")
	})
}

// FuzzSheetXML changes what is in the sheet, past the checksums of the ZIP.
func FuzzSheetXML(f *testing.F) {
	f.Add(`<row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" s="2"><v>1.5</v></c></row>`)
	f.Add(`<row><c><is><t>x</t></is></c></row>`)
	f.Fuzz(func(t *testing.T, text string) {
		if len(text) > 1<<16 {
			return
		}
		s, err := ReadWorkbook(workbookOf(t, text, nil), "")
		if err == nil {
			for _, l := range s.Lines {
				if len(l.Cells) > maxSheetCols {
					t.Fatal("too many columns")
				}
			}
		}
	})
}

// FuzzImport: whatever map and table come, every record of a plan is right, every
// row has a verdict, and nothing panics.
func FuzzImport(f *testing.F) {
	f.Add(wideHead+"results:\n  Ca: {analyte: calcium, unit: mg/L}\n", "Well,Date,Ca\nnorth-well,2026-05-01 08:00,80\n")
	f.Add(wideHead+"new_sites: {owner: quillmarsh, stage: other}\nnotes: [Ca]\nresults:\n  Ca: {analyte: calcium, unit: mg/L}\n", "Well,Date,Ca\nx y\u202e,2026-05-01 08:00,<80\n")
	f.Add("source: lab\nsite: north-well\nsampled: 2026-05-01T08:00+03:00\nresult: {analyte: {column: A}, value: B, unit: mg/L}\n", "A,B\ncalcium,1\nsulfate,<2\n")
	f.Add(wideHead+"new_sites: {owner: nobody, stage: other}\nresults:\n  Ca: {analyte: calcium, unit: mg/L}\n", "Well,Date,Ca\nx,2026-05-01 08:00,80\n")
	j := smallJournal(f, nil)
	f.Fuzz(func(t *testing.T, mapText, table string) {
		if len(mapText)+len(table) > 1<<16 {
			return
		}
		m, problems := ParseMapping("map.yaml", []byte(mapText))
		s, err := ReadDelimited([]byte(table), 0, "")
		if err != nil || len(problems) > 0 {
			return
		}
		p, wrong := Import(j, m, s, ImportOptions{File: "f.csv", By: "ines", Partial: true})
		if wrong != nil {
			return
		}
		sites := map[string]*journal.Site{}
		for _, r := range p.Records {
			if r.Kind == journal.KindSite {
				sites[r.ID] = &journal.Site{}
			}
		}
		for _, r := range p.Records {
			if !journal.ValidID(r.ID, r.Kind) {
				t.Fatalf("the id %q", r.ID)
			}
			if fault := checkPlanned(r, known{&importer{j: j, fresh: sites}}); fault != nil {
				t.Fatalf("%s: %s\n%s", r.Path, fault.message, r.Source)
			}
		}
	})
}
