package site

import (
	"strings"
	"testing"
)

func TestBuild(t *testing.T) {
	files, err := (Site{Title: "wj"}).Build([]Page{
		{Name: "sulfate", Section: "Values", Markdown: "# Sulfate\n\nSee `limit/exceeded`, `sulfate`, [the data](docs/data.md#rows) and `wj explain limit/exceeded`; [`sulfate`](https://example.org).\n"},
		{Name: "limit/exceeded", Section: "Rules", Markdown: "# A value over its limit\n\n    `sulfate` in a block\n\n<script>alert(1)</script>\n"},
		{Name: "data", Section: "More", Markdown: "# Data\n\nBy `wj ls --all`.\n"},
		{Name: "wj ls", Section: "Commands", Markdown: "# wj ls\n"},
	})
	if err != nil {
		t.Fatal(err)
	}
	for file, want := range map[string][]string{
		"values/sulfate.html":       {`<a href="../rules/limit-exceeded.html"><code>limit/exceeded</code></a>, <code>sulfate</code>`, `href="../more/data.html#rows"`, `<a href="../rules/limit-exceeded.html"><code>wj explain limit/exceeded</code></a>`, `<title>Sulfate · wj</title>`},
		"rules/limit-exceeded.html": {"&lt;script&gt;", "`sulfate` in a block"},
		"more/data.html":            {`<a href="../commands/wj-ls.html"><code>wj ls --all</code></a>`},
		"index.html":                {`<a href="rules/limit-exceeded.html">limit/exceeded</a> <span class="soft">A value over its limit</span>`, "script-src 'sha256-", "4 pages"},
	} {
		for _, text := range want {
			if !strings.Contains(files[file], text) {
				t.Errorf("%s lacks %s:\n%s", file, text, files[file])
			}
		}
	}
	if strings.Contains(files["rules/limit-exceeded.html"], "<script>alert") {
		t.Error("markup of a text reaches the page")
	}
	if _, err := (Site{Title: "wj"}).Build([]Page{{Name: "a b", Section: "x"}, {Name: "a/b", Section: "x"}}); err == nil {
		t.Error("two pages with one place are no error")
	}
}
