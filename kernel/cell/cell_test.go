package cell_test

import (
	"strings"
	"testing"

	"rotorhum/kernel/cell"
)

func TestValidText(t *testing.T) {
	for _, s := range []string{"", "whirligig", "62.5 1/s ± 0.2", "\xff", "cut \xc3", "two \xff\xfe in a row, \xe2\x82 and U+FFFD \uFFFD", strings.Repeat("card wheel ", 999) + "\x80"} {
		if got, want := cell.ValidText(s), strings.ToValidUTF8(s, "\uFFFD"); got != want {
			t.Errorf("ValidText(%.40q) = %.40q, want %.40q", s, got, want)
		}
	}
}
