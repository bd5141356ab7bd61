package tacho

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Shape is the form of the distribution behind a contribution. It matters to
// [MonteCarlo]; the other operations know only the standard uncertainty.
type Shape string

// The shapes. The zero Shape means Normal.
const (
	Normal      Shape = "normal"      // Student's t where the degrees of freedom are few
	Rectangular Shape = "rectangular" // anywhere between two limits alike (GUM 4.3.7)
	Triangular  Shape = "triangular"  // between two limits, rather in the middle (GUM 4.3.9)
	Arcsine     Shape = "arcsine"     // between two limits, rather at the ends: a cycle caught at random
)

// halfWidth returns the ratio of half the width between the limits to the
// standard deviation.
func (s Shape) halfWidth() float64 {
	switch s {
	case Rectangular:
		return math.Sqrt(3)
	case Triangular:
		return math.Sqrt(6)
	case Arcsine:
		return math.Sqrt2
	}
	return math.Inf(1)
}

// draw returns a random number of this shape with mean 0. Its standard
// deviation is 1 or, for Student's t, what belongs to a scale of 1 (JCGM
// 101:2008, 6.4.9).
func (s Shape) draw(rng *rand.Rand, dof float64) float64 {
	switch s {
	case Rectangular:
		return s.halfWidth() * (2*rng.Float64() - 1)
	case Triangular:
		return s.halfWidth() * (rng.Float64() - rng.Float64())
	case Arcsine:
		return s.halfWidth() * math.Sin(math.Pi*(rng.Float64()-0.5))
	}
	if dof > 0 && !math.IsInf(dof, 1) {
		return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof, Src: rng}.Rand()
	}
	return rng.NormFloat64()
}

// Within returns x, known to lie within ±halfWidth of the truth and anywhere
// there alike, as one contribution of the given name: a rectangular
// distribution with standard uncertainty halfWidth/√3 (GUM 4.3.7). It is what a
// reading between two marks of a scale is worth.
func Within(x, halfWidth float64, unit, name string) Value {
	return Value{X: x, Unit: unit, Parts: []Part{{Name: name, U: halfWidth / math.Sqrt(3), Shape: Rectangular}}}
}

// Simulation is the distribution of a result, found by drawing its inputs at
// random: JCGM 101:2008.
type Simulation struct {
	// Mean and SD are the mean of the results and their standard deviation,
	// which is the standard uncertainty.
	Mean, SD float64
	// Unit is the unit of both.
	Unit string
	// Lo95 and Hi95 leave 2.5 % of the results outside at either end.
	Lo95, Hi95 float64
	// Draws is the number of results.
	Draws int

	sorted []float64
}

// maxDraws bounds the memory of a simulation to 800 MB.
const maxDraws = 100_000_000

// MonteCarlo draws the inputs in at random, draws times, and returns the
// distribution of f of them, in the given unit. Parts of equal name, in
// whatever input, get the same draw; see [Part] for what decides its
// distribution. Equal seeds give equal results. f must not keep its argument.
//
// 10⁶ draws give the ends of a 95 % interval to about two significant digits of
// the uncertainty (JCGM 101, 7.2). It returns ErrOption for fewer than 1000
// draws or more than 10⁸, and ErrNotFinite if f gives a result that is not a
// finite number: then the inputs reach beyond what f is defined for.
func MonteCarlo(unit string, f func(x []float64) float64, draws int, seed uint64, in ...Value) (*Simulation, error) {
	return MonteCarloWith(Watch{}, unit, f, draws, seed, in...)
}

