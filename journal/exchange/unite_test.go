package exchange_test

import (
	"io"
	"strings"
	"testing"

	"wj/journal/exchange"
)

func TestUnite(t *testing.T) {
	for _, c := range []struct {
		format string
		parts  []string
		want   string
	}{
		{"csv", []string{"\"id\",\"a\"\n\"x, \"\"y\"\"\nz\",1\n", "\"id\",\"b\",\"a\"\n\"q\",,2\n"},
			"\"journal\",\"id\",\"b\",\"a\"\n\"first\",\"x, \"\"y\"\"\nz\",,1\n\"se\"\"cond\",\"q\",,2\n"},
		{"csv", []string{"\"id\"\n", "\"id\"\r\n\"q\"\r\n"}, "\"journal\",\"id\"\n\"se\"\"cond\",\"q\"\n"},
		{"jsonl", []string{"{\"a\":\"\\\"\"}\n{\"b\":1}\n", "{\"a\":2}\n"}, "{\"journal\":\"first\",\"a\":\"\\\"\"}\n{\"journal\":\"first\",\"b\":1}\n{\"journal\":\"se\\\"cond\",\"a\":2}\n"},
	} {
		var parts []io.ReadSeeker
		for _, p := range c.parts {
			parts = append(parts, strings.NewReader(p))
		}
		var out strings.Builder
		if err := exchange.Unite(c.format, &out, []string{"first", `se"cond`}, parts); err != nil || out.String() != c.want {
			t.Errorf("%s: %v\n%s\nwant\n%s", c.format, err, out.String(), c.want)
		}
	}
	if err := exchange.Unite("sqlite", io.Discard, nil, nil); err == nil {
		t.Error("a database of several journals was united")
	}
}
