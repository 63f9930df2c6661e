package journal

import "testing"

// Known answer of FIPS 180-4, example SHA-256 of "abc"; CR LF counts as LF.
func TestDigest(t *testing.T) {
	if got := Digest([]byte("abc")); got != "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" {
		t.Error(got)
	}
	if Digest([]byte("a\r\nb\r\n")) != Digest([]byte("a\nb\n")) || Digest([]byte("a\rb")) == Digest([]byte("a\nb")) {
		t.Error("line ends")
	}
}
