package synth

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// Voice is somebody talking: no words, but pitch that glides, vowels that change,
// hissing and stopped consonants, phrases and pauses.
type Voice struct {
	// LevelDB is the power of the voice, mean over the time it speaks, over that
	// of the first rotor's lines.
	LevelDB float64 `json:"level_db"`
	// Pitch, in hertz, is the middle of its range; 0 draws one from 90 to 240 Hz.
	Pitch float64 `json:"pitch_hz,omitempty"`
}

// voiceFrame is the interval, in seconds, at which the mouth moves.
const voiceFrame = 0.005

// mouth is what the speech organs do during one frame.
type mouth struct {
	pitch   float64    // Hz
	voiced  float64    // strength of the vocal cords
	hiss    float64    // strength of the hiss
	hissAt  float64    // Hz, its centre
	formant [3]float64 // Hz, resonances
}

// vowels are resonances of five vowels of an average speaker, in hertz, rounded
// by us; common practice.
var vowels = [...][3]float64{{750, 1200, 2550}, {480, 1850, 2500}, {300, 2250, 2950}, {500, 900, 2450}, {330, 850, 2300}}

// script draws what a voice says in n frames.
func (v Voice) script(src *rand.Rand, n int) []mouth {
	middle := v.Pitch
	if middle == 0 {
		middle = 90 * math.Pow(240.0/90, src.Float64())
	}
	throat := 0.9 + 0.25*(math.Log(middle/90)/math.Log(240.0/90)) // short throats with high voices
	frames := make([]mouth, 0, n+400)
	at := mouth{pitch: middle, hissAt: 4500, formant: vowels[0]}
	hold := func(seconds, voiced, hiss float64) {
		at.voiced, at.hiss = voiced, hiss
		for range max(1, int(seconds/voiceFrame)) {
			frames = append(frames, at)
		}
	}
	hold(0.4*src.Float64(), 0, 0)
	for len(frames) < n {
		syllables := 3 + src.IntN(8)
		for s := range syllables {
			switch src.IntN(5) {
			case 0, 1: // hissing
				at.hissAt = 2500 + 4000*src.Float64()
				hold(0.05+0.08*src.Float64(), 0, 0.25)
			case 2: // stopped
				hold(0.03+0.04*src.Float64(), 0, 0)
				at.hissAt = 1500 + 3000*src.Float64()
				hold(0.012, 0, 0.4)
			case 3: // humming
				at.formant = [3]float64{280 * throat, 1100 * throat, 2300 * throat}
				hold(0.05+0.03*src.Float64(), 0.3, 0)
			}
			vowel := vowels[src.IntN(len(vowels))]
			for i, f := range vowel {
				at.formant[i] = f * throat * (1 + 0.05*src.NormFloat64())
			}
			fall := 1.15 - 0.3*float64(s)/float64(syllables)
			accent := 0.25 * src.NormFloat64()
			loud := 0.7 + 0.5*src.Float64()
			length := 0.08 + 0.16*src.Float64()
			for t := 0.0; t < length; t += voiceFrame {
				at.pitch = middle * fall * math.Exp(math.Max(-0.4, math.Min(0.4, accent))*math.Sin(math.Pi*t/length))
				hold(voiceFrame, loud, 0.01)
			}
		}
		hold(0.2+0.9*src.Float64(), 0, 0)
	}
	return frames[:n]
}

// render returns n samples of the voice; its mean power while it speaks is 1.
func (v Voice) render(w *work, src *rand.Rand, fs float64, n int) []float64 {
	x := make([]float64, n)
	per := voiceFrame * fs
	script := v.script(src, int(float64(n)/per)+2)
	now := script[0]
	var throat [3]resonator
	var teeth resonator
	phase, lastFlow := 0.0, 0.0
	// The mouth follows the script with this time constant.
	follow := 1 - math.Exp(-1/4.0)
	frame := -1
	for from, to := range w.pieces(len(x)) {
		for i := from; i < to; i++ {
			if k := int(float64(i) / per); k != frame {
				frame = k
				next := script[k]
				now.pitch += follow * (next.pitch - now.pitch)
				now.pitch *= 1 + 0.006*src.NormFloat64()
				now.voiced += follow * (next.voiced - now.voiced)
				now.hiss += 2 * follow * (next.hiss - now.hiss)
				now.hissAt = next.hissAt
				for j := range throat {
					now.formant[j] += follow * (next.formant[j] - now.formant[j])
					throat[j].tune(now.formant[j], 50+0.05*now.formant[j], fs)
				}
				teeth.tune(math.Min(now.hissAt, 0.42*fs), 900, fs)
			}
			phase += now.pitch / fs
			phase -= math.Floor(phase)
			flow := glottis(phase)
			y := now.voiced * (flow - lastFlow) * fs / 1000
			lastFlow = flow
			hiss := src.NormFloat64()
			y += 0.02 * now.voiced * hiss
			for j := range throat {
				y = throat[j].step(y)
			}
			x[i] = y + now.hiss*teeth.step(hiss)
		}
	}
	return speakingPower(x, fs)
}

// glottis is the flow of air through the vocal cords at a part of their period:
// rising for 0.4 of it, falling faster for 0.16, shut for the rest.
func glottis(phase float64) float64 {
	switch {
	case phase < 0.4:
		return 0.5 - 0.5*math.Cos(math.Pi*phase/0.4)
	case phase < 0.56:
		return math.Cos(math.Pi / 2 * (phase - 0.4) / 0.16)
	}
	return 0
}

// resonator is a two-pole filter with unit gain at zero frequency.
type resonator struct{ a, b, c, y1, y2 float64 }

func (r *resonator) tune(f, width, fs float64) {
	d := math.Exp(-math.Pi * width / fs)
	r.b, r.c = 2*d*math.Cos(2*math.Pi*f/fs), -d*d
	r.a = 1 - r.b - r.c
}

func (r *resonator) step(x float64) float64 {
	y := r.a*x + r.b*r.y1 + r.c*r.y2
	r.y1, r.y2 = y, r.y1
	return y
}

// speakingPower scales x to mean power 1 over the 20 ms pieces that are within
// 30 dB of the loudest.
func speakingPower(x []float64, fs float64) []float64 {
	size := max(1, int(0.02*fs))
	var pieces []float64
	loudest := 0.0
	for i := 0; i < len(x); i += size {
		sum := 0.0
		piece := x[i:min(len(x), i+size)]
		for _, v := range piece {
			sum += v * v
		}
		pieces = append(pieces, sum/float64(len(piece)))
		loudest = math.Max(loudest, pieces[len(pieces)-1])
	}
	sum, count := 0.0, 0
	for _, p := range pieces {
		if p > loudest/1000 {
			sum += p
			count++
		}
	}
	if sum > 0 {
		g := math.Sqrt(float64(count) / sum)
		for i := range x {
			x[i] *= g
		}
	}
	return x
}

func (v Voice) check(which int) error {
	if !(math.Abs(v.LevelDB) <= 200) || v.Pitch != 0 && !(v.Pitch >= 50 && v.Pitch <= 500) {
		return fmt.Errorf("voice %d: give level_db from -200 to 200 and a pitch from 50 to 500 Hz, or leave the pitch out", which)
	}
	return nil
}
