package wire

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"testing"
	"time"
)

const pythonHMAC = "571f54ca20ac469366661f0eb466e6d650eee65ae12436bc786b76a5eb890b86"

var discard = slog.New(slog.DiscardHandler)

func signer(t testing.TB, key string) *Signer {
	t.Helper()
	s, err := NewSigner("hmac-sha256", key)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// The expected hash is that of Python's hmac module:
//
//	hmac.new(b"a0436f6c-1916-498b-8eb9-e81ab9368e84", b'{"msg_id":"1"}{}{}{"code":"1+1"}', "sha256").hexdigest()
func TestSignatureAgreesWithPython(t *testing.T) {
	s := signer(t, "a0436f6c-1916-498b-8eb9-e81ab9368e84")
	got := s.Sign([]byte(`{"msg_id":"1"}`), []byte(`{}`), []byte(`{}`), []byte(`{"code":"1+1"}`))
	if string(got) != pythonHMAC {
		t.Errorf("Sign = %s, want %s", got, pythonHMAC)
	}
}

// RFC 4231, test case 2: key "Jefe", data "what do ya want for nothing?".
func TestSignatureAgreesWithRFC4231(t *testing.T) {
	for scheme, want := range map[string]string{
		"hmac-sha256": "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843",
		"hmac-sha384": "af45d2e376484031617f78d2b58a6b1b9c7ef464f5a01b47e42ec3736322445e8e2240ca5e69e2c78b3239ecfab21649",
		"hmac-sha512": "164b7a7bfcf819e2e395fbe73b56e0a387bd64222e831fd610270cd7ea2505549758bf75c05a994a6d034f65f8f0e6fdcaeab1a34d4a6b4b636e070a38bce737",
	} {
		s, err := NewSigner(scheme, "Jefe")
		if err != nil {
			t.Fatal(err)
		}
		if got := s.Sign([]byte("what do ya want "), []byte("for nothing?")); string(got) != want {
			t.Errorf("%s: %s, want %s", scheme, got, want)
		}
	}
}

func request(t testing.TB, s *Signer) [][]byte {
	t.Helper()
	m, err := New("client", "execute_request", nil, map[string]any{"code": "1 < 2 && \"é\" != `😀`"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	m.Identities = [][]byte{[]byte("route"), {}}
	m.Buffers = [][]byte{{0, 1, 255}, {}}
	return Encode(m, s)
}

func TestEncodeDecode(t *testing.T) {
	for _, key := range []string{"secret", ""} {
		frames := request(t, signer(t, key))
		m, err := Decode(frames, signer(t, key))
		if err != nil {
			t.Fatalf("key %q: %v", key, err)
		}
		if got := Encode(m, signer(t, key)); !equalFrames(got, frames) {
			t.Errorf("key %q: decoded and encoded again, %q became %q", key, frames, got)
		}
		if m.Header.MsgType != "execute_request" || m.Header.Session != "client" || m.Header.Version != Version {
			t.Errorf("header %+v", m.Header)
		}
		if _, err := time.Parse(time.RFC3339Nano, m.Header.Date); err != nil {
			t.Errorf("date %q is not ISO 8601: %v", m.Header.Date, err)
		}
		var c struct{ Code string }
		if err := json.Unmarshal(m.Content, &c); err != nil || c.Code != "1 < 2 && \"é\" != `😀`" {
			t.Errorf("content %s: %q, %v", m.Content, c.Code, err)
		}
	}
}

func TestReplyCarriesItsRequest(t *testing.T) {
	s := signer(t, "k")
	req, err := Decode(request(t, s), s)
	if err != nil {
		t.Fatal(err)
	}
	rep, err := New("kernel", "execute_reply", req, map[string]any{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(rep.ParentHeader, req.RawHeader) || !equalFrames(rep.Identities, req.Identities) {
		t.Errorf("parent %s and identities %q, want %s and %q", rep.ParentHeader, rep.Identities, req.RawHeader, req.Identities)
	}
}

func TestDecodeRefuses(t *testing.T) {
	signed := func(dicts ...string) [][]byte {
		b := [][]byte{}
		for _, d := range dicts {
			b = append(b, []byte(d))
		}
		return append([][]byte{[]byte("route"), []byte(delimiter), signer(t, "k").Sign(b...)}, b...)
	}
	const header = `{"msg_type":"x_request","msg_id":"1"}`
	forged := signed(header, `{}`, `{}`, `{}`)
	forged[2] = bytes.Repeat([]byte("0"), 64)
	altered := signed(header, `{}`, `{}`, `{"code":"1"}`)
	altered[6] = []byte(`{"code":"2"}`)
	for name, row := range map[string]struct {
		frames [][]byte
		want   error
	}{
		"nothing":           {nil, ErrFrames},
		"no delimiter":      {signed(header, `{}`, `{}`, `{}`)[3:], ErrFrames},
		"too few frames":    {signed(header, `{}`, `{}`), ErrFrames},
		"forged":            {forged, ErrSignature},
		"altered":           {altered, ErrSignature},
		"unsigned":          {[][]byte{[]byte(delimiter), {}, []byte(header), []byte(`{}`), []byte(`{}`), []byte(`{}`)}, ErrSignature},
		"broken content":    {signed(header, `{}`, `{}`, `{not json`), ErrFrames},
		"content is a list": {signed(header, `{}`, `{}`, `[]`), ErrFrames},
		"empty metadata":    {signed(header, `{}`, ``, `{}`), ErrFrames},
		"header of numbers": {signed(`{"msg_type":1}`, `{}`, `{}`, `{}`), ErrFrames},
		"no type":           {signed(`{"msg_id":"1"}`, `{}`, `{}`, `{}`), ErrFrames},
	} {
		if m, err := Decode(row.frames, signer(t, "k")); !errors.Is(err, row.want) || m != nil {
			t.Errorf("%s: %v, %v; want %v", name, m, err, row.want)
		}
	}
}

func TestReplayIsDropped(t *testing.T) {
	s := signer(t, "k")
	first := request(t, s)
	if _, err := Decode(first, s); err != nil {
		t.Fatal(err)
	}
	if _, err := Decode(first, s); !errors.Is(err, ErrReplay) {
		t.Errorf("the same message again: %v, want %v", err, ErrReplay)
	}
	// Memory is bounded, and what is within the bound is still known.
	for i := range 3 * seenLimit {
		d := fmt.Appendf(nil, "%d", i)
		if err := s.Check(s.Sign(d), d); err != nil {
			t.Fatal(i, err)
		}
	}
	if n := len(s.seen) + len(s.past); n > 2*seenLimit {
		t.Errorf("%d signatures are remembered, want at most %d", n, 2*seenLimit)
	}
	d := fmt.Appendf(nil, "%d", 2*seenLimit+1)
	if err := s.Check(s.Sign(d), d); !errors.Is(err, ErrReplay) {
		t.Errorf("a message %d messages ago: %v, want %v", seenLimit-1, err, ErrReplay)
	}
}

func TestNewRefusesWhatJSONCannotSay(t *testing.T) {
	if _, err := New("s", "display_data", nil, map[string]any{"data": func() {}}, nil); err == nil {
		t.Error("a function was encoded")
	}
}

func equalFrames(a, b [][]byte) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if !bytes.Equal(a[i], b[i]) {
			return false
		}
	}
	return true
}

// FuzzDecode: any frames are either refused or come out as they went in.
func FuzzDecode(f *testing.F) {
	open := signer(f, "")
	pack := func(frames [][]byte) (b []byte) {
		for i, fr := range frames {
			flags := byte(flagMore)
			if i == len(frames)-1 {
				flags = 0
			}
			b = appendFrame(b, flags, fr)
		}
		return b
	}
	f.Add(pack(request(f, open)))
	f.Add(pack([][]byte{[]byte(delimiter), nil, []byte(`{"msg_type":"a","x":1}`), []byte(`{}`), []byte(` {}`), []byte("{}\n")}))
	f.Add([]byte{flagMore, 3, 'a'})
	f.Fuzz(func(t *testing.T, b []byte) {
		frames, ok := unpack(b)
		if !ok {
			return
		}
		m, err := Decode(frames, open)
		if err != nil {
			return
		}
		frames[len(m.Identities)+1] = []byte{} // the signature, not looked at without a key
		if got := Encode(m, open); !equalFrames(got, frames) {
			t.Errorf("%q came out as %q", frames, got)
		}
		if _, err := New("s", m.Header.MsgType+"_reply", m, m.Content, m.Metadata); err != nil {
			t.Errorf("no reply to %q: %v", frames, err)
		}
	})
}

// unpack splits one message of ZMTP frames; ok is false if b is anything else.
func unpack(b []byte) (frames [][]byte, ok bool) {
	for {
		h, err := parseHead(b)
		if err != nil || h.len == 0 || h.size > uint64(len(b)-h.len) {
			return nil, false
		}
		end := h.len + int(h.size)
		frames, b = append(frames, b[h.len:end:end]), b[end:]
		if h.flags&flagMore == 0 {
			return frames, len(b) == 0
		}
	}
}

// FuzzCutter: messages do not depend on how the stream was sliced.
func FuzzCutter(f *testing.F) {
	f.Add(appendFrame(appendFrame(appendFrame(nil, flagMore, []byte("topic")), 0, make([]byte, 300)), flagCommand, nil), byte(3))
	f.Add([]byte{flagLong, 0, 0, 0, 0, 0, 0, 0, 1, 'x', 0, 0}, byte(1))
	f.Add(appendFrame(appendFrame(nil, flagMore, make([]byte, 2*keepSize)), 0, []byte("end")), byte(255))
	f.Fuzz(func(t *testing.T, b []byte, step byte) {
		cut := func(step int) (msgs [][]byte, bad bool) {
			var c cutter
			for i := 0; i < len(b); i += step {
				if c.feed(b[i:min(i+step, len(b))], func(m [][]byte) { msgs = append(msgs, bytes.Join(m, nil)) }) != nil {
					return msgs, true
				}
			}
			return msgs, false
		}
		whole, bad := cut(len(b) + 1)
		sliced, bad2 := cut(int(step) + 1)
		if bad != bad2 || !equalFrames(whole, sliced) {
			t.Errorf("whole %q %v, in steps of %d %q %v", whole, bad, int(step)+1, sliced, bad2)
		}
		if !bytes.HasPrefix(b, bytes.Join(whole, nil)) {
			t.Errorf("%q was cut into %q", b, whole)
		}
	})
}

// FuzzReady: a READY command is refused or states what it says.
func FuzzReady(f *testing.F) {
	f.Add(readyFrame("DEALER", "me")[2:])
	f.Add([]byte(readyName + "\x0bSocket-Type\x00\x00\x00\xffDEALER"))
	f.Fuzz(func(t *testing.T, b []byte) {
		socketType, identity, err := parseReady(b)
		if err != nil {
			return
		}
		body := readyFrame(socketType, identity)
		h, _ := parseHead(body)
		again, id, err := parseReady(body[h.len:])
		if err != nil || again != socketType || id != identity {
			t.Errorf("%q %q came back as %q %q, %v", socketType, identity, again, id, err)
		}
	})
}
