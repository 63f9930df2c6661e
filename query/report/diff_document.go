package report

import (
	"wj/docs/schema"
	"wj/journal/evidence"
	"wj/water"
)

// DiffDocument is a [Diff] for a program.
type DiffDocument struct {
	Schema string `json:"schema"`
	From   string `json:"from"`
	To     string `json:"to"`
	// FromCommit and ToCommit are the two in full; "" for the working files.
	FromCommit string         `json:"from_commit"`
	ToCommit   string         `json:"to_commit"`
	Records    []RecordDiffer `json:"records"`
}

// RecordDiffer is what differs of one record.
type RecordDiffer struct {
	What        string         `json:"what"`
	Kind        string         `json:"kind"`
	ID          string         `json:"id"`
	Path        string         `json:"path"`
	WasAt       *string        `json:"was_at"`
	Input       bool           `json:"input"` // everything else is judged by it
	Reason      *string        `json:"reason"`
	Signer      string         `json:"signer,omitempty"` // of a sign-off: what shows who signed
	NotesDiffer bool           `json:"notes_differ"`
	Fields      []FieldDiffer  `json:"fields"`
	Derived     []ValueDiffer  `json:"derived"`
	RestsOnIt   []RecordInName `json:"rests_on_it"`
}

// FieldDiffer is a field in two states, as it is in the files; null where it is not there.
type FieldDiffer struct {
	Field  string  `json:"field"`
	Before *string `json:"before"`
	After  *string `json:"after"`
	// BeforeAmount and AfterAmount are the two as numbers; null where they are none.
	BeforeAmount *Amount `json:"before_amount"`
	AfterAmount  *Amount `json:"after_amount"`
	SameWater    bool    `json:"same_water"` // written differently alone
	AmendedBy    string  `json:"amended_by,omitempty"`
	Reason       string  `json:"reason,omitempty"`
}

// ValueDiffer is a derived value in two states, in its standard unit; null where there is none.
type ValueDiffer struct {
	Name   string `json:"name"`
	Before *Value `json:"before"`
	After  *Value `json:"after"`
	Beyond bool   `json:"beyond_uncertainty"`
}

// RecordInName names a record.
type RecordInName struct {
	Kind string `json:"kind"`
	ID   string `json:"id"`
	Path string `json:"path"`
}

// JSON is the same for a program.
func (d *Diff) JSON() *DiffDocument {
	text := func(s string) *string {
		if s == "" {
			return nil
		}
		return &s
	}
	value := func(known bool, v, u float64, bound water.Bound, id water.ID) *Value {
		if !known {
			return nil
		}
		out := valueOf(v, u, bound, id.Info().Unit.String())
		return &out
	}
	out := &DiffDocument{Schema: schema.ID("diff"), From: d.Names[0], To: d.Names[1], FromCommit: d.Commits[0], ToCommit: d.Commits[1], Records: []RecordDiffer{}}
	for _, r := range d.Changes {
		one := RecordDiffer{What: r.What.String(), Kind: r.Kind.String(), ID: r.ID, Path: r.Path, WasAt: text(r.From), Input: r.Input(), Reason: text(r.Reason), Signer: d.Signers[r.ID], NotesDiffer: r.Note,
			Fields: []FieldDiffer{}, Derived: []ValueDiffer{}, RestsOnIt: []RecordInName{}}
		for _, f := range r.Fields {
			field := FieldDiffer{Field: f.Path, Before: text(f.Before), After: text(f.After), BeforeAmount: amountOf(f.Before), AfterAmount: amountOf(f.After), SameWater: f.Sameness < evidence.Different}
			if f.Amendment != nil {
				field.AmendedBy, field.Reason = f.Amendment.By, f.Amendment.Reason
			}
			one.Fields = append(one.Fields, field)
		}
		for _, x := range r.Derived {
			one.Derived = append(one.Derived, ValueDiffer{x.ID.String(), value(x.BeforeKnown, x.Before, x.BeforeU, x.BeforeBound, x.ID), value(x.AfterKnown, x.After, x.AfterU, x.AfterBound, x.ID), x.Beyond})
		}
		for _, f := range r.Resting {
			one.RestsOnIt = append(one.RestsOnIt, RecordInName{f.Kind.String(), f.ID, f.Path})
		}
		out.Records = append(out.Records, one)
	}
	return out
}
