package exam

import (
	"fmt"
	"io"
	"math"
	"sort"
	"strings"
)

// WriteTable prints the rows of a class, aligned.
func WriteTable(w io.Writer, c Class, rows []Row) {
	fmt.Fprintf(w, "%s: %s\n", c.Name, c.About)
	head := []string{"", "n", "right", "wrong", "unsure", "missed", "false", "steady", "heard%", "gross%", "still", "rms%",
		"/bound", "/0.25s", "twice%", "width", "loose", "c.speed", "c.track", "c.peak", "c.time", "peak%", "ms", "cost%"}
	cells := [][]string{head}
	for _, r := range rows {
		cells = append(cells, []string{r.Group, count(r.N), count(r.Right), count(r.Wrong), count(r.Unsure), count(r.Missed), count(r.NoVerdict), count(r.SteadyVerdicts),
			number(r.Heard, 1), number(r.Gross, 2), count(r.Still), number(r.RMS, 4),
			number(r.Ratio, 2), number(r.Brief, 2), number(r.Twice, 0), number(r.Width, 2), number(r.Loose, 2),
			number(r.CoverSpeed, 1), number(r.CoverTrack, 1), number(r.CoverPeak, 1), number(r.CoverTime, 1),
			number(r.PeakErr, 3), number(r.TimeErr, 1), number(r.Wall, 1)})
	}
	// columns in which nothing applies are left out
	used := make([]bool, len(head))
	wide := make([]int, len(head))
	for i, line := range cells {
		for j, s := range line {
			wide[j] = max(wide[j], len(s))
			if i > 0 && s != "-" {
				used[j] = true
			}
		}
	}
	for _, line := range cells {
		var b strings.Builder
		fmt.Fprintf(&b, "  %-*s", wide[0], line[0])
		for j := 1; j < len(line); j++ {
			if used[j] {
				fmt.Fprintf(&b, "  %*s", wide[j], line[j])
			}
		}
		fmt.Fprintln(w, strings.TrimRight(b.String(), " "))
	}
	fmt.Fprintln(w)
}

// WriteMistakes prints in one line what the wrong readings are of.
func WriteMistakes(w io.Writer, out []Outcome) {
	counts := map[string]int{}
	listed := 0
	for _, o := range out {
		if o.Instead != "" {
			counts[o.Instead]++
			if o.RightOdds > 0 {
				listed++
			}
		}
	}
	if len(counts) == 0 {
		return
	}
	var names []string
	for n := range counts {
		names = append(names, n)
	}
	sort.Slice(names, func(i, j int) bool {
		a, b := names[i], names[j]
		return counts[a] > counts[b] || counts[a] == counts[b] && a < b
	})
	var parts []string
	for _, n := range names {
		parts = append(parts, fmt.Sprintf("%s (%d)", n, counts[n]))
	}
	fmt.Fprintf(w, "  wrong ones read, of the truth: %s; the truth was an alternative in %d\n\n", strings.Join(parts, ", "), listed)
}

// Legend explains the columns.
const Legend = `n draws; right, wrong, missed, false (or failed): readings; unsure: wrong ones that list the right
speed at odds of 3 or less; steady: verdicts "steady"
heard%, gross%: share of the sounding time that has points, that has points off by more than 3 %
still: points while the rotor rests; rms%: relative RMS error, gross ones apart
/bound: RMS error over the bound: of a steady speed the harmonic Cramer-Rao bound; of a track the
local chirp bound for the best window at each point (noise and bending), the recordings' median
/0.25s: the same with windows of 0.25 s at most; twice%: recordings in which that is at most 2
width: stated standard uncertainty over the bound; loose: over the errors' own scale (1 is honest)
c.speed, c.track, c.peak, c.time: per cent of the 95 % intervals that hold the truth,
of all readings, wrong ones included (the row "right ones" leaves them out)
peak%, ms: median absolute error of peak speed and peak time; cost%: engine's time over the recording's
`

func count(n int) string {
	if n == 0 {
		return "-"
	}
	return fmt.Sprint(n)
}

// number prints x with the given decimals, fewer when it is large.
func number(x float64, decimals int) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "-"
	}
	for decimals > 0 && math.Abs(x) >= math.Pow(10, float64(4-decimals)) {
		decimals--
	}
	return fmt.Sprintf("%.*f", decimals, x)
}

// Worst returns the k worst outcomes, the worst first.
func Worst(out []Outcome, k int) []Outcome {
	s := append([]Outcome(nil), out...)
	sort.SliceStable(s, func(i, j int) bool { return s[i].badness() > s[j].badness() })
	return s[:min(k, len(s))]
}

// String tells one outcome, with what is needed to repeat it.
func (o Outcome) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s %q -class %s -seed %d -draw %d: %s, verdict %s", o.Result, o.Group, o.Class, o.Seed, o.Draw, o.About, o.Verdict)
	if o.Result == False {
		fmt.Fprintf(&b, "\n      a rotor for %.2f s", o.Heard)
	}
	if e := o.Speed; e != nil {
		fmt.Fprintf(&b, "\n      speed %.5g [%.6g %.6g] truth %.6g Hz (%+.3g %%, %.1f sigma)", e.Value, e.Lo, e.Hi, e.Truth, 100*e.Relative(), e.z())
	}
	if t := o.Track; t != nil {
		fmt.Fprintf(&b, "\n      track %d points, %d gross, worst %.3g %% at %.2f s, hold %.1f %%, heard %.1f of %.1f s, median |z| %.2f", t.Points, t.Gross, 100*t.Worst, t.At,
			100*float64(t.Holding)/float64(max(1, t.Points)), t.Covered, t.Sounding, t.Z)
		if t.Standstill > 0 {
			fmt.Fprintf(&b, ", %d at standstill", t.Standstill)
		}
		if t.Best > 0 {
			fmt.Fprintf(&b, ", error/bound %.2f (0.25 s: %.2f), width/bound %.2f", math.Sqrt(t.Error/t.Best), math.Sqrt(t.Error/t.Brief), math.Sqrt(t.Stated/t.Best))
		}
	}
	if e := o.Peak; e != nil {
		fmt.Fprintf(&b, "\n      peak %.6g [%.6g %.6g] truth %.6g Hz (%+.3g %%, %.1f sigma)", e.Value, e.Lo, e.Hi, e.Truth, 100*e.Relative(), e.z())
	}
	if e := o.PeakTime; e != nil {
		fmt.Fprintf(&b, " at %.3f [%.3f %.3f] truth %.3f s", e.Value, e.Lo, e.Hi, e.Truth)
	}
	if o.Instead != "" {
		fmt.Fprintf(&b, "\n      reads %s of the truth", o.Instead)
		if o.RightOdds > 0 {
			fmt.Fprintf(&b, ", which is listed at 1:%.3g", o.RightOdds)
		}
	}
	if len(o.Best) > 0 {
		fmt.Fprintf(&b, "\n      alternatives %s", strings.Join(o.Best, ", "))
	}
	if o.Said != "" {
		fmt.Fprintf(&b, "\n      said: %s", strings.TrimSuffix(o.Said, "; "))
	}
	return b.String()
}
