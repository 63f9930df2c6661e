package dataset

import (
	"bufio"
	"fmt"
	"io"
)

// csvReader reads CSV (RFC 4180) and keeps every byte of a quoted field: the
// library's reader turns CR LF within one into LF, and a record's file must come back
// as it was.
type csvReader struct {
	r    *bufio.Reader
	line int
}

// read gives the fields of the next row; io.EOF after the last.
func (c *csvReader) read() ([]string, error) {
	var fields []string
	var field []byte
	begun, quoted, closed := false, false, false
	c.line++
	for {
		b, err := c.r.ReadByte()
		switch {
		case err == io.EOF && quoted && !closed:
			return nil, fmt.Errorf("line %d: a quoted field does not end", c.line)
		case err == io.EOF && !begun:
			return nil, io.EOF
		case err == io.EOF:
			return append(fields, string(field)), nil
		case err != nil:
			return nil, err
		}
		begun = true
		switch {
		case quoted && !closed:
			if b == '"' {
				closed = true
			} else {
				field = append(field, b)
			}
			if b == '\n' {
				c.line++
			}
		case b == '"' && closed: // two are one
			field, closed = append(field, b), false
		case b == '"' && len(field) == 0 && !quoted:
			quoted = true
		case b == '"':
			return nil, fmt.Errorf("line %d: a quotation mark within a field that does not begin with one", c.line)
		case b == ',':
			fields, field, quoted, closed = append(fields, string(field)), field[:0], false, false
		case b == '\n':
			return append(fields, string(field)), nil
		case b == '\r':
			if next, _ := c.r.Peek(1); len(next) == 1 && next[0] == '\n' {
				continue
			}
			fallthrough
		default:
			if closed {
				return nil, fmt.Errorf("line %d: text after a quoted field", c.line)
			}
			field = append(field, b)
		}
	}
}
