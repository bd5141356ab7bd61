package figure

import (
	"fmt"
	"math"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rotorhum/tacho"
)

// Spectrum draws the level of a spectrum against frequency, in decibels
// relative to a full-scale sine. Unless family is nil, each of its lines is
// marked by a dashed rule and a disc with its harmonic number, 1 for the pulse
// tone; lines between, of unequal blades, get a small diamond.
//
// Unless the view bounds the frequency, the picture ends a little above the
// last line of the family, or at half the sample rate without one. It returns
// an error if the spectrum is nil, empty or silent, or if the family's tone is
// not a positive number.
func Spectrum(spec *tacho.Spectrum, family *tacho.Family, view ...View) (*Picture, error) {
	v, err := viewOf(view, 420)
	if err != nil {
		return nil, err
	}
	if spec == nil || spec.Len() < 2 {
		return nil, fmt.Errorf("figure: a spectrum of at least two bins is needed: %w", tacho.ErrTooShort)
	}
	half := spec.Fs / 2
	x := [2]float64{float64(v.Lo), float64(v.Hi)}
	if family != nil {
		if f := family.Tone.X; !(f > 0) || math.IsInf(f, 0) {
			return nil, fmt.Errorf("figure: the family's tone is %g Hz and must be a positive number", f)
		}
	}
	if x[1] == 0 {
		x[1] = half
		if family != nil {
			last := 3 * family.Tone.X
			for _, l := range family.Lines {
				last = math.Max(last, float64(l.Freq))
			}
			x[1] = math.Min(half, last+1.5*family.Tone.X)
		}
	}
	x[1] = math.Min(x[1], half)
	if x[0] >= x[1] {
		return nil, fmt.Errorf("figure: the spectrum ends at %g Hz, below the view's %g Hz", half, x[0])
	}
	levels, low, high, err := levelsOf(v, spec, x)
	if err != nil {
		return nil, err
	}
	y := levelRange(low, high, family != nil)

	axes := newAxes("frequency (Hz)", "level (dB re full-scale sine)", x, y)
	axes.Add(plotterFunc(func(c draw.Canvas, p *plot.Plot) {
		drawLevels(c, p, levels)
		if family != nil {
			drawFamily(c, p, spec, family)
		}
	}))
	sh := sheet{
		title: v.Title,
		note:  fmt.Sprintf("%s window, lines %.3g Hz apart can be told apart", spec.Window.Name(), float64(spec.Resolution())),
		plots: []*plot.Plot{axes},
	}
	alt := fmt.Sprintf("Spectrum from %.4g to %.4g Hz; the highest level is %.3g dB.", x[0], x[1], high)
	if sh.title == "" {
		sh.title = "Spectrum"
	}
	if family != nil {
		sh.note += "   discs: harmonics of the pulse tone " + family.Tone.Rounded()
		alt += fmt.Sprintf(" The family of the pulse tone %s is marked, %d lines", family.Tone, len(family.Lines))
		for i, l := range family.Lines {
			alt += fmt.Sprintf("%s%.3g at %.5g Hz", []string{": ", ", "}[min(i, 1)], l.M, float64(l.Freq))
			if i == 7 && len(family.Lines) > 8 {
				alt += " and more"
				break
			}
		}
		alt += "."
	}
	return sh.picture(v, alt), nil
}

// level is the lowest and highest level of a column of bins.
type level struct{ f, lo, hi float64 }

// levelsOf returns the levels in dB between the frequencies x: one for each bin
// if they are few, else one for each of two columns per pixel. Silent bins
// stand at minus infinity. low is a level that a tenth of the bins lie below.
func levelsOf(v View, spec *tacho.Spectrum, x [2]float64) (levels []level, low, high float64, err error) {
	first, last := max(0, int(math.Floor(x[0]/spec.DF))), min(spec.Len()-1, int(math.Ceil(x[1]/spec.DF)))
	n := last - first + 1
	columns := 2 * v.Width
	if n <= 2*columns {
		columns = n
	}
	levels = make([]level, columns)
	high = math.Inf(-1)
	var sounding []float64
	for i := range levels {
		if err := v.ended(); err != nil {
			return nil, 0, 0, fmt.Errorf("figure: %w", err)
		}
		from, to := first+i*n/columns, first+(i+1)*n/columns
		l := level{float64(spec.Freq(from)+spec.Freq(to-1)) / 2, math.Inf(1), math.Inf(-1)}
		for k := from; k < to; k++ {
			d := spec.DB(k)
			if math.IsNaN(d) || math.IsInf(d, 1) {
				return nil, 0, 0, fmt.Errorf("figure: bin %d of the spectrum holds %g dB: %w", k, d, tacho.ErrNotFinite)
			}
			if !math.IsInf(d, -1) {
				sounding = append(sounding, d)
			}
			l.lo, l.hi = math.Min(l.lo, d), math.Max(l.hi, d)
		}
		high = math.Max(high, l.hi)
		levels[i] = l
	}
	if len(sounding) == 0 {
		return nil, 0, 0, fmt.Errorf("figure: the spectrum is silent from %g to %g Hz: there is nothing to draw", x[0], x[1])
	}
	return levels, quantile(sounding, 0.1), high, nil
}

