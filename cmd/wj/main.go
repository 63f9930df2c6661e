// Command wj keeps a water journal: plain Markdown files in Git, checked by a
// linter and asked by a query language.
package main

import "os"

func main() {
	os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr, os.Getenv))
}
