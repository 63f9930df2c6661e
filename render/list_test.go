package render

import (
	"bytes"
	"fmt"
	"testing"

	"pgregory.net/rapid"
)

// A list is written as the table of the same rows is drawn, whether its rows fit or not.
func TestListIsTable(t *testing.T) {
	plain := []*rapid.Generator[string]{rapid.StringMatching(`[a-z0-9 -]{0,24}`), rapid.Just(""), rapid.StringMatching(`[0-9]{1,5}`),
		rapid.SampledFrom([]string{"µg/L", "水の硬度", "\x1b[31mred", "::error::x", "##[group]", " blank ", "–", "a\nb"})}
	decimals := append(plain[:len(plain):len(plain)], rapid.StringMatching(`<?[0-9]{1,3}\.[0-9] ± [0-9]`))
	rapid.Check(t, func(t *rapid.T) {
		columns := []Column{{Head: "id"}, {Head: "readings_of_it", Right: true}, {Head: "what", Wrap: true}, {Head: "left", Right: true}}
		text := rapid.OneOf(plain...)
		if rapid.Bool().Draw(t, "decimals") {
			text = rapid.OneOf(decimals...)
		}
		rows := rapid.SliceOfN(rapid.SliceOfN(text, 4, 4), 0, 30).Draw(t, "rows")
		var out bytes.Buffer
		o := Output{W: &out, Width: rapid.SampledFrom([]int{40, 80, 120, Unbounded}).Draw(t, "width"), Colour: rapid.Bool().Draw(t, "colour")}
		l := List{columns, len(rows), func(i int, texts []string) { copy(texts, rows[i]) }}
		if err := o.WriteList(l); err != nil {
			t.Fatal(err)
		}
		if want := Inert(o.Table(l.Table())); out.String() != want {
			t.Fatalf("the list is\n%s\nand the table\n%s", out.String(), want)
		}
	})
}

// Rows keep their order where several cores draw them.
func TestListOrder(t *testing.T) {
	var out bytes.Buffer
	o := Output{W: &out, Width: Unbounded}
	const n = 20_000
	if err := o.WriteList(List{[]Column{{Head: "n", Right: true}}, n, func(i int, texts []string) { texts[0] = fmt.Sprint(i) }}); err != nil {
		t.Fatal(err)
	}
	lines := bytes.Split(bytes.TrimSpace(out.Bytes()), []byte("\n"))
	if len(lines) != n+2 {
		t.Fatalf("%d lines, want %d", len(lines), n+2)
	}
	for i := range n {
		if got := string(bytes.TrimSpace(lines[i+2])); got != fmt.Sprint(i) {
			t.Fatalf("row %d is %q", i, got)
		}
	}
}
