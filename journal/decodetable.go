package journal

import (
	"reflect"
	"strings"
	"sync"
	"time"
	"unicode"

	"wj/journal/frontmatter"
	"wj/water"
	"wj/water/substance"
)

// A record is decoded by the schema and its Go type: the value of a key goes into
// the field of the same name (recorded_by into RecordedBy), or into the one whose
// tag names it: `key:"analyte"`, or `key:"mash_pH.value"` for a key one deeper.
// The schema's type says how it is read. A field Has… beside it says whether that
// succeeded. Sessions, of which there are a hundred thousand, have a decoder of
// their own (decode.go); a test holds both to the schema.

// newRecord makes an empty record of each kind, with its base.
var newRecord = [numKinds]func(Record) Any{
	KindPerson:     func(r Record) Any { return &Person{Record: r} },
	KindOwner:      func(r Record) Any { return &Owner{Record: r} },
	KindSite:       func(r Record) Any { return &Site{Record: r} },
	KindLot:        func(r Record) Any { return &Lot{Record: r} },
	KindInstrument: func(r Record) Any { return &Instrument{Record: r} },
	KindMethod:     func(r Record) Any { return &Method{Record: r} },
	KindTarget:     func(r Record) Any { return &Target{Record: r} },
	KindChange:     func(r Record) Any { return &Change{Record: r} },
	KindSignoff:    func(r Record) Any { return &Signoff{Record: r} },
	KindBatch:      func(r Record) Any { return &Batch{Record: r} },
	KindEvent:      func(r Record) Any { return &Event{Record: r} },
	KindAction:     func(r Record) Any { return &Action{Record: r} },
	KindReport:     func(r Record) Any { return &Report{Record: r} },
	KindAnchor:     func(r Record) Any { return &Anchor{Record: r} },
}

// plans are made when a kind is first met.
var plans = func() (list [numKinds]func() plan) {
	for k := range list {
		list[k] = sync.OnceValue(func() plan {
			return planFor(reflect.TypeOf(newRecord[k](Record{})).Elem(), Kind(k).Fields())
		})
	}
	return list
}()

// decode makes a record of the kind from the document.
func (x *decoder) decode(base Record) Any {
	if base.Kind == KindSession {
		s := &Session{Record: base}
		x.session(s)
		return s
	}
	if newRecord[base.Kind] == nil {
		return &base
	}
	r := newRecord[base.Kind](base)
	x.fill(reflect.ValueOf(r).Elem(), plans[base.Kind](), 0, 0)
	return r
}

// plan is how a Go struct is filled from a mapping.
type plan []planField

type planField struct {
	key   string
	index []int  // of the Go field
	has   []int  // of the field that says whether there is a value; nil if there is none
	set   setter // nil where the keys below fill fields of the same struct
	below plan
}

// setter reads a node into a Go value; id is the analyte that it is said of. It
// reports whether there is a value.
type setter func(x *decoder, v reflect.Value, node int32, id water.ID) bool

// What a type does itself: keyed by the key of its entry in a dictionary (false:
// the entry is skipped), written short as a scalar (false: likewise), with a key
// that no single field holds, and with what follows once it is filled.
type (
	keyed interface {
		setKey(key []byte) (water.ID, bool)
	}
	scalar interface{ setScalar(*decoder, int32) bool }
	taker  interface {
		take(*decoder, string, int32, water.ID)
	}
	finisher interface{ finish(water.ID) }
)

func (x *decoder) fill(v reflect.Value, p plan, node int32, id water.ID) {
	x.each(node, func(key []byte, c int32) {
		for i := range p {
			f := &p[i]
			switch {
			case f.key != string(key):
				continue
			case f.below != nil:
				x.fill(v, f.below, c, id)
			case f.set == nil:
				v.Addr().Interface().(taker).take(x, f.key, c, id)
			default:
				if ok := f.set(x, v.FieldByIndex(f.index), c, id); f.has != nil {
					v.FieldByIndex(f.has).SetBool(ok)
				}
			}
			return
		}
	})
	if f, ok := v.Addr().Interface().(finisher); ok {
		f.finish(id)
	}
}

