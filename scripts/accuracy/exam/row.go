package exam

import (
	"math"
	"sort"
)

// Row sums up the outcomes of one group. NaN stands for what does not apply.
type Row struct {
	Group                              string
	N, Right, Wrong, Missed, NoVerdict int // NoVerdict counts false readings and failures
	// Unsure counts the wrong readings that were called hardly likelier than the
	// right one.
	Unsure int
	// SteadyVerdicts counts the verdicts "steady".
	SteadyVerdicts int
	// Gross is the share of grossly wrong time in the sounding time, Heard the share
	// of the sounding time with points, both in per cent.
	Gross, Heard float64
	// Still counts the points at standstill.
	Still int
	// RMS is the RMS relative error in per cent: of the steady speed where the
	// truth is steady and so is the verdict, else of the track's points.
	RMS float64
	// Ratio is the RMS error over the bound. For steady speeds: of all recordings,
	// over the harmonic Cramér-Rao bound. For tracks: the median over the recordings
	// of the RMS error over the RMS local chirp bound for the best window; Brief the
	// same for windows of at most briefWindow, and Twice the per cent of recordings
	// in which Brief is at most 2.
	Ratio, Brief, Twice float64
	// Width is the stated standard uncertainty over the bound of Ratio.
	Width float64
	// Loose is the stated standard uncertainty over the error's own scale, the
	// median absolute error over 0.6745: 1 is honest, 2 twice too wide.
	Loose float64
	// CoverSpeed, CoverTrack, CoverPeak and CoverTime are the shares, in per cent,
	// of intervals that hold the truth: steady speed, points (mean over the
	// recordings), peak speed, peak time.
	CoverSpeed, CoverTrack, CoverPeak, CoverTime float64
	// PeakErr is the median absolute error of the peak speed in per cent, TimeErr
	// that of its time in milliseconds.
	PeakErr, TimeErr float64
	// Wall is the engine's time over the recording's length, in per cent.
	Wall float64
}

// Summarise returns a row for every group, in order of appearance, one for all
// together if there are several, and one for the right readings alone.
func Summarise(out []Outcome) []Row {
	var names []string
	by := map[string][]Outcome{}
	for _, o := range out {
		if by[o.Group] == nil {
			names = append(names, o.Group)
		}
		by[o.Group] = append(by[o.Group], o)
	}
	var rows []Row
	for _, n := range names {
		rows = append(rows, summary(n, by[n]))
	}
	if len(rows) > 1 {
		rows = append(rows, summary("all", out))
	}
	var right []Outcome
	for _, o := range out {
		if o.Result == Right && o.Track != nil {
			right = append(right, o)
		}
	}
	if n := len(right); n > 0 && n < len(out) {
		rows = append(rows, summary("right ones", right))
	}
	return rows
}

func summary(name string, out []Outcome) Row {
	r := Row{Group: name, N: len(out)}
	var rms, ratio, twice, width mean
	var ratios, briefs, widths []float64
	var coverSpeed, coverTrack, coverPeak, coverTime mean
	var z, peak, when []float64
	var grossTime, sounding, covered, wall, seconds float64
	for _, o := range out {
		wall += o.Wall.Seconds()
		seconds += o.Seconds
		switch o.Result {
		case Right:
			r.Right++
		case Wrong:
			r.Wrong++
			if o.Unsure {
				r.Unsure++
			}
		case Missed:
			r.Missed++
		default:
			r.NoVerdict++
		}
		if o.Verdict == "steady" {
			r.SteadyVerdicts++
		}
		if e := o.Speed; e != nil {
			coverSpeed.share(e.Holds())
			if o.Result == Right {
				z = append(z, math.Abs(e.z()))
				rms.add(e.Relative() * e.Relative())
				if e.Bound > 0 {
					ratio.add(e.Err() * e.Err() / (e.Bound * e.Bound))
					width.add((e.Hi - e.Lo) / (2 * 1.959964) / e.Bound)
				}
			}
		}
		if t := o.Track; t != nil && t.Points > 0 {
			grossTime += t.GrossTime
			sounding += t.Sounding
			covered += t.Covered
			r.Still += t.Standstill
			coverTrack.add(float64(t.Holding) / float64(t.Points))
			if o.Speed == nil {
				z = append(z, t.Z)
				if n := t.Points - t.Gross; n > 0 {
					rms.add(t.Square / float64(n))
				}
				if t.Best > 0 {
					ratios = append(ratios, math.Sqrt(t.Error/t.Best))
					briefs = append(briefs, math.Sqrt(t.Error/t.Brief))
					widths = append(widths, math.Sqrt(t.Stated/t.Best))
					twice.share(t.Error <= 4*t.Brief)
				}
			}
		}
		if e := o.Peak; e != nil {
			coverPeak.share(e.Holds())
			if o.Result != Right {
				coverTime.shareOf(o.PeakTime)
				continue
			}
			peak = append(peak, 100*math.Abs(e.Relative()))
		}
		if e := o.PeakTime; e != nil {
			coverTime.shareOf(e)
			when = append(when, 1000*math.Abs(e.Err()))
		}
	}
	r.Gross, r.Heard = 100*grossTime/sounding, 100*covered/sounding
	r.RMS = 100 * rms.root()
	r.Ratio, r.Width = ratio.root(), width.value()
	if len(ratios) > 0 && ratio.n == 0 {
		r.Ratio, r.Width = median(ratios), median(widths)
	}
	r.Brief, r.Twice = median(briefs), 100*twice.value()
	r.Loose = 0.6745 / median(z)
	r.CoverSpeed, r.CoverTrack = 100*coverSpeed.value(), 100*coverTrack.value()
	r.CoverPeak, r.CoverTime = 100*coverPeak.value(), 100*coverTime.value()
	r.PeakErr, r.TimeErr = median(peak), median(when)
	r.Wall = 100 * wall / seconds
	return r
}

// mean collects numbers for their mean.
type mean struct{ sum, n float64 }

func (m *mean) add(x float64) { m.sum += x; m.n++ }
func (m *mean) share(yes bool) {
	if yes {
		m.sum++
	}
	m.n++
}
func (m *mean) shareOf(e *Estimate) {
	if e != nil {
		m.share(e.Holds())
	}
}
func (m mean) value() float64 { return m.sum / m.n }
func (m mean) root() float64  { return math.Sqrt(m.value()) }

func median(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	s := append([]float64(nil), x...)
	sort.Float64s(s)
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}
