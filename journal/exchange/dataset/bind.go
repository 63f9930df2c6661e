package dataset

import (
	"cmp"
	"slices"
	"strings"
	"sync"

	"wj/journal"
	"wj/water"
)

// binding binds a field of the schema to its place: columns of a row, further fields of
// the same row, or rows of a table below it.
type binding struct {
	key    string
	field  *journal.Field
	at     int       // the column that holds the text as typed
	main   string    // of a field with a short form: the key that the short form stands for
	fields []binding // of a mapping that has no row of its own
	child  *child
}

// child is a list or a mapping whose entries are rows.
type child struct {
	table *Table
	named bool    // entries have names; otherwise positions
	keyAt int     // column of the name or position
	entry binding // what an entry is
}

// kindBinding is the table of a kind, and where its fields go.
type kindBinding struct {
	kind     journal.Kind
	table    *Table
	bindings []binding
	common   []binding // amended, ignore, attachments: tables of all kinds
}

// binder makes tables from the schema.
type binder struct {
	kind   journal.Kind
	tables []*Table
	byName map[string]*Table
}

// model is all that is made from the schema, once.
type model struct {
	kinds  map[journal.Kind]*kindBinding
	tables []*Table // of the facts, parents before children
}

var theModel = sync.OnceValue(func() *model {
	b := &binder{byName: map[string]*Table{}}
	m := &model{kinds: map[journal.Kind]*kindBinding{}}
	b.tables = []*Table{journalsTable, exportsTable, recordsTable}
	for _, k := range journal.Kinds() {
		b.kind = k
		id := Column{Name: idColumn(k), Doc: "id of the " + k.String(), Required: true}
		t := b.table(k.Folder(), k.What(), []Column{journalColumn, id}, "")
		t.Key, t.ByYear = 2, k == journal.KindSession
		t.Columns = append(t.Columns, Column{Name: "record_state", Enum: []string{"held", "void", "missing", "withheld"}, Required: true, Doc: "as in records"})
		kb := &kindBinding{kind: k, table: t}
		for _, f := range k.Fields() {
			switch f.Key {
			case "void", "note":
				continue // in records
			}
			s := b.bind(t, k.String()+"."+f.Key, "", &f)
			if s.child != nil && (f.Key == "amended" || f.Key == "ignore" || f.Key == "attachments") {
				kb.common = append(kb.common, s)
			} else {
				kb.bindings = append(kb.bindings, s)
			}
		}
		m.kinds[k] = kb
	}
	m.tables = append(b.tables, settingsTable, linksTable, tombstonesTable)
	return m
})

// idColumn is the column of a record's own id: session_id.
func idColumn(k journal.Kind) string { return k.String() + "_id" }

func (b *binder) table(name, doc string, key []Column, parent string) *Table {
	t := &Table{Name: name, Doc: doc, Layer: Facts, Columns: slices.Clone(key), Key: len(key), Parent: parent}
	b.byName[name] = t
	b.tables = append(b.tables, t)
	return t
}

// bind gives a field its columns in t, or a table of its own below t.
func (b *binder) bind(t *Table, path, outer string, f *journal.Field) binding {
	s := binding{key: f.Key, field: f}
	switch {
	case f.Type == journal.TypeList && f.Of.Type == journal.TypeReading: // lowest and highest of a range
		name := stem(path, outer)
		s.at = len(t.Columns)
		for _, end := range []string{"_low", "_high"} {
			t.Columns = append(t.Columns, scalarColumns(name+end, f.Of, f.Doc)...)
		}
	case f.Type == journal.TypeDict, f.Type == journal.TypeList, f.Type == journal.TypeOneOrList:
		s.child = b.below(t, path, f)
	case f.Type == journal.TypeMap:
		name := stem(path, outer)
		for i := range f.Fields {
			s.fields = append(s.fields, b.bind(t, path+"."+f.Fields[i].Key, name, &f.Fields[i]))
		}
	case f.Fields != nil: // a value with a long form
		s.main = f.Fields[mainField(f.Fields)].Key
		for i := range f.Fields {
			s.fields = append(s.fields, b.bind(t, path+"."+f.Fields[i].Key, "", &f.Fields[i]))
		}
	default:
		s.at = len(t.Columns)
		t.Columns = append(t.Columns, scalarColumns(stem(path, outer), f, f.Doc)...)
		if f.Type == journal.TypeReading && strings.HasSuffix(path, "readings[].value") {
			s.child = b.replicates(t, f)
		}
	}
	return s
}

// mainField is the field that the short form of a value stands for.
func mainField(fields []journal.Field) int {
	return max(0, slices.IndexFunc(fields, func(f journal.Field) bool { return f.Required }))
}

// below makes the table of a list or mapping.
func (b *binder) below(t *Table, path string, f *journal.Field) *child {
	parent := ""
	if t.Name != b.kind.Folder() {
		parent = strings.TrimSuffix(t.Name, "s")
	}
	name := tableStem(path, parent)
	c := &child{named: f.Type == journal.TypeDict}
	key := slices.Clone(t.Columns[:t.Key])
	if shared[name] && t.Name == b.kind.Folder() {
		key = []Column{journalColumn, needed(plain("record_kind", "table of the record")), needed(plain("record_id", "its id"))}
		parent = "records"
	} else {
		parent = t.Name
	}
	c.keyAt = len(key)
	switch {
	case c.named:
		key = append(key, keyColumn(f.Keys))
	case t.At("item_no") >= 0 && t.At("item_no") < t.Key:
		key = append(key, needed(number("sub_no", "position in the list, from 1")))
	default:
		key = append(key, needed(number("item_no", "position in the list, from 1")))
	}
	known := b.byName[name]
	if c.table = known; known == nil {
		c.table = b.table(name, f.Doc, key, parent)
		c.table.ByYear = t.ByYear && !shared[name]
	} else { // bound again, to the columns that it has
		c.table = &Table{Name: name, Columns: key, Key: len(key)}
	}
	of := *f.Of
	of.Doc = cmp.Or(of.Doc, f.Doc)
	c.entry = b.entry(c.table, path+"[]", &of)
	if known != nil {
		c.table = known
	}
	return c
}

