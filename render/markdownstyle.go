package render

import "github.com/charmbracelet/glamour/ansi"

// markdownStyle is how prose looks. Without colour the marks of Markdown itself stay, so that the structure is still seen.
func (o Output) markdownStyle() ansi.StyleConfig {
	yes, two := true, uint(2)
	bar, none := "│ ", uint(0)
	one := uint(1)
	style := ansi.StyleConfig{
		Document:       ansi.StyleBlock{Margin: &none},
		BlockQuote:     ansi.StyleBlock{Indent: &one, IndentToken: &bar},
		List:           ansi.StyleList{LevelIndent: 2},
		Heading:        ansi.StyleBlock{StylePrimitive: ansi.StylePrimitive{BlockSuffix: "\n"}},
		Item:           ansi.StylePrimitive{BlockPrefix: "- "},
		Enumeration:    ansi.StylePrimitive{BlockPrefix: ". "},
		Task:           ansi.StyleTask{Ticked: "- [x] ", Unticked: "- [ ] "},
		CodeBlock:      ansi.StyleCodeBlock{StyleBlock: ansi.StyleBlock{Margin: &two}},
		HorizontalRule: ansi.StylePrimitive{Format: "\n────────\n"},
	}
	if !o.Colour {
		for i, heading := range headings(&style) {
			heading.Prefix = "######"[:i+1] + " "
		}
		style.Emph = ansi.StylePrimitive{BlockPrefix: "*", BlockSuffix: "*"}
		style.Strong = ansi.StylePrimitive{BlockPrefix: "**", BlockSuffix: "**"}
		style.Strikethrough = ansi.StylePrimitive{BlockPrefix: "~~", BlockSuffix: "~~"}
		style.Code.StylePrimitive = ansi.StylePrimitive{Prefix: "`", Suffix: "`"}
		return style
	}
	for _, heading := range headings(&style) {
		heading.Bold = &yes
	}
	style.H1.Underline = &yes
	style.Emph.Italic = &yes
	style.Strong.Bold = &yes
	style.Strikethrough.CrossedOut = &yes
	style.LinkText = ansi.StylePrimitive{Underline: &yes}
	style.Code.Underline = &yes
	return style
}

func headings(style *ansi.StyleConfig) []*ansi.StyleBlock {
	return []*ansi.StyleBlock{&style.H1, &style.H2, &style.H3, &style.H4, &style.H5, &style.H6}
}
