package render

import "strings"

// ascii spells what the terminal draws with the characters of every terminal. What people wrote keeps its letters.
var ascii = strings.NewReplacer(" · ", "; ", "·", ".", "±", "+-", "≤", "<=", "≥", ">=", "µ", "u", "°", "deg ", "–", "-", "−", "-", "—", "-", "…", "...", "×", "x", "→", "->",
	"₀", "0", "₁", "1", "₂", "2", "₃", "3", "₄", "4", "¹", "1", "²", "2", "³", "3", "⁴", "4", "⁵", "5", "⁺", "+", "⁻", "-",
	"●", "X", "◐", "?", "○", "o", "◇", "#", "▽", "v", "┊", ":", "╌", "-", "░", ".", "▒", "=", "▓", "%", "█", "#", "▚", "x", "▞", "/", "│", "|", "─", "-", "┤", "+", "└", "+", "┴", "+", "▴", "^",
	"“", `"`, "”", `"`, "‘", "'", "’", "'", "↑", "^", "↓", "v", "▸", ">", "△", "^", "◆", "*", "■", "#", "□", "o", "▲", "^", "▼", "v", "★", "*")

// spell writes a text with the characters that the output can show.
func (o Output) spell(s string) string {
	if !o.ASCII {
		return s
	}
	return ascii.Replace(s)
}

// spellTable does so for a table before it is measured.
func (o Output) spellTable(t Table) Table {
	if !o.ASCII {
		return t
	}
	for i := range t.Columns {
		t.Columns[i].Head, t.Columns[i].Unit = ascii.Replace(t.Columns[i].Head), ascii.Replace(t.Columns[i].Unit)
	}
	for _, row := range t.Rows {
		for i := range row {
			row[i].Text = ascii.Replace(row[i].Text)
		}
	}
	for i := range t.Notes {
		t.Notes[i] = ascii.Replace(t.Notes[i])
	}
	return t
}

// units are the letters of units as people write them.
var units = strings.NewReplacer("uS/cm", "µS/cm", "uS", "µS", "ug/", "µg/", "umol", "µmol", "degC", "°C", "CaCO3", "CaCO₃", "NO3", "NO₃", "NO2", "NO₂", "NH4", "NH₄", "SO4", "SO₄", "SiO2", "SiO₂", "PO4", "PO₄", "Cl2", "Cl₂")

// Unit writes a unit of a record as people do: µS/cm, °C, mg/L CaCO₃.
func Unit(unit string) string { return units.Replace(unit) }
