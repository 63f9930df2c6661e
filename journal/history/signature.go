package history

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/ProtonMail/go-crypto/openpgp"
	"github.com/ProtonMail/go-crypto/openpgp/armor"
	pgperrors "github.com/ProtonMail/go-crypto/openpgp/errors"
	"github.com/ProtonMail/go-crypto/openpgp/packet"
	"github.com/hiddeco/sshsig"
	"golang.org/x/crypto/ssh"
)

// SignatureState says how a signature was found.
type SignatureState byte

// What can be said of a signature. Only Good proves who signed.
const (
	None           SignatureState = iota // there is no signature
	Good                                 // by a listed key, valid at the time in question
	Bad                                  // the content is not what was signed
	UnknownKey                           // sound, but by a key that nobody listed
	Expired                              // by a listed key after its last day, or OpenPGP: expired now
	NotYetValid                          // by a listed key before its first day
	Revoked                              // by a listed key that was revoked
	WrongNamespace                       // made for another purpose than commits
	Malformed                            // signature or object are not of a form that can be trusted
)

// String gives the kind in words.
func (k SignatureState) String() string {
	names := [...]string{"unsigned", "good", "bad", "unknown key", "expired key", "key not yet valid", "revoked key", "wrong namespace", "malformed"}
	if int(k) < len(names) {
		return names[k]
	}
	return "unknown verdict"
}

// SignatureCheck is what is known about a signature.
type SignatureCheck struct {
	Kind        SignatureState
	Format      string    // ssh, openpgp, x509, ""
	Fingerprint string    // SHA256:… of an SSH key, hexadecimal of an OpenPGP key; of UnknownKey too
	Principal   string    // whose key it is by the list, "" where not listed
	At          time.Time // the moment at which the key's dates were judged
	// ValidThen says of an Expired OpenPGP key that it had not expired when the
	// signature was made. git calls such a signature expired all the same.
	ValidThen bool
	Detail    string // one line on why, "" where Kind says all
}

// signatureNamespace is the purpose that git signs commits and tags for
// (gitformat-signature(5)); a signature made for files must not pass as one.
const signatureNamespace = "git"

// Verify judges the signature of one commit over the bytes of the object as it
// is stored. Dates of keys are judged at the moment at, the zero time meaning
// the commit's own committer date, as git does it; that date is the committer's
// claim. The error says that the commit could not be read.
func (h *History) Verify(commit Hash, ring *Keyring, at time.Time) (SignatureCheck, error) {
	raw, err := want(h.store, commit, commitKind)
	if err != nil {
		return SignatureCheck{}, h.explainMissing(err)
	}
	return ring.VerifyCommit(raw, at), nil
}

// VerifyCommit judges the signature of a raw commit object, see
// [History.Verify]. Objects whose headers are repeated or out of order, or
// that hold a NUL byte, are Malformed, since programs differ in what they show
// of them.
func (k *Keyring) VerifyCommit(raw []byte, at time.Time) SignatureCheck {
	headers, _, err := splitHeaders(raw)
	if err != nil {
		return SignatureCheck{Kind: Malformed, Detail: err.Error()}
	}
	// A commit with SHA-256 names carries its signature under another header
	// (gitformat-signature(5)).
	own := "gpgsig"
	if tree, _, ok := nameLine(raw, "tree "); ok && tree.size == sha256Size {
		own = "gpgsig-sha256"
	}
	signed := false
	for _, h := range headers {
		signed = signed || h.key == own
	}
	if !signed {
		return SignatureCheck{Kind: None}
	}
	if err := checkHeaders(headers); err != nil {
		return SignatureCheck{Kind: Malformed, Detail: err.Error()}
	}
	if bytes.IndexByte(raw, 0) >= 0 {
		return SignatureCheck{Kind: Malformed, Detail: "NUL byte in the commit"}
	}
	var payload []byte
	var signature string
	from := 0
	for _, h := range headers {
		switch {
		case h.key == "gpgsig" || h.key == "gpgsig-sha256":
			payload = append(payload, raw[from:h.start]...)
			from = h.end
			if h.key == own {
				signature = h.value(raw)
			}
		case strings.HasPrefix(h.key, "gpgsig"):
			return SignatureCheck{Kind: Malformed, Detail: fmt.Sprintf("unknown signature header %q", h.key)}
		case h.key == "committer" && at.IsZero():
			// Git takes the time only from a complete line: without a zone it judges at
			// the present (ident.c, split_ident_line).
			if line := h.value(raw); completeIdent().MatchString(line) {
				at = parsePerson(line).When
			}
		}
	}
	payload = append(payload, raw[from:]...)
	if at.IsZero() {
		at = time.Now()
	}
	return k.VerifyDetached(payload, signature, signatureNamespace, at)
}

