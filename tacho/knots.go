package tacho

import (
	"math"

	"rotorhum/tacho/internal/path"
	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// edgeSeconds is how near to an edge of the recording a course is taken to it.
const edgeSeconds = 0.5

// bent is by how much (of the logarithm) the lines through the steps before and
// after one must miss each other for it to count as a bend.
const bent = 0.004

// straight is by how much, as a share of its change beyond the first or last step,
// a rate may miss a straight line.
const straight = 0.5

// smoothCourse turns the steps of a course into knots of a smooth one: a
// straight line in the logarithm through the neighbours of each step, or through
// those on one side of it only, where that fits clearly better, as beside a kink. Its
// start and its end are taken to the edge of the recording if that is near, as asked.
func smoothCourse(c path.Course, src *sound.Source, toEdge [2]bool) phase.Course {
	var out phase.Course
	const half = 4
	n := len(c.Steps)
	at := func(i int) (float64, float64) {
		s := c.Steps[i]
		return float64(s.Moment) * frameHop, math.Log(s.State.Rate)
	}
	// line returns the value at step i of the line through the steps from i+lo to
	// i+hi, and the mean square by which they miss it
	line := func(i, lo, hi int) (y, miss float64) {
		t0, y0 := at(i)
		var sw, st, sy, stt, sty, syy float64
		reach := max(-lo, hi)
		for j := max(0, i+lo); j <= min(n-1, i+hi); j++ {
			t, y := at(j)
			t, y = t-t0, y-y0
			if math.Abs(t) > (float64(reach)+0.5)*frameHop {
				continue
			}
			w := 1 - math.Abs(t)/(float64(reach+1)*frameHop)
			sw += w
			st += w * t
			sy += w * y
			stt += w * t * t
			sty += w * t * y
			syy += w * y * y
		}
		y, slope := sy/sw, 0.0
		if d := sw*stt - st*st; d > 1e-12 {
			y, slope = (sy*stt-st*sty)/d, (sw*sty-st*sy)/d
		}
		return y0 + y, math.Max(0, syy+sw*y*y+slope*slope*stt-2*y*sy-2*slope*sty+2*y*slope*st) / sw
	}
	for i := range c.Steps {
		t, _ := at(i)
		y, miss := line(i, -half, half)
		before, missBefore := line(i, -2*half, 0)
		after, missAfter := line(i, 0, 2*half)
		bend := math.Abs(after-before)/2 - bent
		if bend > 0 {
			if best := math.Min(missBefore, missAfter); best < 0.25*miss {
				y = before
				if missAfter < missBefore {
					y = after
				}
			}
		}
		out.T = append(out.T, t)
		out.Rate = append(out.Rate, math.Exp(y))
		out.Bend = append(out.Bend, math.Max(0, bend))
	}
	// half a block further on either side, so that blocks cover the ends
	extend := func(t, rate, slope, sign float64) (float64, float64, float64) {
		dt := sign * math.Min(0.12, 2.2/rate)
		// frames that reach over the edge of the recording are half empty and
		// easily lost: near an edge the course is taken to it
		if sign < 0 && t < edgeSeconds && toEdge[0] {
			dt = -t
		} else if end := src.Seconds(); sign > 0 && end-t < edgeSeconds && toEdge[1] {
			dt = end - t
		}
		u := math.Min(math.Max(0, t+dt), src.Seconds())
		way := slope * (u - t)
		return u, rate * math.Exp(math.Max(-0.3, math.Min(0.3, way))), straight * math.Abs(way)
	}
	if n >= 2 {
		slope := math.Log(out.Rate[1]/out.Rate[0]) / (out.T[1] - out.T[0])
		if t, r, miss := extend(out.T[0], out.Rate[0], slope, -1); t < out.T[0]-1e-6 {
			out.T = append([]float64{t}, out.T...)
			out.Rate = append([]float64{r}, out.Rate...)
			out.Bend = append([]float64{math.Max(miss, out.Bend[0])}, out.Bend...)
		}
		k := len(out.T)
		slope = math.Log(out.Rate[k-1]/out.Rate[k-2]) / (out.T[k-1] - out.T[k-2])
		if t, r, miss := extend(out.T[k-1], out.Rate[k-1], slope, 1); t > out.T[k-1]+1e-6 {
			out.T = append(out.T, t)
			out.Rate = append(out.Rate, r)
			out.Bend = append(out.Bend, math.Max(miss, out.Bend[k-1]))
		}
	}
	return out
}