// planFor pairs the keys of a schema with the fields of a Go type.
func planFor(t reflect.Type, fields []Field) plan {
	homes := map[string][]reflect.StructField{}
	for _, f := range reflect.VisibleFields(t) {
		if key := keyOf(f); key != "" {
			homes[key] = append(homes[key], f)
		}
	}
	var p plan
	for i := range fields {
		schema := &fields[i]
		f := planField{key: schema.Key}
		switch home, nested := homes[schema.Key], homes[schema.Key+"."]; {
		case len(home) > 0:
			f.index, f.set = home[0].Index, setterFor(home[0].Type, schema)
			if has, ok := t.FieldByName("Has" + home[0].Name); ok {
				f.has = has.Index
			}
		case len(nested) > 0:
			f.below = planFor(nestedType(t, schema.Key), schema.Fields)
			for k := range f.below {
				home, _ := t.FieldByName(nestedName(t, schema.Key, f.below[k].key))
				f.below[k].index, f.below[k].has = home.Index, nil
				if has, ok := t.FieldByName("Has" + home.Name); ok {
					f.below[k].has = has.Index
				}
			}
		case reflect.PointerTo(t).Implements(reflect.TypeFor[taker]()):
		default:
			continue // not kept
		}
		p = append(p, f)
	}
	return p
}

// keyOf is the key that a Go field holds; "" for none. A field that is said of a
// key one deeper is listed under its parent with a dot.
func keyOf(f reflect.StructField) string {
	if f.Anonymous {
		return ""
	}
	if tag := f.Tag.Get("key"); tag != "" {
		if parent, _, deeper := strings.Cut(tag, "."); deeper {
			return parent + "."
		}
		return strings.TrimPrefix(tag, "-")
	}
	var b strings.Builder
	for i, r := range f.Name {
		if unicode.IsUpper(r) && i > 0 {
			b.WriteByte('_')
		}
		b.WriteRune(unicode.ToLower(r))
	}
	return b.String()
}

// nestedType is a struct of the fields of t that belong to a key, each under its
// own name below it.
func nestedType(t reflect.Type, parent string) reflect.Type {
	var fields []reflect.StructField
	for _, f := range reflect.VisibleFields(t) {
		if rest, ok := strings.CutPrefix(f.Tag.Get("key"), parent+"."); ok {
			fields = append(fields, reflect.StructField{Name: f.Name, Type: f.Type, Tag: reflect.StructTag(`key:"` + rest + `"`)})
		}
	}
	return reflect.StructOf(fields)
}

func nestedName(t reflect.Type, parent, key string) string {
	for _, f := range reflect.VisibleFields(t) {
		if f.Tag.Get("key") == parent+"."+key {
			return f.Name
		}
	}
	return ""
}

// setterFor reads a value of the schema's type into a Go type.
func setterFor(t reflect.Type, schema *Field) setter {
	switch reflect.Zero(t).Interface().(type) {
	case string:
		if schema.Type == TypeText {
			return put((*decoder).fresh)
		}
		return put((*decoder).text)
	case []string:
		return put((*decoder).texts)
	case bool:
		return put((*decoder).flag)
	case int:
		return put((*decoder).integer)
	case float64:
		if schema.Type == TypeQuantity { // lengths alone
			return put(func(x *decoder, node int32) float64 { m, _ := x.quantity(node).In(water.Metre); return m })
		}
		return func(x *decoder, v reflect.Value, node int32, _ water.ID) bool {
			n, ok := parsePlain(x.fresh(node))
			v.SetFloat(n)
			return ok
		}
	case time.Time:
		switch schema.Type {
		case TypeDate:
			return put((*decoder).date)
		case TypeMonth:
			return put((*decoder).month)
		case TypeTime:
			return put((*decoder).time)
		}
		return put((*decoder).dateOrTime)
	case time.Duration:
		return put((*decoder).duration)
	case *Mark:
		return put((*decoder).mark)
	case Place:
		return put((*decoder).place)
	case map[string]string:
		return put((*decoder).dictionary)
	case map[string]RuleSettings:
		return put((*decoder).lint)
	case water.Quantity:
		return put((*decoder).quantity)
	case map[water.ID]water.Quantity:
		return put((*decoder).quantities)
	case map[water.ID]water.Unit:
		return put((*decoder).units)
	case []water.Unit:
		return put((*decoder).unitList)
	case []water.ID:
		return put((*decoder).analytes)
	case water.ID:
		return func(x *decoder, v reflect.Value, node int32, _ water.ID) bool {
			id, ok := water.Lookup(x.fresh(node))
			v.Set(reflect.ValueOf(id))
			return ok
		}
	case Bounded:
		return func(x *decoder, v reflect.Value, node int32, id water.ID) bool {
			b := x.bounded(node, id)
			v.Set(reflect.ValueOf(b))
			return b.Set
		}
	case water.Accuracy:
		return func(x *decoder, v reflect.Value, node int32, id water.ID) bool {
			a, err := ParseAccuracy(x.fresh(node), id)
			if err == nil {
				v.Set(reflect.ValueOf(a))
			}
			return err == nil
		}
	}
	switch t.Kind() {
	case reflect.Struct:
		p := planFor(t, schema.Fields)
		return func(x *decoder, v reflect.Value, node int32, id water.ID) bool {
			x.fill(v, p, node, id)
			return true
		}
	case reflect.Pointer:
		set := setterFor(t.Elem(), schema)
		return func(x *decoder, v reflect.Value, node int32, id water.ID) bool {
			v.Set(reflect.New(t.Elem()))
			return set(x, v.Elem(), node, id)
		}
	case reflect.Slice:
		return sliceSetter(t, schema)
	case reflect.Map:
		if t.Key().Kind() == reflect.String {
			return namedSetter(t, schema)
		}
		return mapSetter(t, schema)
	}
	panic("journal: no way to read " + schema.Key + " into a " + t.String()) // a fault of the tables, which every test finds
}

