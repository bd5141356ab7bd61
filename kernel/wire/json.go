package wire

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"unicode/utf8"
)

// Appender is content that encodes itself. A picture or a long text goes through
// encoding/json at a third of the speed of [AppendString], because that package
// looks at each byte several times.
type Appender interface {
	// AppendJSON appends the value's JSON to b, or says why there is none.
	AppendJSON(b []byte) ([]byte, error)
}

// marshal encodes v as JSON, without the escapes that only HTML needs.
func marshal(v any) (json.RawMessage, error) {
	if a, ok := v.(Appender); ok {
		return a.AppendJSON(nil)
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), nil
}

// AppendString appends s to b as a JSON string. Bytes that are not UTF-8 become
// U+FFFD, as encoding/json has it.
func AppendString(b []byte, s string) []byte {
	if need := len(s) + 2; cap(b)-len(b) < need {
		b = append(make([]byte, 0, len(b)+need+len(s)/16), b...)
	}
	b = append(b, '"')
	for len(s) > 0 {
		n := plain(s)
		b, s = append(b, s[:n]...), s[n:]
		if s == "" {
			break
		}
		c := s[0]
		if c >= utf8.RuneSelf {
			r, size := utf8.DecodeRuneInString(s)
			b, s = utf8.AppendRune(b, r), s[size:]
			continue
		}
		switch c {
		case '"', '\\':
			b = append(b, '\\', c)
		case '\n':
			b = append(b, '\\', 'n')
		case '\r':
			b = append(b, '\\', 'r')
		case '\t':
			b = append(b, '\\', 't')
		default:
			const digits = "0123456789abcdef"
			b = append(b, '\\', 'u', '0', '0', digits[c>>4], digits[c&15])
		}
		s = s[1:]
	}
	return append(b, '"')
}

// plain returns how many bytes at the start of s stand for themselves in a JSON
// string: ASCII but for quotes, backslashes and control characters. It looks at
// eight at a time.
func plain(s string) int {
	const ones, highs = 0x0101010101010101, 0x8080808080808080
	i := 0
	for ; i+8 <= len(s); i += 8 {
		w := binary.LittleEndian.Uint64([]byte(s[i : i+8]))
		quote, back := w^(ones*'"'), w^(ones*'\\')
		// A byte of x - ones borrows into its high bit if it was zero; one of
		// w - 0x20.. if it was below a space. Borrows from lower bytes only
		// find too much, and then the loop below decides.
		if (w|(w-ones*0x20)|(quote-ones)|(back-ones))&highs != 0 {
			break
		}
	}
	for ; i < len(s); i++ {
		if c := s[i]; c < ' ' || c >= utf8.RuneSelf || c == '"' || c == '\\' {
			break
		}
	}
	return i
}
