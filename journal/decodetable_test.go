package journal

import (
	"reflect"
	"strings"
	"testing"

	"wj/journal/frontmatter"
)

// Every key of the schema has a home in the Go type of its kind, at every depth.
func TestEveryKeyIsKept(t *testing.T) {
	for _, k := range Kinds() {
		if k == KindSession {
			continue
		}
		covered(t, k.String(), plans[k](), k.Fields())
	}
	covered(t, SettingsFile, settingsPlan(), KindSettings.Fields())
}

func covered(t *testing.T, at string, p plan, fields []Field) {
	t.Helper()
	for _, f := range fields {
		found := false
		for i := range p {
			found = found || p[i].key == f.Key
			if p[i].key == f.Key && p[i].below != nil {
				covered(t, at+"."+f.Key, p[i].below, f.Fields)
			}
		}
		if !found {
			t.Errorf("%s.%s is in the schema and in no field", at, f.Key)
		}
	}
}

// The sessions' own decoder keeps every key too.
func TestEveryKeyOfASessionIsKept(t *testing.T) {
	values := map[Type]string{TypeText: "x", TypeRef: "x", TypeTime: "2026-03-04T08:15+01:00", TypePlace: "[54.6, 25.2]", TypeChoice: "blank", TypeInteger: "3",
		TypeDict: "{sulfate: 84 mg/L}", TypeMap: "{by: x, on: 2026-03-04T08:15+01:00, reason: x}", TypeList: "[{key: x}]"}
	empty := decoded(t, "x: 1\n")
	for _, f := range KindSession.Fields() {
		value, ok := values[f.Type]
		if f.Key == "source" {
			value = "lab"
		}
		if !ok {
			t.Errorf("%s: no value of its type", f.Key)
		} else if s := decoded(t, f.Key+": "+value+"\n"); reflect.DeepEqual(s, empty) {
			t.Errorf("%s: %s is not kept", f.Key, value)
		}
	}
	for _, f := range readingFields {
		value := map[string]string{"value": "84 mg/L", "dilution": "2", "tests": "2", "temperature": "9 degC", "tested": "2026-03-04T08:15+01:00"}[f.Key]
		if value == "" {
			value = "x"
		}
		if s := decoded(t, "readings: {sulfate: {"+f.Key+": "+value+"}}\n"); strings.Contains(f.Key, "value") == s.Readings[0].Faulty || reflect.DeepEqual(s, decoded(t, "readings: {sulfate: {}}\n")) {
			t.Errorf("readings.%s: %s is not kept: %+v", f.Key, value, s.Readings[0])
		}
	}
}

func decoded(t *testing.T, front string) *Session {
	t.Helper()
	var d frontmatter.Document
	d.Parse([]byte("---\n" + front + "---\n"))
	if !d.OK() {
		t.Fatalf("%s: %+v", front, d.Problems)
	}
	x := newDecoder()
	x.d = &d
	return x.decode(Record{Kind: KindSession}).(*Session)
}