func put[T any](read func(*decoder, int32) T) setter {
	return func(x *decoder, v reflect.Value, node int32, _ water.ID) bool {
		*v.Addr().Interface().(*T) = read(x, node)
		return true
	}
}

// sliceSetter reads a list of mappings, or a dictionary in its order.
func sliceSetter(t reflect.Type, schema *Field) setter {
	element := t.Elem()
	p := planFor(element, schema.Of.Fields)
	one := func(x *decoder, v reflect.Value, node int32, key []byte, id water.ID) {
		item := reflect.New(element)
		if k, ok := item.Interface().(keyed); ok {
			var known bool
			if id, known = k.setKey(key); !known {
				return
			}
		}
		if s, ok := item.Interface().(scalar); ok && (len(p) == 0 || x.d.Nodes[node].Kind != frontmatter.Mapping) && !s.setScalar(x, node) {
			return
		}
		x.fill(item.Elem(), p, node, id)
		v.Set(reflect.Append(v, item.Elem()))
	}
	return func(x *decoder, v reflect.Value, node int32, id water.ID) bool {
		if schema.Type == TypeDict {
			x.each(node, func(key []byte, c int32) { one(x, v, c, key, id) })
		} else {
			x.items(node, func(item int32) { one(x, v, item, nil, id) })
		}
		return v.Len() > 0
	}
}

// namedSetter reads a dictionary by name; a substance's name is its key, and one that is not known is skipped.
func namedSetter(t reflect.Type, schema *Field) setter {
	set := setterFor(t.Elem(), schema.Of)
	return func(x *decoder, v reflect.Value, node int32, id water.ID) bool {
		v.Set(reflect.MakeMap(t))
		x.each(node, func(key []byte, c int32) {
			name := string(key)
			if schema.Keys == SubstanceKey {
				known, ok := substance.ByKey(name)
				if !ok {
					return
				}
				name = known.Key
			}
			item := reflect.New(t.Elem()).Elem()
			set(x, item, c, id)
			v.SetMapIndex(reflect.ValueOf(name), item)
		})
		return v.Len() > 0
	}
}

// mapSetter reads a dictionary by analyte.
func mapSetter(t reflect.Type, schema *Field) setter {
	element := t.Elem()
	pointer := element.Kind() == reflect.Pointer
	if pointer {
		element = element.Elem()
	}
	p := planFor(element, schema.Of.Fields)
	return func(x *decoder, v reflect.Value, node int32, _ water.ID) bool {
		v.Set(reflect.MakeMap(t))
		x.each(node, func(key []byte, c int32) {
			id, ok := lookupBytes(key)
			if !ok {
				return
			}
			item := reflect.New(element)
			x.fill(item.Elem(), p, c, id)
			if pointer {
				v.SetMapIndex(reflect.ValueOf(id), item)
			} else {
				v.SetMapIndex(reflect.ValueOf(id), item.Elem())
			}
		})
		return v.Len() > 0
	}
}
