package wire

import (
	"crypto/hmac"
	"crypto/sha1"
	"crypto/sha256"
	"crypto/sha512"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"sync"
)

var (
	// ErrSignature says that a message was not signed with the kernel's key.
	ErrSignature = errors.New("bad signature")
	// ErrReplay says that a message with this signature was seen before: a
	// client never sends the same header twice, so it is a recorded copy.
	ErrReplay = errors.New("signature seen before")
)

// seenLimit bounds how many signatures a Signer remembers: between seenLimit
// and twice that many of the latest.
const seenLimit = 1 << 14

// Signer signs messages and checks their signatures. It may be used by several
// goroutines at once.
type Signer struct {
	hash func() hash.Hash
	key  []byte

	mu         sync.Mutex
	seen, past map[string]struct{} // signatures met, the younger and the older half
}

// NewSigner returns a Signer for a signature scheme of the connection file,
// such as "hmac-sha256" (also meant by an empty scheme). An empty key makes a
// Signer that leaves messages unsigned and accepts all.
func NewSigner(scheme, key string) (*Signer, error) {
	s := &Signer{key: []byte(key), seen: map[string]struct{}{}}
	switch scheme {
	case "", "hmac-sha256":
		s.hash = sha256.New
	case "hmac-sha1":
		s.hash = sha1.New
	case "hmac-sha384":
		s.hash = sha512.New384
	case "hmac-sha512":
		s.hash = sha512.New
	default:
		return nil, fmt.Errorf("signature_scheme is %q, want hmac-sha256 (or hmac-sha1, -sha384, -sha512)", scheme)
	}
	return s, nil
}

// Sign returns the signature of the dictionaries, in lower-case hexadecimal.
func (s *Signer) Sign(dicts ...[]byte) []byte {
	if len(s.key) == 0 {
		return []byte{}
	}
	return hex.AppendEncode(nil, s.sum(dicts))
}

func (s *Signer) sum(dicts [][]byte) []byte {
	m := hmac.New(s.hash, s.key)
	for _, d := range dicts {
		m.Write(d)
	}
	return m.Sum(nil)
}

// Check returns nil for a good signature met for the first time, else
// ErrSignature or ErrReplay. Only the latest signatures are remembered.
func (s *Signer) Check(signature []byte, dicts ...[]byte) error {
	if len(s.key) == 0 {
		return nil
	}
	got, err := hex.DecodeString(string(signature))
	if err != nil || !hmac.Equal(got, s.sum(dicts)) {
		return ErrSignature
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	_, young := s.seen[string(got)]
	_, old := s.past[string(got)]
	if young || old {
		return ErrReplay
	}
	if len(s.seen) == seenLimit {
		s.past, s.seen = s.seen, map[string]struct{}{}
	}
	s.seen[string(got)] = struct{}{}
	return nil
}
