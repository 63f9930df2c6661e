package main

import (
	"fmt"
	"strings"

	"wj/docs/schema"
	"wj/render"
)

// document prints one JSON document: the members of a render.Object or of a value
// of typed fields, behind the name of the schema that they follow
// (docs/schema/OUTPUT.json, which wj schema OUTPUT prints).
func (a *app) document(output string, value any) error {
	head := render.Object{{Name: "schema", Value: schema.ID(output)}}
	if members, ok := value.(render.Object); ok {
		return a.showJSON(append(head, members...))
	}
	first, err := render.JSON(head)
	if err != nil {
		return err
	}
	rest, err := render.Encode(value)
	if err != nil {
		return err
	}
	if !strings.HasPrefix(rest, "{") {
		return fmt.Errorf("the document %s is no object", output)
	}
	if rest != "{}" {
		first = strings.TrimSuffix(first, "}") + "," + rest[1:]
	}
	return a.print(first + "\n")
}
