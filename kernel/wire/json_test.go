package wire

import (
	"encoding/json"
	"strings"
	"testing"
)

// checkString compares AppendString with encoding/json.
func checkString(t *testing.T, s string) {
	t.Helper()
	got := AppendString([]byte("before"), s)
	standard, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	var back, want string
	if err := json.Unmarshal(got[len("before"):], &back); err != nil {
		t.Fatalf("AppendString(%q) = %s: %v", s, got, err)
	}
	if err := json.Unmarshal(standard, &want); err != nil {
		t.Fatal(err)
	}
	if back != want || string(got[:6]) != "before" {
		t.Errorf("AppendString(%q) = %s, want %s", s, got, standard)
	}
}

func TestAppendString(t *testing.T) {
	for c := range 256 { // each byte at each place of a word of eight and beyond
		for place := range 17 {
			b := []byte("01234567890123456")
			b[place] = byte(c)
			checkString(t, string(b))
		}
	}
	for _, s := range []string{"", "é", "日本語 😀", "\u2028\u2029", "\xe6\x97", "a\xf0\x9f\x98", strings.Repeat("x", 100_000) + "\"" + strings.Repeat("é", 50_000)} {
		checkString(t, s)
	}
}

func FuzzAppendString(f *testing.F) {
	f.Add("plain \"quoted\" \\ \x00\x1f\x7f\x80 é 😀")
	f.Fuzz(checkString)
}

func BenchmarkString(b *testing.B) {
	for _, row := range []struct{ name, text string }{
		{"ascii", strings.Repeat("x", 5_000_000)},
		{"lines", strings.Repeat("a line of some output, 123.456\n", 160_000)},
	} {
		b.Run(row.name+"/own", func(b *testing.B) {
			b.SetBytes(int64(len(row.text)))
			for b.Loop() {
				AppendString(nil, row.text)
			}
		})
		b.Run(row.name+"/standard", func(b *testing.B) {
			b.SetBytes(int64(len(row.text)))
			for b.Loop() {
				json.Marshal(row.text)
			}
		})
	}
}
