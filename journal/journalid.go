package journal

import (
	"crypto/rand"
	"encoding/base32"
	"strings"
)

// idCode writes random bytes as small letters and digits, without those that are
// taken for others.
var idCode = base32.NewEncoding("abcdefghjkmnpqrstvwxyz0123456789").WithPadding(base32.NoPadding)

// IDCode is ten letters and digits for the first seven bytes.
func IDCode(b []byte) string { return idCode.EncodeToString(b[:7])[:10] }

// NewJournalID makes the id of a new journal: its name, for people and never taken
// apart, and ten random characters.
func NewJournalID(name string) string {
	var word strings.Builder
	for _, r := range strings.ToLower(name) {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			word.WriteRune(r)
		case word.Len() > 0 && !strings.HasSuffix(word.String(), "-"):
			word.WriteByte('-')
		}
		if word.Len() >= 24 {
			break
		}
	}
	random := make([]byte, 7)
	_, _ = rand.Read(random) // it never fails (crypto/rand)
	id := strings.Trim(word.String(), "-")
	if id == "" {
		id = "journal"
	}
	return id + "-" + IDCode(random)
}