// completeIdent is the end of a committer line from which git takes the time.
var completeIdent = pattern(`>[ \t]*[0-9]+[ \t]*[+-][0-9]+`)

// VerifyDetached judges a signature over bytes that was made for a purpose:
// the namespace of an SSH signature; OpenPGP has none. Dates of keys are judged
// at the moment at.
func (k *Keyring) VerifyDetached(payload []byte, signature, namespace string, at time.Time) (v SignatureCheck) {
	v.At = at
	// The parsers are fed by strangers; should one of them panic, the signature is
	// no good.
	defer func() {
		if r := recover(); r != nil {
			v.Kind, v.Detail = Malformed, fmt.Sprintf("the signature cannot be read: %v", r)
		}
	}()
	switch {
	case strings.HasPrefix(signature, "-----BEGIN SSH SIGNATURE-----"):
		v.Format = "ssh"
		k.verifySSH(&v, payload, signature, namespace)
	case strings.HasPrefix(signature, "-----BEGIN PGP SIGNATURE-----"), strings.HasPrefix(signature, "-----BEGIN PGP MESSAGE-----"):
		v.Format = "openpgp"
		k.verifyOpenPGP(&v, payload, signature, namespace)
	case strings.HasPrefix(signature, "-----BEGIN SIGNED MESSAGE-----"):
		v.Format, v.Kind, v.Detail = "x509", UnknownKey, "X.509 signatures are not checked"
	default:
		v.Kind, v.Detail = Malformed, "the signature is neither SSH nor OpenPGP"
	}
	return v
}

func (k *Keyring) verifySSH(v *SignatureCheck, payload []byte, signature, namespace string) {
	// ssh-keygen reads the first armor and nothing behind it.
	if end := strings.Index(signature, sshEnd); end >= 0 {
		signature = signature[:end+len(sshEnd)] + "\n"
	}
	sig, err := sshsig.Unarmor([]byte(signature))
	if err != nil {
		v.Kind, v.Detail = Malformed, err.Error()
		return
	}
	v.Fingerprint = ssh.FingerprintSHA256(sig.PublicKey)
	listed := k.ssh[v.Fingerprint]
	certificate, certified := sig.PublicKey.(*ssh.Certificate)
	if certified {
		listed = k.certified(certificate, v.At)
		v.Fingerprint = ssh.FingerprintSHA256(certificate.Key)
	}
	if len(listed) > 0 {
		v.Principal = listed[0].Principal
	}
	// SHA-1 signatures are excluded by the format (OpenSSH, PROTOCOL.sshsig).
	if sig.Signature.Format == ssh.KeyAlgoRSA {
		v.Kind, v.Detail = Bad, "RSA signature with SHA-1"
		return
	}
	if sig.Namespace != namespace {
		v.Kind, v.Detail = WrongNamespace, fmt.Sprintf("signed for %q, not for %q", sig.Namespace, namespace)
		return
	}
	if err := sshsig.Verify(bytes.NewReader(payload), sig, sig.PublicKey, sig.HashAlgorithm, namespace); err != nil {
		v.Kind, v.Detail = Bad, err.Error()
		return
	}
	if certified && len(listed) == 0 {
		v.Kind, v.Detail = UnknownKey, "no listed authority issued its certificate for a listed person at that time"
		return
	}
	k.judge(v, listed, namespace)
}

// sshEnd closes an armored SSH signature.
const sshEnd = "-----END SSH SIGNATURE-----"

// certified lists the entries of authorities that vouch for the holder of a
// certificate at a time: a user certificate, valid then, without options that
// are not understood, for a principal of the entry (ssh-keygen(1), CERTIFICATES
// and ALLOWED SIGNERS).
func (k *Keyring) certified(c *ssh.Certificate, at time.Time) []Key {
	if c.CertType != ssh.UserCert || len(c.CriticalOptions) > 0 || c.SignatureKey == nil {
		return nil
	}
	var out []Key
	for _, key := range k.authorities[ssh.FingerprintSHA256(c.SignatureKey)] {
		for _, principal := range c.ValidPrincipals {
			if !matchesList(append(strings.Split(key.Principal, ","), key.Names...), principal) {
				continue
			}
			checker := ssh.CertChecker{Clock: func() time.Time { return at }}
			if checker.CheckCert(principal, c) == nil {
				out = append(out, key)
				break
			}
		}
	}
	return out
}

