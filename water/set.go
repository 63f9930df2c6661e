package water

import (
	"iter"
	"math/bits"
	"strings"
)

// Set is a set of analytes and computed values. The zero Set is empty; sets can
// be compared.
type Set [(NumNames + 63) / 64]uint64

// SetOf is the set of the names.
func SetOf(ids ...ID) (s Set) {
	for _, id := range ids {
		s.Add(id)
	}
	return s
}

// Has reports whether the name is in the set.
func (s *Set) Has(id ID) bool { return id < NumNames && s[id/64]&(1<<(id%64)) != 0 }

// Add puts a name into the set.
func (s *Set) Add(id ID) {
	if id < NumNames {
		s[id/64] |= 1 << (id % 64)
	}
}

// Given adds to readings of the names in s the values that they give without a
// charge balance: another form of the same (calcium and its hardness, alkalinity
// and bicarbonate), and the third of total, calcium and magnesium hardness
// (SM 2340 B).
func (s Set) Given() Set {
	total := s.Has(TotalHardness)
	calcium := s.Has(Calcium) || s.Has(CalciumHardness)
	magnesium := s.Has(Magnesium) || s.Has(MagnesiumHardness)
	if calcium || total && magnesium {
		s.Add(Calcium)
		s.Add(CalciumHardness)
	}
	if magnesium || total && calcium {
		s.Add(Magnesium)
		s.Add(MagnesiumHardness)
	}
	if calcium && magnesium {
		s.Add(TotalHardness)
	}
	if s.Has(Alkalinity) || s.Has(Bicarbonate) {
		s.Add(Alkalinity)
		s.Add(Bicarbonate)
	}
	return s
}

// Remove takes a name out of the set.
func (s *Set) Remove(id ID) {
	if id < NumNames {
		s[id/64] &^= 1 << (id % 64)
	}
}

// Empty reports whether nothing is in the set.
func (s *Set) Empty() bool { return *s == Set{} }

// Union is the set of what is in either.
func (s Set) Union(t Set) Set {
	for i := range s {
		s[i] |= t[i]
	}
	return s
}

// Meets reports whether some name is in both.
func (s *Set) Meets(t *Set) bool {
	for i := range s {
		if s[i]&t[i] != 0 {
			return true
		}
	}
	return false
}

// All goes through the set in the order of the analyte table.
func (s Set) All() iter.Seq[ID] {
	return func(yield func(ID) bool) {
		for i, word := range s {
			for ; word != 0; word &= word - 1 {
				if !yield(ID(64*i + bits.TrailingZeros64(word))) {
					return
				}
			}
		}
	}
}

// List is the set in the order of the analyte table, nil where it is empty.
func (s Set) List() []ID {
	var out []ID
	for id := range s.All() {
		out = append(out, id)
	}
	return out
}

// Len is how many names are in the set.
func (s *Set) Len() int {
	n := 0
	for _, word := range s {
		n += bits.OnesCount64(word)
	}
	return n
}

// String lists the keys: "calcium, magnesium".
func (s Set) String() string {
	var keys []string
	for id := range s.All() {
		keys = append(keys, id.String())
	}
	return strings.Join(keys, ", ")
}

// first is the first name of a set that is not empty.
func (s Set) first() ID {
	for id := range s.All() {
		return id
	}
	return NumNames
}
