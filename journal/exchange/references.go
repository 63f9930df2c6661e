package exchange

import (
	"fmt"
	"io"
	"unicode"
	"unicode/utf8"
)

// references writes XML whose characters that no screen should act on (controls, marks of
// direction) are character references: the same text to whoever reads the XML.
type references struct {
	to   io.Writer
	part []byte // of a character that goes on in the next piece
}

// Write implements io.Writer.
func (r *references) Write(b []byte) (int, error) {
	text := append(r.part, b...)
	out := make([]byte, 0, len(text))
	for len(text) > 0 && (utf8.FullRune(text) || len(text) >= utf8.UTFMax) {
		c, n := utf8.DecodeRune(text)
		if c != '\n' && c != '\t' && unicode.In(c, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) {
			out = fmt.Appendf(out, "&#x%X;", c)
		} else {
			out = append(out, text[:n]...)
		}
		text = text[n:]
	}
	r.part = append([]byte(nil), text...)
	if _, err := r.to.Write(out); err != nil {
		return 0, err
	}
	return len(b), nil
}
