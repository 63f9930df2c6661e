package judge

import (
	"slices"
	"time"

	"wj/journal"
)

// RolesAt are the roles of a person at a moment, of those named.
func RolesAt(j *journal.Journal, person *journal.Person, at time.Time, names ...string) []journal.Role {
	var out []journal.Role
	for _, role := range person.Roles {
		if slices.Contains(names, role.Role) && role.Covers(at.In(zoneOf(j))) {
			out = append(out, role)
		}
	}
	return out
}

// MayTest reports whether a person may test by a method at a moment: as a tester
// or as quality. A person without any roles may: a brewery that keeps none is not
// asked to begin with them. Who may review is evidence.MaySign's to say.
func MayTest(j *journal.Journal, person *journal.Person, at time.Time) (methods func(id string) bool, any bool) {
	if len(person.Roles) == 0 {
		return func(string) bool { return true }, true
	}
	roles := RolesAt(j, person, at, journal.RoleTester, journal.RoleQuality)
	return func(id string) bool {
		return slices.ContainsFunc(roles, func(r journal.Role) bool { return len(r.Methods) == 0 || slices.Contains(r.Methods, id) })
	}, len(roles) > 0
}
