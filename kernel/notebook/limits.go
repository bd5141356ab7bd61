package notebook

import (
	"bytes"
	"fmt"
	"unicode/utf8"
)

// A file beyond these limits is refused before anything is built from it. A
// notebook with an hour of recordings embedded stays well below them.
const (
	MaxBytes  = 128 << 20 // length of the file
	MaxDepth  = 100       // objects and lists inside each other
	MaxValues = 2_000_000 // values in the file, which bounds the memory they take
)

// checkLimits scans JSON text once, without building anything, and refuses
// what could exhaust memory or stack: too long, too deep, too many values. It
// also refuses text that is not UTF-8, which a decoder would repair unseen.
func checkLimits(text []byte) error {
	if len(text) > MaxBytes {
		return fmt.Errorf("%w: %d MB long, the limit is %d MB; clear large outputs and try again", ErrLimit, len(text)>>20, MaxBytes>>20)
	}
	if !utf8.Valid(text) {
		return fmt.Errorf("%w: byte %d is not UTF-8 text; save it again as UTF-8", ErrFormat, invalidAt(text))
	}
	depth, values := 0, 0
	inString := false
	for i := 0; i < len(text); i++ {
		c := text[i]
		if inString {
			switch c {
			case '\\':
				i++
			case '"':
				inString = false
			}
			continue
		}
		switch c {
		case '"':
			inString = true
		case '{', '[':
			values++
			if depth++; depth > MaxDepth {
				return fmt.Errorf("%w: objects nested more than %d deep at line %d; no notebook needs that, so it is not opened", ErrLimit, MaxDepth, lineOf(text, i))
			}
		case '}', ']':
			depth--
		case ',':
			values++
		}
		if values > MaxValues {
			return fmt.Errorf("%w: more than %d values; clear large outputs and try again", ErrLimit, MaxValues)
		}
	}
	return nil
}

func invalidAt(text []byte) int {
	for i := 0; i < len(text); {
		r, size := utf8.DecodeRune(text[i:])
		if r == utf8.RuneError && size == 1 {
			return i
		}
		i += size
	}
	return len(text)
}

// lineOf returns the 1-based line of byte offset at.
func lineOf(text []byte, at int) int {
	return 1 + bytes.Count(text[:min(at, len(text))], []byte("\n"))
}
