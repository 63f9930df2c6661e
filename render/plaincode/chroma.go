// Package chroma stands in for the highlighter of programming languages that the
// Markdown renderer imports. That one reads some 300 grammars and 70 colour
// schemes whenever a program starts, half of the start-up time of wj, and notes
// of a water journal hold no programs: code is shown as it was typed. The file
// go.mod of wj replaces the module by this folder; an upgrade of glamour that
// asks for more of it does not build.
package chroma

// TokenType is a part of speech of a programming language.
type TokenType int

const (
	Background TokenType = iota
	Comment
	CommentPreproc
	Error
	GenericDeleted
	GenericEmph
	GenericInserted
	GenericStrong
	GenericSubheading
	Keyword
	KeywordNamespace
	KeywordReserved
	KeywordType
	Literal
	LiteralDate
	LiteralNumber
	LiteralString
	LiteralStringEscape
	Name
	NameAttribute
	NameBuiltin
	NameClass
	NameConstant
	NameDecorator
	NameException
	NameFunction
	NameOther
	NameTag
	Operator
	Punctuation
	Text
)

// StyleEntries are the colours of the parts of speech. Nothing reads them.
type StyleEntries map[TokenType]string

// Style is a colour scheme.
type Style struct{ Name string }

// MustNewStyle returns a style that has its name alone.
func MustNewStyle(name string, _ StyleEntries) *Style { return &Style{Name: name} }
