package tacho

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"rotorhum/tacho/internal/sound"
)

// Which of two rotors is the louder is told by the amplitudes of the lines of both,
// fitted to the sound at once: what two lines that lie side by side have together is
// then shared between them, and counted once.

const (
	// loudSeconds is the length of the pieces of sound that are fitted, in which
	// amplitudes are taken to hold, and loudPieces their number at most, spread over
	// the time. Of each so many samples are used, here and there.
	loudSeconds, loudPieces, loudSamples = 0.2, 30, 2500
	// asWeak is the weight of the belief that lines are weak: lines that turn against
	// each other by less than a tenth of a turn in a piece are taken to be as strong.
	asWeak = 0.01
)

// powers returns the mean power of the lines of two stretches, in squares of
// samples, over all channels, between two moments; 0 where that is too short to tell.
func powers(src *sound.Source, a, b *stretch, from, to float64) (p, q float64, err error) {
	length := math.Min(loudSeconds, to-from)
	pieces := max(1, min(loudPieces, int((to-from)/length)))
	fast := math.Max(a.fit.Fastest(), b.fit.Fastest()) / (2 * math.Pi)
	if length*src.Rate < 8*lineHarmonics || 0.45*src.Rate < fast {
		return 0, 0, nil
	}
	var x [][]float64
	for k := range pieces {
		start := from + (to-from-length)*(float64(k)+0.5)/float64(pieces)
		first, n := int(start*src.Rate), int(length*src.Rate)
		if x, err = src.Block(x, first, n); err != nil {
			return 0, 0, err
		}
		u, v := linePowers(x, src.Rate, first, a, b)
		p, q = p+u/float64(pieces), q+v/float64(pieces)
	}
	return p, q, nil
}

// linePowers is powers for one piece of sound, which begins at frame first.
func linePowers(x [][]float64, rate float64, first int, stacks ...*stretch) (p, q float64) {
	middle := (float64(first) + float64(len(x[0]))/2) / rate
	var lines []int // of each stack
	all := 0
	for _, s := range stacks {
		hz, _, _ := s.at(middle)
		n := min(lineHarmonics, int(0.45*rate/hz))
		lines, all = append(lines, n), all+2*n
	}
	normal, right := mat.NewSymDense(all, nil), make([]*mat.VecDense, len(x))
	for ch := range right {
		right[ch] = mat.NewVecDense(all, nil)
	}
	row := make([]float64, all)
	step := math.Max(1, float64(len(x[0]))/loudSamples)
	used := 0.0
	for i := 0.0; i < float64(len(x[0])); i += step {
		// an even step would fold some lines onto others
		j := min(len(x[0])-1, int(i+step*math.Mod(i*math.Phi, 1)))
		at, k := float64(first+j)/rate, 0
		for l, s := range stacks {
			sin, cos := math.Sincos(2 * math.Pi * s.turn(at))
			one := complex(cos, sin)
			z := one
			for range lines[l] {
				row[k], row[k+1] = real(z), imag(z)
				z *= one
				k += 2
			}
		}
		normal.SymRankOne(normal, 1, mat.NewVecDense(all, row))
		for ch := range x {
			right[ch].AddScaledVec(right[ch], x[ch][j], mat.NewVecDense(all, row))
		}
		used++
	}
	for k := range all {
		normal.SetSym(k, k, normal.At(k, k)+asWeak*used/2)
	}
	var chol mat.Cholesky
	if !chol.Factorize(normal) {
		return 0, 0
	}
	for ch := range x {
		var a mat.VecDense
		if chol.SolveVecTo(&a, right[ch]) != nil {
			return 0, 0
		}
		for k := range all {
			if v := a.AtVec(k); k < 2*lines[0] {
				p += v * v / 2
			} else {
				q += v * v / 2
			}
		}
	}
	return p, q
}
