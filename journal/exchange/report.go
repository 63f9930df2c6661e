package exchange

import (
	"crypto/sha256"
	"encoding/hex"
	"maps"
	"net/mail"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"wj/journal"
	"wj/journal/frontmatter"
)

// Report is what is recorded of a draft: to whom, what, and what it depends on.
type Report struct {
	Owner, By, Subject, Replaces string
	To                           []*mail.Address
	Sent                         time.Time
	Sessions                     []*journal.Session
	Files                        map[string][]byte // by name
}

// Record is the file of the report's record: with digests of what was written and
// of the sessions as they are now, so that a later correction shows.
func (r Report) Record(j *journal.Journal) ([]byte, error) {
	readers := make([]string, len(r.To))
	for i, address := range r.To {
		readers[i] = frontmatter.Quote(address.Address)
	}
	reader := strings.Join(readers, ", ")
	if len(readers) > 1 {
		reader = "[" + reader + "]"
	}
	var sent, rests []journal.Entry
	for _, name := range slices.Sorted(maps.Keys(r.Files)) {
		sum := sha256.Sum256(r.Files[name])
		sent = append(sent, journal.Entry{Key: name, Value: hex.EncodeToString(sum[:])})
	}
	for _, s := range r.Sessions {
		digest, err := journal.DigestFile(j.FS, s.Path)
		if err != nil {
			return nil, err
		}
		rests = append(rests, journal.Entry{Key: s.Path, Value: digest})
	}
	entries := []journal.Entry{{Key: "owner", Value: r.Owner}, {Key: "to", Value: reader}, {Key: "sent", Value: journal.FormatTime(r.Sent)}, {Key: "by", Value: r.By},
		{Key: "subject", Value: frontmatter.Quote(r.Subject)}, {Key: "files", Below: sent}, {Key: "rests_on", Below: rests}}
	if r.Replaces != "" {
		entries = append(entries, journal.Entry{Key: "replaces", Value: r.Replaces})
	}
	return journal.Compose(journal.KindReport, entries, "A draft was written at this time; the mail program sends it."), nil
}

// ReportSubject is what a message about sessions is about: their sites and days, cut
// after 150 characters. The sessions are in the order of their sampling.
func ReportSubject(j *journal.Journal, sessions []*journal.Session) string {
	sites := map[string]bool{}
	for _, s := range sessions {
		name := s.Site
		if site, ok := j.Sites.Get(s.Site); ok {
			name = site.Name
		}
		sites[name] = true
	}
	days := journal.FormatDate(sessions[0].Sampled)
	if last := journal.FormatDate(sessions[len(sessions)-1].Sampled); last != days {
		days += " to " + last
	}
	subject := "Water test results: " + strings.Join(slices.Sorted(maps.Keys(sites)), ", ") + ", " + days
	if utf8.RuneCountInString(subject) > 150 {
		subject = string([]rune(subject)[:149]) + "…"
	}
	return subject
}

// OldReport is a session that was reported before it changed.
type OldReport struct{ Session, Report string }

// Superseded are the earlier reports to an owner whose figures have changed since.
func Superseded(j *journal.Journal, owner string, sessions []*journal.Session) []OldReport {
	var out []OldReport
	for _, r := range j.Reports.List {
		if r.Owner != owner || r.Void != nil {
			continue
		}
		for _, s := range sessions {
			was, ok := r.RestsOn[s.Path]
			if now, err := journal.DigestFile(j.FS, s.Path); ok && err == nil && was != now {
				out = append(out, OldReport{s.ID, r.ID})
			}
		}
	}
	return out
}
