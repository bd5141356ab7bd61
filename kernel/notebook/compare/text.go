package compare

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"rotorhum/kernel/pattern"
)

// number matches a decimal number; [numbersIn] decides whether it stands alone.
var number = pattern.New(`(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?`)

// span is a number in a text.
type span struct {
	from, to int
	x        float64
}

// numbersIn finds the numbers of a line, with their signs. Digits that are part
// of a word, such as those of x2 or go1.26.8, are none; a unit may follow at
// once, as in 5kHz.
func numbersIn(line string) []span {
	var found []span
	for _, at := range number.Regexp().FindAllStringIndex(line, -1) {
		from, to := at[0], at[1]
		if before, _ := utf8.DecodeLastRuneInString(line[:from]); isWord(before) || before == '.' || !endsNumber(line[to:]) {
			continue
		}
		x, err := strconv.ParseFloat(line[from:to], 64)
		if err != nil {
			continue
		}
		sign := signBefore(line[:from])
		if sign != "" && sign != "+" {
			x = -x
		}
		found = append(found, span{from - len(sign), to, x})
	}
	return found
}

// signBefore returns the sign that ends text, unless it joins two words or
// numbers, as in 2026-01 or a-1.
func signBefore(text string) string {
	for _, sign := range []string{"+", "-", "−"} {
		before, ok := strings.CutSuffix(text, sign)
		if !ok {
			continue
		}
		if r, _ := utf8.DecodeLastRuneInString(before); isWord(r) || r == ')' {
			return ""
		}
		return sign
	}
	return ""
}

func isWord(r rune) bool {
	return r != utf8.RuneError && (r == '_' || unicode.IsLetter(r) || unicode.IsDigit(r))
}

// endsNumber reports whether the text behind some digits leaves them a number:
// it does not go on as a word with more digits in it, or as another place of a
// version.
func endsNumber(rest string) bool {
	for i, r := range rest {
		switch {
		case unicode.IsDigit(r) || r == '_':
			return false
		case r == '.' && i == 0:
			next, _ := utf8.DecodeRuneInString(rest[1:])
			return !isWord(next)
		case !isWord(r):
			return true
		}
	}
	return true
}

// blanks matches what counts as one space where numbers may change their width.
var blanks = pattern.New(`[ \t]+`)

// sameLine compares two lines of text. why says by how much the first number
// that is out of tolerance is out; it is "" if the lines differ otherwise.
func sameLine(stored, fresh string, s Statement) (same bool, why string) {
	if stored == fresh {
		return true, ""
	}
	if !s.numbers() {
		return false, ""
	}
	a, b := numbersIn(stored), numbersIn(fresh)
	if len(a) != len(b) {
		return false, ""
	}
	atA, atB := 0, 0
	for i := range a {
		if !sameWords(stored[atA:a[i].from], fresh[atB:b[i].from]) {
			return false, ""
		}
		atA, atB = a[i].to, b[i].to
	}
	if !sameWords(stored[atA:], fresh[atB:]) {
		return false, ""
	}
	for i := range a {
		if !s.within(a[i].x, b[i].x) {
			return false, fmt.Sprintf("%s is %.3g away from %s; the tolerance is %v",
				fresh[b[i].from:b[i].to], math.Abs(b[i].x-a[i].x), stored[a[i].from:a[i].to], s)
		}
	}
	return true, ""
}

func sameWords(a, b string) bool {
	return a == b || blanks.Regexp().ReplaceAllString(a, " ") == blanks.Regexp().ReplaceAllString(b, " ")
}

// textDifference is the first line in which two texts differ.
type textDifference struct {
	line          int // counted from 1
	stored, fresh string
	why           string
}

// missing stands for a line that one of two texts does not have.
const missing = "(nothing)"

// compareText compares two texts line by line. It returns nil if they agree.
func (c *comparison) compareText(stored, fresh string) *textDifference {
	if stored == fresh {
		return nil
	}
	a, b := linesOf(stored), linesOf(fresh)
	for i := range max(len(a), len(b)) {
		switch {
		case i >= len(a):
			return &textDifference{i + 1, missing, excerpt(b[i], ""), fmt.Sprintf("%d lines are stored, now there are %d", len(a), len(b))}
		case i >= len(b):
			return &textDifference{i + 1, excerpt(a[i], ""), missing, fmt.Sprintf("%d lines are stored, now there are %d", len(a), len(b))}
		}
		same, why := c.sameLine(a[i], b[i])
		if same {
			continue
		}
		if why == "" && len(a) != len(b) {
			why = fmt.Sprintf("%d lines are stored, now there are %d", len(a), len(b))
		}
		return &textDifference{i + 1, excerpt(a[i], b[i]), excerpt(b[i], a[i]), why}
	}
	if strings.HasSuffix(stored, "\n") != strings.HasSuffix(fresh, "\n") {
		n := len(a)
		return &textDifference{n, a[n-1], b[n-1], "only one of them ends its last line"}
	}
	return nil
}

// sameLine compares two lines, and a second time with the versions that the
// stored one names replaced by those of today.
func (c *comparison) sameLine(stored, fresh string) (bool, string) {
	same, why := sameLine(stored, fresh, c.states)
	if same {
		return true, ""
	}
	if renamed := c.renamed(stored); renamed != stored {
		if same, _ := sameLine(renamed, fresh, c.states); same {
			c.versions++
			return true, ""
		}
	}
	return false, why
}

func linesOf(text string) []string {
	return strings.Split(strings.TrimSuffix(text, "\n"), "\n")
}

// excerpt shortens a line to the part around the first place where it differs
// from other.
func excerpt(line, other string) string {
	const before, after = 60, 140
	r, o := []rune(line), []rune(other)
	if len(r) <= before+after {
		return line
	}
	at := 0
	for at < len(r) && at < len(o) && r[at] == o[at] {
		at++
	}
	from, to := max(0, at-before), min(len(r), at+after)
	text := string(r[from:to])
	if from > 0 {
		text = "…" + text
	}
	if to < len(r) {
		text += fmt.Sprintf("… (%d more characters)", len(r)-to)
	}
	return text
}
