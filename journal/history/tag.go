package history

import (
	"bytes"
	"fmt"
	"strings"
	"time"
)

// Tag is a tag of the repository, such as the anchor that an audit leaves.
type Tag struct {
	Name    string
	Object  Hash   // the tag object; zero for a lightweight tag
	Commit  Hash   // the commit that it marks
	Tagger  Person // zero for a lightweight tag
	Message string // without the signature
	Signed  bool
}

// Tags gives the tags that mark commits, sorted by name.
func (h *History) Tags() ([]Tag, error) {
	references, err := h.References()
	if err != nil {
		return nil, fmt.Errorf("list tags: %w", err)
	}
	var tags []Tag
	for _, ref := range references {
		name, ok := strings.CutPrefix(ref.Name, "refs/tags/")
		if !ok || ref.Commit.IsZero() {
			continue // of a tree or a file, or not in this copy
		}
		tag := Tag{Name: name, Commit: ref.Commit}
		if ref.Object != ref.Commit {
			raw, err := want(h.store, ref.Object, tagKind)
			if err != nil {
				return nil, h.explainMissing(fmt.Errorf("tag %s: %w", name, err))
			}
			tag.Object = ref.Object
			headers, message, err := splitHeaders(raw)
			if err != nil {
				return nil, fmt.Errorf("tag %s: %w: %w", name, ErrCorrupt, err)
			}
			for _, head := range headers {
				if head.key == "tagger" && tag.Tagger == (Person{}) {
					tag.Tagger = parsePerson(head.value(raw))
				}
			}
			payload, signature := splitTag(raw)
			tag.Signed = signature != ""
			tag.Message = text(payload[min(message, len(payload)):], "")
		}
		tags = append(tags, tag)
	}
	return tags, nil
}

// splitTag parts a raw tag from the signature at its end: the last line that
// begins one, and what follows (git's parse_signature).
func splitTag(raw []byte) (payload []byte, signature string) {
	at := -1
	for _, mark := range []string{"-----BEGIN SSH SIGNATURE-----", "-----BEGIN PGP SIGNATURE-----", "-----BEGIN PGP MESSAGE-----", "-----BEGIN SIGNED MESSAGE-----"} {
		if i := bytes.LastIndex(raw, []byte("\n"+mark)); i >= 0 {
			at = max(at, i+1)
		}
	}
	if at < 0 {
		return raw, ""
	}
	return raw[:at], string(raw[at:])
}

// VerifyTag judges the signature of an annotated tag as [History.Verify] does
// that of a commit; a zero time means the tagger's date. The tag must also
// carry the name under which it was found: a signed tag under another name
// would vouch for something that nobody signed.
func (h *History) VerifyTag(tag Tag, ring *Keyring, at time.Time) (SignatureCheck, error) {
	if tag.Object.IsZero() {
		return SignatureCheck{Kind: None}, nil
	}
	raw, err := want(h.store, tag.Object, tagKind)
	if err != nil {
		return SignatureCheck{}, h.explainMissing(err)
	}
	payload, signature := splitTag(raw)
	if signature == "" {
		return SignatureCheck{Kind: None}, nil
	}
	headers, _, err := splitHeaders(payload)
	if err != nil {
		return SignatureCheck{Kind: Malformed, Detail: err.Error()}, nil
	}
	want := []string{"object", "type", "tag", "tagger"}
	for i, head := range headers {
		if i >= len(want) || head.key != want[i] {
			return SignatureCheck{Kind: Malformed, Detail: fmt.Sprintf("header %q is repeated, unknown or out of place", head.key)}, nil
		}
	}
	if len(headers) != len(want) || headers[2].value(raw) != tag.Name || bytes.IndexByte(raw, 0) >= 0 {
		return SignatureCheck{Kind: Malformed, Detail: "the tag object does not carry this tag's name, or holds a NUL byte"}, nil
	}
	if at.IsZero() {
		at = parsePerson(headers[3].value(raw)).When
	}
	return ring.VerifyDetached(payload, signature, signatureNamespace, at), nil
}
