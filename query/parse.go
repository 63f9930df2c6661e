package query

import (
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/expr-lang/expr/ast"
	"github.com/expr-lang/expr/conf"
	"github.com/expr-lang/expr/file"
	"github.com/expr-lang/expr/parser"
)

// Caps on an expression. The parser recurses once for each bracket and prefix operator and has no limit of its
// own: a million parentheses overflow its stack, which nothing can recover from. So size and depth are checked on
// the text, before the parser sees it.
const (
	maxSource = 4 << 10
	maxDepth  = 64
	maxNodes  = 500
)

// parse turns a source into the parser's tree. Errors are *Error.
func parse(source string) (node ast.Node, err error) {
	if len(source) > maxSource {
		return nil, &Error{Line: 1, Column: 1, Message: fmt.Sprintf("the expression is %d bytes long, more than the %d that are allowed", len(source), maxSource),
			Help: "ask for less at a time", Source: source[:0]}
	}
	if !utf8.ValidString(source) {
		return nil, &Error{Line: 1, Column: 1, Message: "the expression is not valid UTF-8", Help: "type it again", Source: strings.ToValidUTF8(source, "?")}
	}
	if e := checkDepth(source); e != nil {
		return nil, e
	}
	// The parser is another's code; a fault in it must not end the program.
	defer func() {
		if fault := recover(); fault != nil {
			node, err = nil, errorAt(source, 0, "the expression could not be read", "write it more simply")
		}
	}()
	config := conf.CreateNew()
	for name := range config.Builtins {
		config.Disabled[name] = true
	}
	config.MaxNodes = maxNodes
	config.DisableIfOperator = true
	tree, parseError := parser.ParseWithConfig(source, config)
	if parseError != nil {
		var at *file.Error
		if !errors.As(parseError, &at) {
			return nil, errorAt(source, 0, parseError.Error(), "")
		}
		return nil, syntaxError(source, at)
	}
	return tree.Node, nil
}

// checkDepth counts open brackets and runs of prefix operators outside quoted text, which must end.
func checkDepth(source string) *Error {
	depth, prefixes, offset, opened := 0, 0, -1, 0
	var quote rune
	escaped := false
	for i, r := range source {
		offset++
		if quote != 0 {
			switch {
			case escaped:
				escaped = false
			case r == '\\' && quote != '`':
				escaped = true
			case r == quote:
				quote = 0
			}
			continue
		}
		switch r {
		case '"', '\'', '`':
			quote, opened, prefixes = r, offset, 0
		case '(', '[', '{':
			depth++
			prefixes = 0
		case ')', ']', '}':
			depth--
			prefixes = 0
		case '!', '-', '+', '?', '^', '*':
			prefixes++
		case ' ', '\t', '\n', '\r':
		case 'n', 'o', 't':
			if r == 'n' && strings.HasPrefix(source[i:], "not") {
				prefixes++
			}
		default:
			prefixes = 0
		}
		if depth > maxDepth || prefixes > maxDepth {
			return errorAt(source, offset, fmt.Sprintf("the expression is nested more than %d deep", maxDepth), "write it more simply")
		}
	}
	if quote != 0 {
		return errorAt(source, opened, "the quoted text has no end", "add the closing quote")
	}
	return nil
}

// endsInDigit reports whether a number ends the text, blanks aside.
func endsInDigit(s string) bool {
	s = strings.TrimRight(s, " ")
	return s != "" && s[len(s)-1] >= '0' && s[len(s)-1] <= '9'
}

// syntaxError says a parser's complaint in our words.
func syntaxError(source string, at *file.Error) *Error {
	message, help := at.Message, ""
	offset := min(at.From, utf8.RuneCountInString(source))
	rest := string([]rune(source)[offset:])
	word, _, _ := strings.Cut(strings.TrimLeft(rest, " "), " ")
	switch {
	case strings.Contains(message, "maximum allowed nodes"):
		return errorAt(source, offset, fmt.Sprintf("the expression has more than %d parts", maxNodes), "ask for less at a time")
	case strings.Contains(message, "EOF") || strings.Contains(message, "unexpected end"):
		offset = utf8.RuneCountInString(strings.TrimRight(source, " \t\r\n"))
		message, help = "the expression ends too early", "something is missing at its end: a value or a bracket"
	case strings.HasPrefix(rest, "="):
		message, help = "= is not a comparison", "write == for \"is equal to\""
	case strings.HasPrefix(rest, "&"):
		message, help = "& alone is not known", "write and, or &&"
	case strings.EqualFold(word, "and") || strings.EqualFold(word, "or") || strings.EqualFold(word, "not") || strings.EqualFold(word, "in"):
		message, help = fmt.Sprintf("%s is not expected here", word), "write and, or, not, in with small letters and a value on each side"
	case strings.HasPrefix(rest, "<>") || strings.HasPrefix(rest, ">") && offset > 0 && []rune(source)[offset-1] == '<':
		message, help = "<> is not a comparison", "write != for \"is not equal to\""
	case endsInDigit(string([]rune(source)[:offset])):
		message, help = fmt.Sprintf("%q is not expected here", shorten(word)), "a unit is in quotes with its number: sulfate > \"80 mg/L\", or alkalinity > dKH(7)"
	case word != "":
		message, help = fmt.Sprintf("%q is not expected here", shorten(word)), "an operator such as and, or, >, == may be missing before it; text is in quotes"
	}
	return errorAt(source, offset, message, help)
}
