package render

import (
	"strings"
)

// MarkdownTable writes a table for a Markdown file, with pipes as GitHub reads them; marks stand behind the values,
// units behind the heads, and nothing in a cell can end the cell or start markup.
func MarkdownTable(t Table) string {
	t = cleaned(t)
	grid := [][]string{{}, {}}
	for _, column := range t.Columns {
		head, rule := escapeMarkdown(column.Head), "---"
		if column.Unit != "" {
			head += " (" + escapeMarkdown(column.Unit) + ")"
		}
		if column.Right {
			rule = "--:"
		}
		grid[0], grid[1] = append(grid[0], head), append(grid[1], rule)
	}
	for _, row := range t.Rows {
		var cells []string
		for _, cell := range row {
			text := escapeMarkdown(cell.Text)
			if cell.marked() {
				text += " " + escapeMarkdown(cell.State.Style().Mark)
			}
			cells = append(cells, text)
		}
		grid = append(grid, cells)
	}
	widths := make([]int, len(t.Columns))
	for _, cells := range grid {
		for i, text := range cells {
			widths[i] = max(widths[i], Width(text))
		}
	}
	var b strings.Builder
	for _, cells := range grid {
		for i, text := range cells {
			b.WriteString("| " + pad(text, widths[i], t.Columns[i].Right) + " ")
		}
		b.WriteString("|\n")
	}
	for _, note := range t.Notes {
		b.WriteString("\n" + escapeMarkdown(Line(note)) + "\n")
	}
	return b.String()
}

// escapeMarkdown puts a backslash before every character that could start markup (CommonMark 0.31.2, section 2.4).
// An underscore inside a name is left alone, since it marks nothing there.
func escapeMarkdown(s string) string {
	var b strings.Builder
	runes := []rune(s)
	for i, r := range runes {
		inside := i > 0 && i+1 < len(runes) && wordRune(runes[i-1]) && wordRune(runes[i+1])
		if strings.ContainsRune("\\`*[]<>|~&!$", r) || r == '_' && !inside || i == 0 && strings.ContainsRune("#+-=", r) && !isNumber(s) && !blank(s) {
			b.WriteByte('\\')
		}
		b.WriteRune(r)
	}
	return b.String()
}

func wordRune(r rune) bool {
	return r == '_' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z'
}
