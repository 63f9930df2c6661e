package render

import "strings"

// palette are the colours of pages, pictures and maps, one name each: on paper, in the dark and in print. Contrasts: text
// 4.5:1 and more, marks 3:1 and more on every ground that they are used on (WCAG 2.2, 1.4.3 and 1.4.11; TestPalette measures
// them). The series s1 to s6 stay apart with protanopia, deuteranopia and tritanopia (TestSeriesColourBlind).
var palette = [...]struct{ name, light, dark, print string }{
	{"paper", "#fbfaf7", "#14181b", "#fff"}, {"panel", "#f1efe9", "#1d2327", "#fff"}, {"shade", "#e9e5db", "#262c30", "#eee"},
	{"band", "#d6e3e6", "#22414a", "#dde6e8"}, {"ink", "#1b2226", "#e9e7e1", "#000"}, {"soft", "#4f595f", "#aab1b3", "#333"},
	{"rule", "#d5d0c5", "#394045", "#999"}, {"edge", "#7d7a70", "#848b8d", "#555"}, {"link", "#14596a", "#86c9d6", "#000"},
	{"mark", "#14505f", "#a6dbe4", "#14505f"}, {"over", "#8f1d5e", "#f58fb8", "#8f1d5e"}, {"unsure", "#6b5800", "#d9c04f", "#5a4a00"},
	{"s1", "#1e4a5c", "#63d6dc", "#1e4a5c"}, {"s2", "#b07694", "#956d88", "#b07694"}, {"s3", "#985300", "#dcc94a", "#985300"},
	{"s4", "#7758c6", "#9a7cf0", "#7758c6"}, {"s5", "#679062", "#4a8a2f", "#679062"}, {"s6", "#543c30", "#e88a8a", "#543c30"},
}

// PictureColours fills the names of colours in the rules of a style sheet, var(--ink), for paper, for the dark and for print:
// what shows a picture by itself often knows no custom properties (CSS Custom Properties for Cascading Variables, Level 1), but
// a reader's light or dark setting (CSS Media Queries, Level 5, prefers-color-scheme).
func PictureColours(rules string) string {
	var light, dark, print []string
	for _, c := range palette {
		name := "var(--" + c.name + ")"
		light, dark, print = append(light, name, c.light), append(dark, name, c.dark), append(print, name, c.print)
	}
	fill := func(with []string) string { return strings.NewReplacer(with...).Replace(rules) }
	return fill(light) + "\n@media (prefers-color-scheme:dark){" + fill(dark) + "}\n@media print{" + fill(print) + "}\n"
}

// pageColours are the same colours as custom properties of a page.
func pageColours() string {
	var light, dark, print strings.Builder
	for _, c := range palette {
		light.WriteString("--" + c.name + ": " + c.light + "; ")
		dark.WriteString("--" + c.name + ": " + c.dark + "; ")
		print.WriteString("--" + c.name + ": " + c.print + "; ")
	}
	return ":root { color-scheme: light dark; " + light.String() + "}\n@media (prefers-color-scheme: dark) { :root { " + dark.String() +
		"} }\n@media print { :root { color-scheme: light; " + print.String() + "} }\n"
}