// judge finds whether one of the list's entries for the signing key covers
// purpose and time.
func (k *Keyring) judge(v *SignatureCheck, listed []Key, namespace string) {
	v.Kind = UnknownKey
	for _, key := range listed {
		kind := Good
		switch {
		case !key.Revoked.IsZero():
			kind = Revoked
		case len(key.Namespaces) > 0 && !matchesList(key.Namespaces, namespace):
			kind = WrongNamespace
		case !key.Until.IsZero() && v.At.After(key.Until):
			kind = Expired
		case !key.Since.IsZero() && v.At.Before(key.Since):
			kind = NotYetValid
		}
		if kind == Good || v.Kind == UnknownKey {
			v.Kind, v.Principal, v.Detail = kind, key.Principal, ""
			switch kind {
			case Revoked:
				v.Detail = "taken back on " + key.Revoked.Format(time.DateOnly)
			case WrongNamespace:
				v.Detail = "the list does not allow this key to sign for " + namespace
			case Expired:
				v.Detail = "the key's last moment was " + key.Until.Format(time.RFC3339)
			case NotYetValid:
				v.Detail = "the key's first moment is " + key.Since.Format(time.RFC3339)
			}
		}
		if kind == Good {
			return
		}
	}
}

func (k *Keyring) verifyOpenPGP(v *SignatureCheck, payload []byte, signature, namespace string) {
	fail := func(err error) { v.Kind, v.Detail = Malformed, err.Error() }
	if strings.Count(signature, "-----BEGIN PGP ") > 1 {
		// gpg reads every armor, and git refuses more than one verdict.
		fail(errors.New("more than one armored signature"))
		return
	}
	block, err := armor.Decode(strings.NewReader(signature))
	if err != nil {
		fail(err)
		return
	}
	body, err := io.ReadAll(io.LimitReader(block.Body, 1<<20))
	if err != nil {
		fail(err)
		return
	}
	// git refuses more than one signature in one place (CVE-2018-12020 and after).
	var sig *packet.Signature
	for packets := packet.NewReader(bytes.NewReader(body)); ; {
		p, err := packets.Next()
		if err == io.EOF {
			break
		}
		one, ok := p.(*packet.Signature)
		if err != nil || !ok || sig != nil {
			fail(errors.New("not exactly one OpenPGP signature"))
			return
		}
		sig = one
	}
	if sig == nil {
		fail(errors.New("not exactly one OpenPGP signature"))
		return
	}
	switch {
	case len(sig.IssuerFingerprint) > 0:
		v.Fingerprint = fmt.Sprintf("%X", sig.IssuerFingerprint)
	case sig.IssuerKeyId != nil:
		v.Fingerprint = fmt.Sprintf("%016X", *sig.IssuerKeyId)
	}
	check := func(now time.Time) (*openpgp.Entity, error) {
		_, signer, err := openpgp.VerifyDetachedSignature(k.entities, bytes.NewReader(payload), bytes.NewReader(body), &packet.Config{Time: func() time.Time { return now }})
		return signer, err
	}
	signer, err := check(time.Now())
	var listed []Key
	if signer != nil {
		listed = k.openPGP[string(signer.PrimaryKey.Fingerprint)]
		if len(listed) > 0 {
			v.Principal = listed[0].Principal
		}
	}
	var structural pgperrors.StructuralError
	switch {
	case err == nil && sig.SigLifetimeSecs != nil && *sig.SigLifetimeSecs > 0 && !time.Now().Before(sig.CreationTime.Add(time.Duration(*sig.SigLifetimeSecs)*time.Second)):
		v.Kind, v.Detail, v.ValidThen = Expired, pgperrors.ErrSignatureExpired.Error(), true // to the second, as gpg has it
	case err == nil:
		k.judge(v, listed, namespace)
	case errors.Is(err, pgperrors.ErrUnknownIssuer):
		v.Kind = UnknownKey
	case errors.Is(err, pgperrors.ErrKeyExpired), errors.Is(err, pgperrors.ErrSignatureExpired):
		v.Kind, v.Detail = Expired, err.Error()
		_, then := check(sig.CreationTime)
		v.ValidThen = then == nil
	case errors.Is(err, pgperrors.ErrKeyRevoked):
		v.Kind, v.Detail = Revoked, err.Error()
	case errors.As(err, &structural):
		fail(err)
	default:
		v.Kind, v.Detail = Bad, err.Error()
	}
}