// MonteCarloWith is [MonteCarlo] for many draws: it can show its progress and be
// stopped.
func MonteCarloWith(w Watch, unit string, f func(x []float64) float64, draws int, seed uint64, in ...Value) (*Simulation, error) {
	if draws < 1000 || draws > maxDraws {
		return nil, optionError("%d draws: give 1000 to %d", draws, maxDraws)
	}
	causes, weights := causesOf(in)
	rng := rand.New(rand.NewPCG(seed, 0x7461_6368_6f))
	centre := numbers(in)
	x := make([]float64, len(in))
	s := &Simulation{Unit: unit, Draws: draws, sorted: make([]float64, draws)}
	for d := range s.sorted {
		if d%drawsPerLook == 0 {
			if err := w.stopped(); err != nil {
				return nil, err
			}
			w.told(float64(d) / float64(draws))
		}
		copy(x, centre)
		for c, cause := range causes {
			z := cause.Shape.draw(rng, cause.DOF)
			for i, by := range weights[c] {
				x[i] += by * z
			}
		}
		y := f(x)
		if math.IsNaN(y) || math.IsInf(y, 0) {
			return nil, fmt.Errorf("%w: draw %d of %v gives %v; narrow the uncertainties or mend the formula", ErrNotFinite, d+1, x, y)
		}
		s.sorted[d] = y
	}
	if err := sortWatched(s.sorted, w); err != nil {
		return nil, err
	}
	w.told(1)
	s.Mean, s.SD = stat.MeanStdDev(s.sorted, nil)
	s.Lo95, s.Hi95 = s.Interval(0.95)
	return s, nil
}

// drawsPerLook is how many draws are made between two looks at a Watch.
const drawsPerLook = 1 << 12

// sortWatched sorts x, and gives up when the watch ends: then all numbers count
// as equal, and the sorting is soon over.
func sortWatched(x []float64, w Watch) error {
	if w.Context == nil {
		slices.Sort(x)
		return nil
	}
	var err error
	looks := 0
	slices.SortFunc(x, func(a, b float64) int {
		if looks++; looks%(64*drawsPerLook) == 0 {
			err = cmp.Or(err, w.stopped())
		}
		switch {
		case err != nil:
			return 0
		case a < b:
			return -1
		case a > b:
			return 1
		}
		return 0
	})
	return err
}

// causesOf lists the names in the parts of in, each once, and by how much each
// input moves with each of them.
func causesOf(in []Value) (causes []Part, weights [][]float64) {
	index := map[string]int{}
	for i, v := range in {
		for _, p := range merge(v.Parts) {
			c, known := index[p.Name]
			if !known {
				c = len(causes)
				index[p.Name] = c
				causes = append(causes, p)
				weights = append(weights, make([]float64, len(in)))
			}
			causes[c].DOF = fewer(causes[c].DOF, p.DOF)
			weights[c][i] += p.U
		}
	}
	return causes, weights
}

// Interval returns the ends that leave equal shares of the results outside, so
// that the share p lies between them.
func (s *Simulation) Interval(p float64) (lo, hi float64) {
	return s.quantile((1 - p) / 2), s.quantile((1 + p) / 2)
}

// Shortest returns the shortest interval that holds the share p of the results:
// for a lopsided distribution it lies where the results crowd (JCGM 101, 7.7.4).
func (s *Simulation) Shortest(p float64) (lo, hi float64) {
	n := len(s.sorted)
	k := int(math.Round(p * float64(n)))
	if k >= n {
		k = n - 1
	}
	k = max(k, 0)
	best := 0
	for i := 0; i+k < n; i++ {
		if s.sorted[i+k]-s.sorted[i] < s.sorted[best+k]-s.sorted[best] {
			best = i
		}
	}
	return s.sorted[best], s.sorted[best+k]
}

func (s *Simulation) quantile(q float64) float64 {
	at := q * float64(len(s.sorted)-1)
	i := int(math.Floor(at))
	switch {
	case i < 0:
		return s.sorted[0]
	case i+1 >= len(s.sorted):
		return s.sorted[len(s.sorted)-1]
	}
	return s.sorted[i] + (at-float64(i))*(s.sorted[i+1]-s.sorted[i])
}

// Value returns the mean and the standard deviation as a Value with one
// contribution of the given name. The lopsidedness is lost.
func (s *Simulation) Value(name string) Value { return Measured(s.Mean, s.SD, s.Unit, name) }

// String prints the mean, the standard uncertainty and the 95 % interval.
func (s *Simulation) String() string {
	return formatMeasured(s.Mean, s.SD, s.Unit) + " (95 %: " + formatInterval(s.Lo95, s.Hi95, s.Unit) + ")"
}
