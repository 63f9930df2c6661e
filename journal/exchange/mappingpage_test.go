package exchange

import (
	"regexp"
	"strings"
	"testing"
)

// TestMappingPage holds the page to what is read: each key is in it, and its examples are maps.
func TestMappingPage(t *testing.T) {
	for _, key := range mapKeys {
		if !strings.Contains(mappingPage, "`"+key+"`") {
			t.Errorf("the page does not name %s", key)
		}
	}
	examples := regexp.MustCompile("(?s)```yaml\n(.*?)```").FindAllStringSubmatch(mappingPage, -1)
	for _, example := range examples {
		if _, problems := ParseMapping("map.yaml", []byte(example[1])); len(problems) > 0 {
			t.Errorf("%+v in\n%s", problems, example[1])
		}
	}
	if len(examples) != 4 {
		t.Errorf("%d examples", len(examples))
	}
}
