package check

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"html"
	"math"
	"strconv"
	"strings"
)

// Verdict is what a pupil is told about an answer. It never says the right one.
type Verdict struct {
	Right bool
	Text  string
}

// String returns the text.
func (v Verdict) String() string { return v.Text }

// HTML returns the text, the right ones in bold.
func (v Verdict) HTML() string {
	if v.Right {
		return "<b>" + html.EscapeString(v.Text) + "</b>"
	}
	return html.EscapeString(v.Text)
}

// slips are the factors that answers are often off by, and what to look at.
var slips = [...]struct {
	factor float64
	hint   string
}{
	{60, "it is 60 times too large: per minute or per second?"},
	{1.0 / 60, "it is 60 times too small: per minute or per second?"},
	{2, "it is twice the right answer: radius or diameter, first or second harmonic?"},
	{0.5, "it is half the right answer: radius or diameter, first or second harmonic?"},
	{2 * math.Pi, "it is 2π times too large: radians or turns?"},
	{1 / (2 * math.Pi), "it is 2π times too small: radians or turns?"},
	{3.6, "it is 3.6 times too large: km/h or m/s?"},
	{1 / 3.6, "it is 3.6 times too small: km/h or m/s?"},
	{10, "it is 10 times too large: look at the decimal point and the prefix"},
	{0.1, "it is 10 times too small: look at the decimal point and the prefix"},
	{100, "it is 100 times too large: centimetres or metres?"},
	{0.01, "it is 100 times too small: centimetres or metres?"},
	{1000, "it is 1000 times too large: look at the prefix"},
	{0.001, "it is 1000 times too small: look at the prefix"},
	{-1, "the size is right; look at the sign"},
}

// Answer tells whether got is the answer that was sealed under the same name and
// step with [Seal]: right if it is within half a step of it, not yet if it is a
// step and a half away; between the two the rounding decides. It knows the usual slips, such as a factor of 60, and then says
// where to look. 0 and NaN mean that there is no answer yet. It never panics: an
// exercise that nobody has done does not stop a lesson.
func Answer(what string, got any, step float64, seal string) Verdict {
	n, err := numberOf(got)
	switch {
	case err != nil:
		return Verdict{Text: what + ": " + err.Error()}
	case !(step > 0) || math.IsInf(step, 0):
		return Verdict{Text: fmt.Sprintf("%s: the lesson's step is %v; it must be above zero", what, step)}
	case n.x == 0 || math.IsNaN(n.x):
		return Verdict{Text: what + ": no answer yet"}
	}
	if opens(what, n.x, step, seal) {
		return Verdict{Right: true, Text: what + ": right"}
	}
	for _, s := range slips {
		if x := n.x / s.factor; math.Abs(x) > 3*step && opens(what, x, step, seal) {
			return Verdict{Text: what + ": not yet; " + s.hint}
		}
	}
	return Verdict{Text: what + ": not yet"}
}

// Seal returns the seal of an answer for the author of a lesson: it can be
// printed in the lesson without giving the answer away to a glance. The name is
// part of it, so equal answers have different seals. It is no protection against
// somebody who tries all numbers. Seal panics where there is no answer to seal: a
// number that is less than half a step, or a step that is not above zero.
func Seal(what string, want any, step float64) string {
	n, err := numberOf(want)
	if err != nil || !(step > 0) || !inRange(n.x/step) || math.Round(n.x/step) == 0 {
		panic(fmt.Sprintf("check: an answer of %v in steps of %v cannot be sealed", want, step))
	}
	return digest(what, strconv.FormatFloat(step, 'g', -1, 64), strconv.FormatInt(int64(math.Round(n.x/step)), 10))
}

// opens reports whether x lies next to the whole number of steps that is sealed,
// less than a step away from it.
func opens(what string, x, step float64, seal string) bool {
	k := x / step
	if !inRange(k) {
		return false
	}
	for _, j := range []float64{math.Floor(k), math.Ceil(k)} {
		if digest(what, strconv.FormatFloat(step, 'g', -1, 64), strconv.FormatInt(int64(j), 10)) == seal {
			return true
		}
	}
	return false
}

// inRange reports whether k is a number of steps that can be counted exactly.
func inRange(k float64) bool { return math.Abs(k) < 1<<53 }

// Choice tells whether got is the word or letter that was sealed under the same
// name with [SealChoice]. Case and spaces around it do not matter.
func Choice(what, got, seal string) Verdict {
	switch {
	case strings.TrimSpace(got) == "":
		return Verdict{Text: what + ": no answer yet"}
	case SealChoice(what, got) == seal:
		return Verdict{Right: true, Text: what + ": right"}
	}
	return Verdict{Text: what + ": not yet"}
}

// SealChoice returns the seal of a word or letter, as [Seal] does of a number.
func SealChoice(what, want string) string {
	return digest(what, "choice", strings.ToLower(strings.TrimSpace(want)))
}

func digest(parts ...string) string {
	sum := sha256.Sum256([]byte(strings.Join(parts, "\x00")))
	return hex.EncodeToString(sum[:5])
}