// levelRange returns a range of level in round numbers that shows the noise and
// the lines, with room for the discs above them.
func levelRange(low, high float64, marked bool) [2]float64 {
	low = math.Max(low, high-110)
	low = math.Min(low, high-30)
	room := 5.0
	if marked {
		room = 0.16 * (high - low)
	}
	return [2]float64{5 * math.Floor((low-5)/5), 5 * math.Ceil((high+room)/5)}
}

// drawLevels draws the levels as a line, or where a column holds many bins as
// the span between its lowest and highest.
func drawLevels(c draw.Canvas, p *plot.Plot, levels []level) {
	x, y := p.Transforms(&c)
	at := func(f, d float64) vg.Point {
		return vg.Point{X: x(f), Y: y(math.Max(d, p.Y.Min))}
	}
	upper := make([]vg.Point, len(levels))
	lower := make([]vg.Point, len(levels))
	single := true
	for i, l := range levels {
		upper[i] = at(l.f, l.hi)
		lower[i] = at(l.f, l.lo)
		single = single && l.lo == l.hi
	}
	if !single {
		fillPieces(c, mist, upper, lower)
	}
	strokePieces(c, draw.LineStyle{Color: tide, Width: 1.1}, upper)
}

// drawFamily marks the lines of the family: a dashed rule from the bottom to
// the line's peak and a numbered disc above it. Where discs would touch, only
// those with the lowest harmonic numbers keep theirs.
func drawFamily(c draw.Canvas, p *plot.Plot, spec *tacho.Spectrum, family *tacho.Family) {
	x, y := p.Transforms(&c)
	const radius = 7.2
	dashed := draw.LineStyle{Color: buoy, Width: 0.9, Dashes: []vg.Length{3, 2.5}}
	number := aligned(bold(words(8.6, paper)), text.XCenter, text.YCenter)
	free := vg.Length(math.Inf(-1))
	for _, l := range family.Lines {
		f := float64(l.Freq)
		if !(f >= p.X.Min && f <= p.X.Max) {
			continue
		}
		top := vg.Point{X: x(f), Y: y(math.Max(peakNear(spec, f), p.Y.Min))}
		whole := math.Abs(l.M-math.Round(l.M)) < 1e-6
		if !whole {
			diamond(c, vg.Point{X: top.X, Y: top.Y + 5}, 3, paper, buoy)
			continue
		}
		disc := vg.Point{X: top.X, Y: top.Y + radius + 3}
		c.StrokeLines(dashed, c.ClipLinesXY([]vg.Point{{X: top.X, Y: c.Min.Y}, top})...)
		if disc.X-radius < free {
			c.DrawGlyph(draw.GlyphStyle{Color: buoy, Radius: 2, Shape: draw.CircleGlyph{}}, vg.Point{X: top.X, Y: top.Y + 4})
			continue
		}
		free = disc.X + radius
		c.DrawGlyphNoClip(draw.GlyphStyle{Color: paper, Radius: radius + 1.2, Shape: draw.CircleGlyph{}}, disc)
		c.DrawGlyphNoClip(draw.GlyphStyle{Color: buoy, Radius: radius, Shape: draw.CircleGlyph{}}, disc)
		c.FillText(number, vg.Point{X: disc.X, Y: disc.Y + 0.5}, strconv.Itoa(int(math.Round(l.M))))
	}
}

// peakNear returns the highest level within a resolution cell of f, in dB.
func peakNear(spec *tacho.Spectrum, f float64) float64 {
	cell := math.Max(float64(spec.Resolution()), spec.DF)
	high := math.Inf(-1)
	for k := max(0, spec.Bin(tacho.Hertz(f-cell))); k <= min(spec.Len()-1, spec.Bin(tacho.Hertz(f+cell))); k++ {
		high = math.Max(high, spec.DB(k))
	}
	return high
}
