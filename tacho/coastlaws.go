package tacho

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"rotorhum/tacho/internal/curvefit"
)

// fit fits the law with the given terms. Once the watch has ended there is no
// curve any more, and the fit soon fails.
func (c *CoastDown) fit(terms []int, w Watch) (*curvefit.Fit, error) {
	n := len(c.T)
	third := max(1, n/3)
	early, late := meanOf(c.Speed[:third]), meanOf(c.Speed[n-third:])
	decel := (early - late) / (meanOf(c.T[n-third:]) - meanOf(c.T[:third]))
	mid := (early + late) / 2
	start := []float64{c.Speed[0]}
	for _, k := range terms { // each term takes an equal part of the mean slowing
		start = append(start, decel/math.Pow(mid, float64(k))/float64(len(terms)))
	}
	over := false
	return curvefit.Points(func(t float64, p, slope []float64) float64 {
		if over = over || w.stopped() != nil; over {
			return math.NaN()
		}
		return coastModel(terms, t-c.From, p, slope)
	}, c.T, c.Speed, c.SpeedU, start)
}

// coastModel is the speed after t seconds and its derivatives; p is the speed at
// the start and one constant for each of the terms.
func coastModel(terms []int, t float64, p, slope []float64) float64 {
	const h = 1e-30
	at := func(i int) complex128 {
		var c [3]complex128
		f := complex(p[0], 0)
		for j, k := range terms {
			c[k] = complex(p[j+1], 0)
			if j+1 == i {
				c[k] += complex(0, h)
			}
		}
		if i == 0 {
			f += complex(0, h)
		}
		return coast(c[0], c[1], c[2], f, t)
	}
	for i := range slope {
		slope[i] = imag(at(i)) / h
	}
	y := real(at(-1))
	if !(y > 0) { // past standstill there is no curve
		return math.NaN()
	}
	return y
}

// laws are the mixtures of terms.
var laws = [][]int{{0}, {1}, {2}, {0, 1}, {0, 2}, {1, 2}, {0, 1, 2}}

// weigh fits all laws and compares them.
func (c *CoastDown) weigh(w Watch) error {
	var criterion []float64
	n := float64(len(c.T))
	for i, terms := range laws {
		fit, err := c.fit(terms, w)
		if err := w.stopped(); err != nil {
			return err
		}
		w.told(float64(i+1) / float64(len(laws)))
		k := float64(len(terms) + 1)
		name := lawName(terms)
		if err != nil {
			why := "the points do not tell its constants apart"
			if !errors.Is(err, curvefit.ErrSingular) {
				why = "it does not come near the points"
			}
			c.Refused = append(c.Refused, name+": "+why)
			continue
		}
		if wrong := negative(terms, fit.P); wrong != "" {
			c.Refused = append(c.Refused, fmt.Sprintf("%s: its %s constant would have to be negative", name, wrong))
			continue
		}
		c.Fits = append(c.Fits, c.result(terms, fit))
		criterion = append(criterion, c.Independent*math.Log(fit.Chi2/n)+k*math.Log(c.Independent))
	}
	least := math.Inf(1)
	for _, x := range criterion {
		least = math.Min(least, x)
	}
	for i := range c.Fits {
		c.Fits[i].Odds = math.Min(math.Exp(math.Min((criterion[i]-least)/2, 100)), mostOdds)
	}
	sort.SliceStable(c.Fits, func(i, j int) bool { return c.Fits[i].Odds < c.Fits[j].Odds })
	return nil
}

// mostOdds is the odds beyond which a model's odds mean nothing.
const mostOdds = 1e12

func lawName(terms []int) string {
	s := ""
	for _, k := range terms {
		if s != "" {
			s += " + "
		}
		s += frictionNames[k]
	}
	return s
}

func negative(terms []int, p []float64) string {
	for j, k := range terms {
		if p[j+1] < 0 {
			return frictionNames[k]
		}
	}
	return ""
}

// result turns a fit into values whose uncertainties belong together.
func (c *CoastDown) result(terms []int, fit *curvefit.Fit) FrictionFit {
	k := len(fit.P)
	dof := math.Max(1, c.Independent-float64(k))
	scale := fit.Chi2 / dof
	cov := make([][]float64, k)
	units := []string{"rev/s"}
	for i := range cov {
		cov[i] = make([]float64, k)
		for j := range cov {
			cov[i][j] = scale * fit.Inverse.At(i, j)
		}
	}
	for _, t := range terms {
		units = append(units, frictionUnits[t])
	}
	v, err := Correlated("coast-down", units, fit.P, cov, dof)
	if err != nil { // a covariance cannot fail to be one
		panic(err)
	}
	out := FrictionFit{Start: v[0], from: c.From}
	for j, t := range terms {
		switch t {
		case 0:
			out.Coulomb = v[j+1]
		case 1:
			out.Viscous = v[j+1]
		case 2:
			out.Quadratic = v[j+1]
		}
	}
	weight := 0.0
	for _, u := range c.SpeedU {
		weight += 1 / (u * u)
	}
	out.RMS = math.Sqrt(fit.Chi2 / weight)
	return out
}
