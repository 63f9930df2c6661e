package frontmatter

// syntax reports a syntax error of the library with its place. read is how many bytes of
// the front matter the library had taken when it gave up.
func (d *Document) syntax(err error, read int) {
	at := d.Front + max(0, min(read, d.FrontEnd-d.Front)-1)
	d.problem(RuleFrontMatter, at, at, err.Error(), "")
}
