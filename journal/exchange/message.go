package exchange

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net/mail"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/emersion/go-message"
)

// File is a file by its name and content.
type File struct {
	Name    string
	Content []byte
}

// Message is a draft for a mail program to open, look at and send. This program
// never sends one.
type Message struct {
	From       *mail.Address
	To         []*mail.Address
	Subject    string
	Date       time.Time
	Text, HTML string
	Attachment File // a table as CSV
}

// maxSubject bounds a subject, in characters; a mail program shows fewer.
const maxSubject = 200

// The longest address that mail servers take (RFC 5321, section 4.5.3.1.3, less
// its brackets), and a bound for names of people and files, in octets: a header
// is folded at blanks only, and no line may have more than 998.
const (
	maxAddress = 254
	maxName    = 200
)

// ParseAddress reads "name@example.org" or "Name <name@example.org>". What could
// start another header line is refused, also where it is encoded.
func ParseAddress(s string) (*mail.Address, error) {
	if i := strings.IndexFunc(s, unicode.IsControl); i >= 0 {
		return nil, fmt.Errorf("the address %q holds a control character", s)
	}
	a, err := mail.ParseAddress(s)
	if err != nil {
		return nil, fmt.Errorf("%q is not an e-mail address: write it as name@example.org", s)
	}
	if strings.IndexFunc(a.Name+a.Address, unicode.IsControl) >= 0 {
		return nil, fmt.Errorf("the address %q hides a control character", s)
	}
	if len(a.Address) > maxAddress || len(a.Name) > maxName {
		return nil, fmt.Errorf("the address %.40q… is too long: a name has at most %d octets, an address %d", s, maxName, maxAddress)
	}
	for _, r := range a.Address {
		if r >= utf8.RuneSelf {
			return nil, fmt.Errorf("the address %s has letters beyond ASCII, which many mail servers refuse: write the domain in its xn-- form", a.Address)
		}
	}
	return a, nil
}

// Bytes writes the message as RFC 5322 and MIME (RFC 2045, 2046, 2047, 2183) say:
// text and HTML as alternatives, then the attachment; CRLF line ends, no line
// over 78 octets. X-Unsent: 1 makes mail programs open it as a draft (customary,
// no standard). The same message gives the same bytes.
func (m *Message) Bytes() ([]byte, error) {
	if m.From == nil || len(m.To) == 0 {
		return nil, errors.New("write the message: it needs a sender and somebody to go to")
	}
	subject := strings.TrimSpace(m.Subject)
	if subject == "" || utf8.RuneCountInString(subject) > maxSubject {
		return nil, fmt.Errorf("write the message: a subject has 1 to %d characters", maxSubject)
	}
	if strings.IndexFunc(subject, unicode.IsControl) >= 0 {
		return nil, errors.New("write the message: the subject holds a control character, such as a line break")
	}
	if name := m.Attachment.Name; len(name) > maxName || strings.IndexFunc(name, unicode.IsControl) >= 0 {
		return nil, fmt.Errorf("write the message: the name of the attachment has more than %d octets or holds a control character", maxName)
	}
	// The lines of quoted-printable and base64 hold no "=_", so a boundary that
	// starts with it cannot be met in a part (RFC 2045, section 6.7, note).
	sum := sha256.Sum256([]byte(m.Text + "\x00" + m.HTML + "\x00" + string(m.Attachment.Content)))
	var b bytes.Buffer
	var head message.Header
	head.SetContentType("multipart/mixed", map[string]string{"boundary": "=_wj_" + hex.EncodeToString(sum[:10])})
	head.Set("MIME-Version", "1.0")
	head.Set("X-Unsent", "1")
	head.Set("Date", m.Date.Format("Mon, 02 Jan 2006 15:04:05 -0700"))
	head.Set("Subject", encodeWords(subject))
	to := make([]string, len(m.To))
	for i, a := range m.To {
		to[i] = mailbox(a)
	}
	head.Set("To", strings.Join(to, ", "))
	head.Set("From", mailbox(m.From))
	mixed, err := message.CreateWriter(&b, head)
	if err != nil {
		return nil, fmt.Errorf("write the message: %w", err)
	}
	var both message.Header
	both.SetContentType("multipart/alternative", map[string]string{"boundary": "=_wj_" + hex.EncodeToString(sum[10:20])})
	alternative, err := mixed.CreatePart(both)
	if err != nil {
		return nil, fmt.Errorf("write the message: %w", err)
	}
	for _, p := range []struct{ sort, text string }{{"text/plain", m.Text}, {"text/html", m.HTML}} {
		if err := part(alternative, p.sort, map[string]string{"charset": "utf-8"}, "", "quoted-printable", lineEnds.Replace(p.text)); err != nil {
			return nil, err
		}
	}
	if err := alternative.Close(); err != nil {
		return nil, fmt.Errorf("write the message: %w", err)
	}
	if name := m.Attachment.Name; name != "" {
		kind := map[string]string{"charset": "utf-8", "header": "present", "name": name}
		if err := part(mixed, "text/csv", kind, name, "base64", string(m.Attachment.Content)); err != nil {
			return nil, err
		}
	}
	if err := mixed.Close(); err != nil {
		return nil, fmt.Errorf("write the message: %w", err)
	}
	return b.Bytes(), nil
}

// part writes one part of a message; with a file name it is an attachment.
func part(w *message.Writer, kind string, parameters map[string]string, file, encoding, text string) error {
	var h message.Header
	h.Set("Content-Transfer-Encoding", encoding)
	if file != "" {
		h.SetContentDisposition("attachment", map[string]string{"filename": file})
	}
	h.SetContentType(kind, parameters)
	p, err := w.CreatePart(h)
	if err == nil {
		_, err = io.WriteString(p, text)
	}
	if err == nil {
		err = p.Close()
	}
	if err != nil {
		return fmt.Errorf("write the message: %w", err)
	}
	return nil
}

// lineEnds makes every kind of line end CRLF (RFC 2046, section 4.1.1).
var lineEnds = strings.NewReplacer("\r\n", "\r\n", "\r", "\r\n", "\n", "\r\n")

// mailbox writes an address. A name beyond ASCII is encoded by base64, which
// leaves none of the characters that RFC 2047, section 5 (3), forbids in a name.
func mailbox(a *mail.Address) string {
	if words := encodeWords(a.Name); words != a.Name {
		return words + " " + (&mail.Address{Address: a.Address}).String()
	}
	return a.String()
}

// encodeWords writes a text for a header: as it is where it is plain ASCII,
// otherwise as encoded words of at most 75 octets (RFC 2047, section 2).
func encodeWords(s string) string {
	ascii := !strings.Contains(s, "=?") && !strings.Contains(s, "  ")
	for _, r := range s {
		ascii = ascii && r < utf8.RuneSelf
	}
	if ascii {
		return s
	}
	var words []string
	for len(s) > 0 {
		n := 0
		for n < len(s) {
			_, size := utf8.DecodeRuneInString(s[n:])
			if n+size > 39 { // 39 octets become 52, =?utf-8?b??= adds 12 and "Subject: " 9: a line has at most 76
				break
			}
			n += size
		}
		words = append(words, "=?utf-8?b?"+base64.StdEncoding.EncodeToString([]byte(s[:n]))+"?=")
		s = s[n:]
	}
	return strings.Join(words, " ")
}
