package tacho

import (
	"bytes"
	"encoding/json"
	"math"
	"os/exec"
	"testing"
)

// scipyScript computes, from the samples on its standard input, what this
// package computes too. Median-free averages, no detrending: the plain methods.
const scipyScript = `
import json, sys
import numpy as np
from scipy import signal
q = json.load(sys.stdin)
x = np.array(q["x"])
out = {"version": __import__("scipy").__version__}
out["windows"] = {name: signal.get_window(arg, q["n"], fftbins=True).tolist() for name, arg in [
    ("Hann", "hann"), ("Hamming", "hamming"), ("Blackman", "blackman"), ("Blackman-Harris", "blackmanharris"),
    ("Nuttall4c", "nuttall"), ("rectangle", "boxcar"), ("HFT95", ("general_cosine", [1, 1.9383379, 1.3045202, 0.4028270, 0.0350665]))]}
f, p = signal.periodogram(x, q["fs"], window="hann", detrend=False, scaling="density")
out["density"] = p.tolist()
f, p = signal.periodogram(x, q["fs"], window="blackmanharris", nfft=q["nfft"], detrend=False, scaling="spectrum")
out["padded"] = p.tolist()
f, p = signal.welch(x, q["fs"], window="hann", nperseg=q["seg"], noverlap=q["seg"] // 2, detrend=False, scaling="density")
out["welch"] = p.tolist()
f, p = signal.welch(x, q["fs"], window="hamming", nperseg=q["seg"], noverlap=0, detrend="constant", scaling="spectrum")
out["detrended"] = p.tolist()
f, t, s = signal.spectrogram(x, q["fs"], window="hann", nperseg=q["seg"], noverlap=q["seg"] - q["hop"], detrend=False, scaling="spectrum", mode="psd")
out["times"] = t.tolist()
out["spectrogram"] = s.T.tolist()
json.dump(out, sys.stdout)
`

// The same numbers as SciPy, to rounding: windows, periodogram, padded
// periodogram, averaged and detrended blocks, spectrogram.
func TestAgainstSciPy(t *testing.T) {
	const fs, seg, hop, nfft = 8000.0, 250, 60, 3000
	x := whiteNoise(1999, 0.3, 42)
	for j, v := range cosine(len(x), 0.4, 101.7, 1) {
		x[j] += v + 0.1
	}
	if err := exec.Command("/usr/bin/python3", "-c", "import scipy.signal").Run(); err != nil {
		t.Skip("python3 with SciPy is not installed (Debian: python3-scipy)")
	}
	in, err := json.Marshal(map[string]any{"x": x, "fs": fs, "n": 301, "seg": seg, "hop": hop, "nfft": nfft})
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("/usr/bin/python3", "-c", scipyScript)
	cmd.Stdin = bytes.NewReader(in)
	var complaint bytes.Buffer
	cmd.Stderr = &complaint
	text, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, complaint.String())
	}
	var ref struct {
		Version                                  string
		Windows                                  map[string][]float64
		Density, Padded, Welch, Detrended, Times []float64
		Spectrogram                              [][]float64
	}
	if err := json.Unmarshal(text, &ref); err != nil {
		t.Fatal(err)
	}
	t.Logf("SciPy %s", ref.Version)
	const tol = 1e-11 // rounding of sums of 2000 products
	same := func(what string, got, want float64, scale float64) bool {
		if !(math.Abs(got-want) <= tol*scale) {
			t.Errorf("%s = %.15g, SciPy %.15g", what, got, want)
			return false
		}
		return true
	}
	for name, want := range ref.Windows {
		w, err := WindowByName(name)
		if err != nil {
			t.Fatal(err)
		}
		for j, got := range w.Weights(301) {
			if !same(name, got, want[j], 10) {
				break
			}
		}
	}
	compare := func(name string, opt SpectrumOptions, want []float64, value func(*Spectrum, int) float64) {
		s, err := NewSpectrum(x, fs, opt)
		if err != nil {
			t.Fatal(err)
		}
		if s.Len() != len(want) {
			t.Fatalf("%s: %d bins, SciPy %d", name, s.Len(), len(want))
		}
		top := 0.0
		for _, v := range want {
			top = math.Max(top, v)
		}
		for k, v := range want {
			if !same(name, value(s, k), v, top) {
				return
			}
		}
	}
	compare("density", SpectrumOptions{}, ref.Density, (*Spectrum).Density)
	compare("padded power", SpectrumOptions{Window: BlackmanHarris, FFTLen: nfft}, ref.Padded, (*Spectrum).Power)
	compare("averaged density", SpectrumOptions{Len: seg}, ref.Welch, (*Spectrum).Density)
	compare("averaged power without means", SpectrumOptions{Len: seg, Window: Hamming, Overlap: -1, RemoveMean: true}, ref.Detrended, (*Spectrum).Power)

	rec, err := NewRecording("x", fs, x)
	if err != nil {
		t.Fatal(err)
	}
	g, err := rec.Spectrogram(SpectrogramOptions{Len: seg, Hop: hop})
	if err != nil {
		t.Fatal(err)
	}
	if len(g.Times) != len(ref.Times) {
		t.Fatalf("spectrogram of %d times, SciPy %d", len(g.Times), len(ref.Times))
	}
	for i, row := range ref.Spectrogram {
		if !same("time", g.Times[i], ref.Times[i], 1) {
			break
		}
		for k, p := range row {
			amplitude := math.Sqrt(2 * p) // SciPy gives the mean square of the line
			if k == 0 || k == len(row)-1 {
				amplitude = math.Sqrt(p)
			}
			if math.Abs(g.At(i, k)-amplitude) > 1e-7 { // rows are kept in 32 bits
				t.Fatalf("spectrogram at %d, %d = %v, SciPy %v", i, k, g.At(i, k), amplitude)
			}
		}
	}
}
