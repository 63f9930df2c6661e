package frontmatter

// fast reads the canonical form; false means that the library must.
func (d *Document) fast(fenced bool) bool { return false }

// isKeyByte reports the bytes of which the keys of a record are made.
func isKeyByte(c byte) bool {
	return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '_' || c == '-' || c == '.' || c == '/'
}
