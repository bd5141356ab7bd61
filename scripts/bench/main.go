// Command bench measures the speed of transforms, spectrograms and whole
// measurements side by side with SciPy, FFTW and gonum, and prints a table of
// ratios.
//
//	go run ./scripts/bench [-rounds 15] [-only WORD] [-long] [-spread]
//	go run ./scripts/bench -memory
//
// The programs stay open and take turns: in every round each does the same task
// within milliseconds of the others, and the ratios are those of one round.
// The table shows their median and, with -spread, the middle half. On one core
// processor time is compared, on two the time that passes: that part needs a
// quiet machine.
//
// SciPy needs the Debian package python3-scipy, FFTW needs gcc and libfftw3-dev;
// what is absent is left out with a word.
//
// With -memory it prints instead how much memory and processor time the program
// rotorhum needs for recordings of a minute to an hour.
package main

import (
	"flag"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"text/tabwriter"
)

// task is a row of the table. The bounds are on the ratios to SciPy and FFTW
// that the project promises; 0 stands for none.
type task struct {
	name        string
	n           int
	scipy, fftw float64
}

func tasks(cores int, long bool) []task {
	var ts []task
	if cores == 1 {
		for n := 256; n <= 65536; n *= 2 {
			ts = append(ts, task{"real", n, 1.5, 2.5})
		}
		for _, n := range []int{1 << 18, 1 << 20, 480, 6000, 48000, 4410, 44100, 10007} {
			ts = append(ts, task{"real", n, 0, 0})
		}
		if long {
			ts = append(ts, task{"real", 1 << 22, 0, 0})
		}
		ts = append(ts, task{"frames", 4096, 1.5, 2.5}, task{"spectrogram", 4096, 0, 0})
	} else {
		ts = append(ts, task{"frames", 4096, 0, 0}, task{"spectrogram", 4096, 0.8, 0})
	}
	for _, seconds := range lengths(long) {
		// the scripted pipeline needs memory in proportion to the length
		promise := 0.0
		if seconds == 60 {
			promise = 0.5
		}
		ts = append(ts, task{"measure", seconds, promise, 0})
	}
	return ts
}

// lengths are the seconds of sound that are measured.
func lengths(long bool) []int {
	if long {
		return []int{10, 60, 300, 600}
	}
	return []int{10, 60}
}

func main() {
	rounds := flag.Int("rounds", 15, "how often every task is measured")
	only := flag.String("only", "", "measure only tasks whose `name` contains this")
	long := flag.Bool("long", false, "measure 2^22 samples, too, for which FFTW plans for minutes, and up to ten minutes of sound")
	spread := flag.Bool("spread", false, "show the middle half of the ratios, too")
	lengths := flag.Bool("memory", false, "measure the memory that recordings of up to an hour need, and nothing else")
	flag.Parse()
	if *lengths {
		if err := memory(); err != nil {
			fmt.Fprintln(os.Stderr, "bench:", err)
			os.Exit(1)
		}
		return
	}
	if *rounds < 1 {
		fmt.Fprintln(os.Stderr, "bench: -rounds must be at least 1")
		os.Exit(2)
	}
	programs, stop, err := start()
	if err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
	defer stop()
	for cores := 1; cores <= 2; cores++ {
		var rows []row
		for _, t := range tasks(cores, *long) {
			if !strings.Contains(t.name, *only) {
				continue
			}
			r, err := measure(programs, t, cores, *rounds)
			if err != nil {
				fmt.Fprintln(os.Stderr, "bench:", err)
				stop()
				os.Exit(1)
			}
			rows = append(rows, r)
		}
		print(programs, rows, cores, *rounds, *spread)
	}
}

// row is what was measured of a task: the times in nanoseconds by program and
// round; empty for a program that cannot do it.
type row struct {
	task  task
	times [][]float64
}

// measure lets the programs take turns, each going first as often as the others.
func measure(programs []*program, t task, cores, rounds int) (row, error) {
	const slice = 4e6 // nanoseconds of one turn
	r := row{t, make([][]float64, len(programs))}
	reps := make([]int, len(programs))
	for i, p := range programs {
		once, err := p.ask(t, cores, 1)
		if err != nil {
			return r, err
		}
		if once > 0 {
			reps[i] = max(1, int(slice/once))
		}
	}
	for round := range rounds {
		for i := range programs {
			i = (i + round) % len(programs)
			if reps[i] == 0 {
				continue
			}
			ns, err := programs[i].ask(t, cores, reps[i])
			if err != nil {
				return r, err
			}
			r.times[i] = append(r.times[i], ns)
		}
	}
	return r, nil
}

// print writes the table for a number of cores. The first program is ours.
func print(programs []*program, rows []row, cores, rounds int, spread bool) {
	if len(rows) == 0 {
		return
	}
	fmt.Printf("%d core(s): our time, and its ratio to that of others; median of %d rounds\n\n", cores, rounds)
	w := tabwriter.NewWriter(os.Stdout, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprint(w, "task\tlength\tours\t")
	for _, p := range programs[1:] {
		fmt.Fprintf(w, "/ %s\t", p.name)
	}
	fmt.Fprint(w, "promise\t\n")
	for _, r := range rows {
		fmt.Fprintf(w, "%s\t%d\t%s\t", r.task.name, r.task.n, duration(quantile(r.times[0], 0.5)))
		var promise []string
		for i, p := range programs[1:] {
			ratios := ratios(r.times[0], r.times[i+1])
			if len(ratios) == 0 {
				fmt.Fprint(w, "-\t")
				continue
			}
			m := quantile(ratios, 0.5)
			fmt.Fprintf(w, "%.2f", m)
			if spread {
				fmt.Fprintf(w, " (%.2f-%.2f)", quantile(ratios, 0.25), quantile(ratios, 0.75))
			}
			fmt.Fprint(w, "\t")
			bound := map[string]float64{"SciPy": r.task.scipy, "FFTW": r.task.fftw}[p.name]
			if bound > 0 {
				word := "kept"
				if m > bound {
					word = "BROKEN"
				}
				promise = append(promise, fmt.Sprintf("%s %.1f %s", p.name, bound, word))
			}
		}
		fmt.Fprintf(w, "%s\t\n", strings.Join(promise, ", "))
	}
	w.Flush()
	fmt.Println()
}

// ratios divides ours by others' times, round by round.
func ratios(ours, others []float64) []float64 {
	var q []float64
	for i := range others {
		q = append(q, ours[i]/others[i])
	}
	return q
}

// quantile returns the p-quantile of x by linear interpolation, NaN if empty.
func quantile(x []float64, p float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	x = slices.Sorted(slices.Values(x))
	i, f := math.Modf(p * float64(len(x)-1))
	if int(i) == len(x)-1 {
		return x[len(x)-1]
	}
	return x[int(i)]*(1-f) + x[int(i)+1]*f
}

// duration prints nanoseconds with three digits.
func duration(ns float64) string {
	switch {
	case ns < 1e6:
		return fmt.Sprintf("%.3g µs", ns/1e3)
	default:
		return fmt.Sprintf("%.3g ms", ns/1e6)
	}
}
