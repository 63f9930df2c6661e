package exchange

import (
	"fmt"
	"net/mail"
	"slices"
	"sort"
	"strings"
	"wj/journal"
)

// Reported are the sessions of files in the order of sampling, with whose water it
// is: they must be one owner's, and sound.
func Reported(j *journal.Journal, files []journal.File) ([]*journal.Session, *journal.Owner, error) {
	var out []*journal.Session
	seen := map[string]bool{}
	for _, f := range files {
		s, ok := j.Sessions.Get(f.ID)
		switch {
		case f.Kind != journal.KindSession || !ok:
			return nil, nil, journal.Hint("wj ls sessions", "%s is a %s, and results of sessions are mailed", f.ID, f.Kind)
		case s.Void != nil:
			return nil, nil, journal.Hint("leave it out, or send the session that replaces it", "%s is void: %s", s.ID, s.Void.Reason)
		case seen[s.ID]:
			continue
		}
		for i := range s.Readings {
			if s.Readings[i].Faulty {
				return nil, nil, journal.Hint("wj lint "+s.Path, "%s: the reading of %s cannot be read", s.ID, s.Readings[i].Analyte)
			}
		}
		seen[s.ID] = true
		out = append(out, s)
	}
	sort.SliceStable(out, func(a, b int) bool { return out[a].Sampled.Before(out[b].Sampled) })
	owners := Owners(j, out)
	if len(owners) != 1 {
		return nil, nil, journal.Hint("write one draft for each", "the sessions are of several owners: %s", strings.Join(owners, ", "))
	}
	owner, ok := j.Owners.Get(owners[0])
	if !ok {
		return nil, nil, journal.Hint("wj lint", "whose water it is is unknown: there is no owner %q", owners[0])
	}
	return out, owner, nil
}

// OnlyTheirs refuses an address that is another owner's: results go to whose
// water it is.
func OnlyTheirs(j *journal.Journal, owner *journal.Owner, to []*mail.Address) error {
	has := func(o *journal.Owner, address string) bool {
		return slices.ContainsFunc(o.Email, func(e string) bool { return strings.EqualFold(e, address) })
	}
	for _, address := range to {
		for _, other := range j.Owners.List {
			if other.ID != owner.ID && !other.Self && other.Void == nil && has(other, address.Address) && !has(owner, address.Address) {
				return journal.Hint("leave it out; if they may have it, add the address to "+owner.Path,
					"%s is an address of %s, and the results are of %s", address.Address, other.Name, owner.Name)
			}
		}
	}
	return nil
}

// ParseAddresses reads the addresses of --to.
func ParseAddresses(texts []string) ([]*mail.Address, error) {
	var out []*mail.Address
	for _, s := range texts {
		address, err := ParseAddress(s)
		if err != nil {
			return nil, fmt.Errorf("--to: %w", err)
		}
		out = append(out, address)
	}
	return out, nil
}

// Sender is who a draft is from: the address that was said, else the person's own,
// of several the one that git uses.
func Sender(j *journal.Journal, by, said, git string) (*mail.Address, error) {
	if said != "" {
		address, err := ParseAddress(said)
		if err != nil {
			return nil, fmt.Errorf("--from: %w", err)
		}
		return address, nil
	}
	p, ok := j.People.Get(by)
	if !ok || len(p.Email) == 0 {
		return nil, journal.Hint("say --from, or add email: to the record of "+by, "there is no address to send from")
	}
	email := p.Email[0]
	if git != "" && slices.Contains(p.Email, git) {
		email = git
	}
	address, err := ParseAddress(email)
	if err != nil {
		return nil, fmt.Errorf("people/%s.md: %w", by, err)
	}
	address.Name = strings.Map(func(r rune) rune {
		if r < ' ' {
			return ' '
		}
		return r
	}, p.Name)
	return address, nil
}
