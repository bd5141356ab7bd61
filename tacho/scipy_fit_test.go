package tacho

import (
	"bytes"
	"encoding/json"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"os/exec"
	"testing"

	"rotorhum/tacho/internal/transform"
)

// referenceScript transforms random samples of random lengths, interpolates a
// peak and fits stacks of harmonics with NumPy and SciPy.
const referenceScript = `
import json, sys
import numpy as np
from scipy import optimize
q = json.load(sys.stdin)
out = {"transforms": [], "peaks": [], "fits": []}
for x in q["transforms"]:
    X = np.fft.rfft(x)
    out["transforms"].append([X.real.tolist(), X.imag.tolist()])
for x in q["peaks"]:
    n = len(x)
    w = np.hanning(n + 1)[:-1]
    L = np.log(np.abs(np.fft.rfft(w * x)))
    k = int(np.argmax(L[2:-2])) + 2
    a, b, c = L[k - 1], L[k], L[k + 1]
    out["peaks"].append((k + 0.5 * (a - c) / (a - 2 * b + c)) * q["fs"] / n)
for fit in q["fits"]:
    x, f0, M = np.array(fit["x"]), fit["f"], fit["m"]
    t = (np.arange(len(x)) - (len(x) - 1) / 2) / q["fs"]
    def rest(p):
        r = x - x.mean()
        for m in range(1, M + 1):
            r = r - p[2 * m - 1] * np.cos(2 * np.pi * m * p[0] * t) - p[2 * m] * np.sin(2 * np.pi * m * p[0] * t)
        return r
    start = [f0]
    for m in range(1, M + 1):
        start += [2 * np.mean(x * np.cos(2 * np.pi * m * f0 * t)), 2 * np.mean(x * np.sin(2 * np.pi * m * f0 * t))]
    s = optimize.least_squares(rest, start, x_scale=[1e-3] + [0.1] * (2 * M), xtol=1e-14, ftol=1e-14, gtol=1e-14)
    out["fits"].append(s.x[0])
json.dump(out, sys.stdout)
`

// Transforms of random lengths, an interpolated peak and least squares over a
// stack, on random input, beside NumPy and SciPy.
func TestFitsAgainstSciPy(t *testing.T) {
	if err := exec.Command("/usr/bin/python3", "-c", "import scipy.optimize").Run(); err != nil {
		t.Skip("python3 with SciPy is not installed (Debian: python3-scipy)")
	}
	const fs = 8000.0
	src := rand.New(rand.NewPCG(7, 11))
	var q struct {
		Fs         float64     `json:"fs"`
		Transforms [][]float64 `json:"transforms"`
		Peaks      [][]float64 `json:"peaks"`
		Fits       []fitting   `json:"fits"`
	}
	q.Fs = fs
	for _, n := range []int{1, 2, 3, 4, 7, 64, 97, 360, 1001, 2048, 2310, 4099, 6561, 5 * 1021} {
		q.Transforms = append(q.Transforms, whiteNoise(n, 1, src.Uint64()))
	}
	for range 10 {
		q.Peaks = append(q.Peaks, whiteNoise(1000+src.IntN(1000), 0.01, src.Uint64()))
		x := q.Peaks[len(q.Peaks)-1]
		f, phase := 300+3000*src.Float64(), 6*src.Float64()
		for j := range x {
			x[j] += math.Cos(2*math.Pi*f*float64(j)/fs + phase)
		}
	}
	for range 6 {
		fit := fitting{X: whiteNoise(8000, 0.3, src.Uint64()), F: 100 + 200*src.Float64(), M: 5}
		for m := 1; m <= fit.M; m++ {
			a, phase := 0.2+0.3*src.Float64(), 6*src.Float64()
			for j := range fit.X {
				fit.X[j] += a * math.Cos(2*math.Pi*float64(m)*fit.F*float64(j)/fs+phase)
			}
		}
		q.Fits = append(q.Fits, fit)
	}
	in, err := json.Marshal(q)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("/usr/bin/python3", "-c", referenceScript)
	var complaint bytes.Buffer
	cmd.Stdin, cmd.Stderr = bytes.NewReader(in), &complaint
	text, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, complaint.String())
	}
	var ref struct {
		Transforms  [][2][]float64
		Peaks, Fits []float64
	}
	if err := json.Unmarshal(text, &ref); err != nil {
		t.Fatal(err)
	}
	worst := 0.0
	for i, x := range q.Transforms {
		X := transform.NewReal(len(x)).Forward(make([]complex128, len(x)/2+1), x)
		re, im := ref.Transforms[i][0], ref.Transforms[i][1]
		for k := range X {
			// Both round: by a few units in the last place of the root of the energy.
			d := cmplx.Abs(X[k]-complex(re[k], im[k])) / math.Sqrt(float64(len(x)))
			if worst = max(worst, d); d > 1e-13 {
				t.Fatalf("transform of %d: coefficient %d is %v, NumPy %v", len(x), k, X[k], complex(re[k], im[k]))
			}
		}
	}
	t.Logf("transforms: worst difference %.1e of the noise", worst)
	worst = 0
	for i, x := range q.Peaks {
		s, err := NewSpectrum(x, fs, SpectrumOptions{Window: Hann})
		if err != nil {
			t.Fatal(err)
		}
		p, err := s.PeaksBy(LogParabola, 1)
		if err != nil || len(p) == 0 {
			t.Fatal(p, err)
		}
		d := math.Abs(float64(p[0].Freq) - ref.Peaks[i])
		if worst = max(worst, d); d > 1e-8 {
			t.Errorf("peak at %v, NumPy %v", p[0].Freq, ref.Peaks[i])
		}
	}
	t.Logf("peaks: worst difference %.1e Hz", worst)
	worst = 0
	for i, fit := range q.Fits {
		rec, err := NewRecording("stack", fs, fit.X)
		if err != nil {
			t.Fatal(err)
		}
		family, err := FindFamily(rec, Options{ClockPPM: -1})
		if err != nil {
			t.Fatal(err)
		}
		// The family weighs lines by the noise around them and leaves faint ones
		// out, so that it may differ, but by little beside its own uncertainty.
		d := math.Abs(family.Tone.X-ref.Fits[i]) / family.Tone.U()
		if worst = max(worst, d); d > 0.5 {
			t.Errorf("stack at %.6f ± %.6f Hz, SciPy's least squares %.6f Hz", family.Tone.X, family.Tone.U(), ref.Fits[i])
		}
	}
	t.Logf("stacks: worst difference %.2f standard uncertainties", worst)
}

// fitting is one stack of harmonics for SciPy: samples, a start and the number
// of lines.
type fitting struct {
	X []float64 `json:"x"`
	F float64   `json:"f"`
	M int       `json:"m"`
}
