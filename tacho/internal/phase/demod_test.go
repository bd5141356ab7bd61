package phase

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/sound"
)

// Every block against the sum that defines it, computed sample by sample, for a
// course of changing rate that is read in several goes.
func TestBlocksAreTheSumsThatDefineThem(t *testing.T) {
	const fs, n, harmonics, cycles, shortest = 8000.0, 3*atOnce + 1000, 3, 4, 0.008
	r := rand.New(rand.NewPCG(5, 5))
	x := make([]float64, n)
	for i := range x {
		x[i] = r.NormFloat64()
	}
	src, err := sound.New(func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }, []int{0}, n, fs, fs)
	if err != nil {
		t.Fatal(err)
	}
	c := Course{T: []float64{0.2, 3, 3.1, n/fs - 0.3}, Rate: []float64{60, 200, 180, 90}}
	blocks, err := Demodulate(src, c, harmonics, cycles, shortest)
	if err != nil || len(blocks) < 1000 {
		t.Fatalf("%d blocks, error %v", len(blocks), err)
	}
	first := int(math.Ceil(c.T[0] * fs))
	phi := make([]float64, n)
	for i := first + 1; i < n; i++ {
		phi[i] = phi[i-1] + math.Pi*(c.At(float64(i-1)/fs)+c.At(float64(i)/fs))/fs
	}
	for i, b := range blocks {
		if i%17 > 0 {
			continue
		}
		centre, length := b.T*fs, b.Length*fs
		var e, sum float64
		y := make([]complex128, 2*harmonics+1)
		for j := int(math.Ceil(centre - length/2)); j <= int(math.Floor(centre+length/2)); j++ {
			w := 1 + math.Cos(2*math.Pi*(float64(j)-centre)/length)
			e += w * w
			sum += w
			for h := range y {
				y[h] += cmplx.Rect(x[j]*w, -float64(h+1)*phi[j]/2)
			}
		}
		k := int(centre)
		if want := phi[k] + (centre-float64(k))*(phi[k+1]-phi[k]); math.Abs(b.Phi-want) > 1e-6 {
			t.Fatalf("block at %.3f s: phase %v, want %v", b.T, b.Phi, want)
		}
		if want := sum / math.Sqrt(e); math.Abs(b.Sum/want-1) > 1e-9 {
			t.Fatalf("block at %.3f s: sum of weights %v, want %v", b.T, b.Sum, want)
		}
		for h, v := range y {
			if v /= complex(math.Sqrt(e), 0); cmplx.Abs(b.Y[0][h]-v) > 1e-6 {
				t.Fatalf("block at %.3f s, half order %d: %v, want %v", b.T, h+1, b.Y[0][h], v)
			}
		}
	}
	// neighbours overlap by half, so that together they cover everything
	for i := 1; i < len(blocks); i++ {
		if d := blocks[i].T - blocks[i-1].T; d > 0.6*blocks[i-1].Length {
			t.Fatalf("a gap of %.4f s behind the block at %.3f s", d, blocks[i-1].T)
		}
	}
}

func TestVectorsTurnAsPlainGoDoes(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	for _, n := range []int{0, 4, 8, 1000} {
		var in, out [4][]float64
		for i := range in {
			in[i] = make([]float64, n)
			for k := range in[i] {
				in[i][k] = r.NormFloat64()
			}
			out[i] = append([]float64(nil), in[i]...)
		}
		var got, want [4]float64
		got[0], got[1], got[2], got[3] = turnTwice(in[0], in[1], in[2], in[3])
		want[0], want[1], want[2], want[3] = turnTwiceGo(out[0], out[1], out[2], out[3])
		for i := range got {
			if math.Abs(got[i]-want[i]) > 1e-9 {
				t.Errorf("%d numbers: sum %d is %v, want %v", n, i, got[i], want[i])
			}
			for k := range in[i] {
				if math.Abs(in[i][k]-out[i][k]) > 1e-12 {
					t.Fatalf("%d numbers: number %d is %v, want %v", n, k, in[i][k], out[i][k])
				}
			}
		}
	}
}
