package tacho

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// ConcertPitch is the tone A4 that instruments are tuned to (ISO 16:1975).
const ConcertPitch Hertz = 440

// pitchNames are the twelve notes of an octave, from C on.
var pitchNames = [12]string{"C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"}

// Note returns the note of equal temperament on [ConcertPitch] that is nearest to
// f, such as "A4" or "C#5" (octaves begin at C; C4 is the middle C of a piano),
// and how many cents f lies above it, -50 to 50. It returns "" and NaN unless f is
// positive and finite.
//
// A note is a handy way to check a reading by ear: a semitone is 5.9 per cent of
// speed, an octave a factor of two in blades.
func (f Hertz) Note() (name string, cents float64) {
	if !(f > 0) || math.IsInf(float64(f), 1) {
		return "", math.NaN()
	}
	above := f.Cents(ConcertPitch) / 100
	step := math.Round(above)
	k := int(step) + 9 + 4*12 // semitones above C0
	octave := int(math.Floor(float64(k) / 12))
	return pitchNames[k-12*octave] + strconv.Itoa(octave), 100 * (above - step)
}

// NoteTone returns the tone of a note of equal temperament on [ConcertPitch]: a
// letter, signs for semitones up (# or ♯) or down (b or ♭), and the number of the
// octave, such as "A4", "F#3" or "Bb5". It returns ErrSyntax for anything else.
func NoteTone(name string) (Hertz, error) {
	rest := strings.NewReplacer("♯", "#", "♭", "b").Replace(strings.TrimSpace(name))
	k := -1
	for i, p := range pitchNames {
		if rest != "" && p == strings.ToUpper(rest[:1]) {
			k, rest = i, rest[1:]
			break
		}
	}
	number := strings.TrimLeft(rest, "#b")
	signs := rest[:len(rest)-len(number)]
	octave, err := strconv.Atoi(number)
	if k < 0 || err != nil || octave < -1 || octave > 10 || len(signs) > 2 {
		return 0, fmt.Errorf("%w: %q is no note: write a letter A to G, perhaps # or b, and the number of an octave, -1 to 10, such as A4", ErrSyntax, name)
	}
	k += strings.Count(signs, "#") - strings.Count(signs, "b")
	return ConcertPitch * Hertz(math.Exp2(float64(k-9+12*(octave-4))/12)), nil
}
