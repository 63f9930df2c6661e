package audit

import "wj/journal/evidence"

// What changed in a record, and who changed it, is evidence's to say.
type (
	Field    = evidence.Field
	Sameness = evidence.Sameness
	Version  = evidence.Version
	Setting  = evidence.Setting
)

// How two written values compare, and what an amendment says of a new field.
const (
	Identical   = evidence.Identical
	SameSpelled = evidence.SameSpelled
	SameWater   = evidence.SameWater
	Different   = evidence.Different
	Absent      = evidence.Absent
)

// See the functions of these names in journal/evidence.
var (
	Fields  = evidence.Fields
	Compare = evidence.Compare
	History = evidence.History
	Read    = evidence.Read
)
