package comb

import (
	"math"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/linefit"
)

func harmonicNoise(r *rand.Rand, n int, fs, f0 float64, amps []float64, snrDB float64) []float64 {
	x := make([]float64, n)
	p := 0.0
	for m, a := range amps {
		ph := 2 * math.Pi * r.Float64()
		p += a * a / 2
		for i := range x {
			x[i] += a * math.Cos(2*math.Pi*float64(m+1)*f0*float64(i)/fs+ph)
		}
	}
	s := math.Sqrt(p / math.Pow(10, snrDB/10))
	for i := range x {
		x[i] += s * r.NormFloat64()
	}
	return x
}

func TestExperimentSteady(t *testing.T) {
	for _, equal := range []bool{true} {
		for _, rng := range [][2]float64{{30, 800}, {20, 6000}} {
			for _, snr := range []float64{20, -5, -15, -22} {
				right, used := 0, 0
				se, odds := 0.0, 0.0
				sc := NewScanner(30)
				draws := 200
				for d := 0; d < draws; d++ {
					r := rand.New(rand.NewPCG(uint64(d), 7))
					fs, n := 8000.0, 8000
					f0 := 60 + 340*r.Float64()
					amps := []float64{1, 1, 1, 1, 1}
					if !equal {
						for i := range amps {
							amps[i] = 0.3 + r.Float64()
						}
					}
					x := harmonicNoise(r, n, fs, f0, amps, snr)
					sp := NewSpectrum([][]float64{x}, fs, nil)
					best, trials := sc.Scan(sp, rng[0], rng[1], 8)
					_ = trials
					c := best[0]
					odds += c.Evidence - math.Log(trials)
					// refine
					rate := c.Rate
					for it := 0; it < 2; it++ {
						pl := append([]float64{}, sc.Places(sp, rate)...)
						w := sc.Order.Weights(pl)
						var ord, noise []float64
						for m := range pl {
							k := int(float64(m+1)*rate/sp.DF + 0.5)
							post := w[m] * sc.Line.Posterior(sp.Z[0][k])
							if post > 0.7 {
								ord = append(ord, float64(m+1))
								noise = append(noise, sp.Noise[0][k])
							}
						}
						fit := &linefit.Fit{Rate: fs, Orders: ord, Noise: noise, Coef: []float64{rate}}
						if err := fit.Run(x, 6); err != nil {
							break
						}
						rate = fit.Coef[0]
					}
					if math.Abs(rate-f0) < 0.03*f0 {
						right++
						sum := 0.0
						p := 0.0
						for i, a := range amps {
							sum += float64((i+1)*(i+1)) * a * a
							p += a * a / 2
						}
						s2 := p / math.Pow(10, snr/10)
						v := 24 * s2 * fs * fs / (4 * math.Pi * math.Pi * float64(n) * (float64(n)*float64(n) - 1) * sum)
						se += (rate - f0) * (rate - f0) / v
						used++
					}
				}
				t.Logf("equal %v range %v snr %g: right %d/%d rmse/crb %.3f mean log odds %.1f", equal, rng, snr, right, draws, math.Sqrt(se/float64(used)), odds/float64(draws))
			}
		}
	}
}