// entry binds what an entry of a list or mapping is.
func (b *binder) entry(t *Table, path string, f *journal.Field) binding {
	if f.Type != journal.TypeMap && f.Fields == nil {
		return b.bind(t, path, "", f)
	}
	s := binding{field: f}
	if f.Type != journal.TypeMap {
		s.main = f.Fields[mainField(f.Fields)].Key
	}
	for i := range f.Fields {
		s.fields = append(s.fields, b.bind(t, path+"."+f.Fields[i].Key, "", &f.Fields[i]))
	}
	return s
}

// replicates is the table of repeated tests: those of a reading that has two or more.
func (b *binder) replicates(t *Table, f *journal.Field) *child {
	r := b.table("replicates", "repeated tests, of readings that have two or more", append(slices.Clone(t.Columns[:t.Key]), needed(number("replicate_no", "which of them, from 1"))), t.Name)
	r.ByYear = true
	return &child{table: r, keyAt: t.Key, entry: b.bind(r, "session.replicates[]", "", &journal.Field{Key: "value", Type: journal.TypeReading, Doc: f.Doc})}
}

func keyColumn(k journal.KeyType) Column {
	switch k {
	case journal.AnalyteKey, journal.ValueKey:
		return needed(Column{Name: "analyte", Doc: "name of the value", To: "analytes"})
	case journal.TargetKey:
		return needed(plain("analyte", "name of the value, or mash_pH"))
	case journal.SubstanceKey:
		return needed(Column{Name: "substance", Doc: "the salt, acid or base", To: "substances"})
	case journal.PathKey:
		return needed(plain("path", "file in the journal"))
	case journal.RuleKey, journal.HouseKey:
		return needed(plain("rule_name", "the lint rule"))
	}
	return needed(plain("file_name", "name of the file"))
}

// fixedUnits are the units of quantities that belong to no analyte: the end of a
// column's name, the unit, and its UCUM code.
var fixedUnits = map[water.Family]struct {
	suffix, ucum string
	unit         water.Unit
}{
	water.Mass: {"g", "g", unitNamed("g")}, water.Volume: {"l", "L", unitNamed("L")}, water.Duration: {"s", "s", water.Second}, water.Temperature: {"cel", "Cel", unitNamed("degC")},
	water.Length: {"m", "m", water.Metre}, water.Fraction: {"fraction", "1", unitNamed("%")},
}

func unitNamed(name string) water.Unit { u, _ := water.ParseUnit(name); return u }

// scalarColumns are the columns of one value; the first holds the text as typed (of a
// record named without its kind the second).
func scalarColumns(name string, f *journal.Field, doc string) []Column {
	join := func(suffix string) string { return strings.TrimPrefix(name+suffix, "_") }
	typed := Column{Name: join("_typed"), Doc: doc + ", as typed", Required: f.Required}
	single := Column{Name: name, Doc: doc, Required: f.Required}
	switch f.Type {
	case journal.TypeRef:
		single.Name = join("_id")
		if len(f.To) == 1 {
			single.To = f.To[0].Folder()
			return []Column{single}
		}
		return []Column{{Name: join("_kind"), Doc: "table of " + join("_id"), Required: false}, single}
	case journal.TypeDate:
		single.Name, single.Type = join("_on"), Day
	case journal.TypeMonth:
		return []Column{typed, day(join("_on"), doc+"; of a month its last day")}
	case journal.TypeTime, journal.TypeDateOrTime:
		return []Column{typed, moment(join("_utc"), doc), number(join("_unix"), doc+": seconds since 1970"), day(join("_on"), doc+": the day in the journal's time zone")}
	case journal.TypeChoice:
		single.Enum = f.Choices
	case journal.TypeNumber:
		return []Column{typed, real(join("_number"), "", doc)}
	case journal.TypeInteger:
		single.Type = Integer
	case journal.TypeFlag:
		single.Name, single.Type = "is_"+name, Flag
	case journal.TypeQuantity:
		out := []Column{typed}
		for _, family := range f.Families {
			if u, ok := fixedUnits[family]; ok {
				out = append(out, real(join("_"+u.suffix), u.ucum, doc))
			}
		}
		return out
	case journal.TypeReading:
		value := cmp.Or(name, "reading")
		return []Column{typed, real(value+"_value", "", doc+", in the unit of the analyte"), {Name: value + "_bound", Enum: bounds, Doc: "whether that is the value or a bound of it"}, real(value+"_half_width", "", "95 % half-width that was typed, in the unit of the analyte")}
	case journal.TypeAnalyteName, journal.TypeValueName:
		single.To = "analytes"
	case journal.TypeAccuracy:
		single.Name = join("_typed")
	case journal.TypePlace:
		typed.Name = "place_typed"
		return []Column{typed, real("latitude_deg", "deg", "latitude, WGS 84"), real("longitude_deg", "deg", "longitude, WGS 84")}
	}
	return []Column{single}
}

// theKinds are the tables that records have.
var theKinds = func() map[string]journal.Kind {
	m := map[string]journal.Kind{}
	for _, k := range journal.Kinds() {
		m[k.Folder()] = k
	}
	return m
}()
