// Command speed times transforms and spectrograms on request. It is one of the
// programs that scripts/bench runs side by side; the others answer the same
// requests with other libraries.
//
// Each line of input asks for
//
//	TASK N CORES REPS
//
// and is answered by a line with the nanoseconds that one of REPS repetitions
// took, or "none" for what the program cannot do. On one core they are those in
// which the processor worked for the program, so that other programs do not
// count; on several, those that passed. The tasks are
//
//	real         transform of N real samples
//	frames       transforms of 512 frames of N real samples each
//	spectrogram  60 s at 48 kHz in frames of N samples, 512 apart, Hann window
//	measure      the speed over N seconds at 48 kHz of a rotor that speeds up and
//	             slows down in noise
//
// With the argument gonum the transforms are those of gonum's dsp/fourier.
package main

import (
	"bufio"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"runtime"
	"sync"
	"syscall"
	"time"

	"gonum.org/v1/gonum/dsp/fourier"

	"rotorhum/tacho"
	"rotorhum/tacho/internal/transform"
)

func main() {
	own := len(os.Args) < 2 || os.Args[1] != "gonum"
	jobs := map[string]func(){}
	in := bufio.NewScanner(os.Stdin)
	for in.Scan() {
		var task string
		var n, cores, reps int
		if _, err := fmt.Sscan(in.Text(), &task, &n, &cores, &reps); err != nil {
			fmt.Fprintln(os.Stderr, "speed: a request is TASK N CORES REPS:", err)
			os.Exit(2)
		}
		runtime.GOMAXPROCS(cores)
		key := fmt.Sprint(task, n, cores)
		if _, known := jobs[key]; !known {
			jobs[key] = job(task, n, cores, own)
		}
		run := jobs[key]
		if run == nil {
			fmt.Println("none")
			continue
		}
		run() // fill the caches
		clock := passed
		if cores == 1 {
			clock = worked
		}
		start := clock()
		for range reps {
			run()
		}
		fmt.Println(float64(clock()-start) / float64(reps))
	}
}

// opened is when the program was started.
var opened = time.Now()

// passed returns the time since then.
func passed() time.Duration { return time.Since(opened) }

// worked returns the processor time that the program has used.
func worked() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// job returns a function that does the task once, or nil.
func job(task string, n, cores int, own bool) func() {
	switch task {
	case "real":
		x, forward := signal(n), plan(n, own)
		return func() { forward(x) }
	case "frames":
		return frames(n, cores, own)
	case "spectrogram":
		if !own {
			return nil
		}
		const fs = 48000
		rec, err := tacho.NewRecording("speed", fs, signal(60*fs))
		if err != nil {
			panic(err)
		}
		return func() {
			if _, err := rec.Spectrogram(tacho.SpectrogramOptions{Window: tacho.Hann, Len: n, Hop: 512}); err != nil {
				panic(err)
			}
		}
	case "measure":
		if !own {
			return nil
		}
		rec, err := tacho.NewRecording("speed", 48000, rotor(n))
		if err != nil {
			panic(err)
		}
		return func() {
			m, err := tacho.Measure(rec, tacho.Rotor{Pulses: 5}, tacho.Options{Motion: tacho.Varying})
			if err != nil || m.Verdict != tacho.VerdictVarying {
				panic(fmt.Sprintf("no reading: %v %v", m, err))
			}
		}
	}
	return nil
}

// rotor returns the sound, at 48 kHz, of a rotor in white noise: five harmonics
// of a pulse rate that swings between 80 and 280 Hz every 10 s.
func rotor(seconds int) []float64 {
	const fs = 48000
	r := rand.New(rand.NewPCG(1, 1))
	x := make([]float64, seconds*fs)
	turns := 0.0
	for i := range x {
		turns += (180 - 100*math.Cos(2*math.Pi*float64(i)/(10*fs))) / fs
		for m := 1.0; m <= 5; m++ {
			x[i] += 0.1 / m * math.Sin(2*math.Pi*m*turns)
		}
		x[i] += 0.05 * r.NormFloat64()
	}
	return x
}

// plan returns a function that transforms n samples into memory of its own.
func plan(n int, own bool) func(x []float64) {
	y := make([]complex128, n/2+1)
	if own {
		p := transform.NewReal(n)
		return func(x []float64) { p.Forward(y, x) }
	}
	p := fourier.NewFFT(n)
	return func(x []float64) { p.Coefficients(y, x) }
}

// frames returns a function that transforms many frames, shared out evenly.
func frames(n, cores int, own bool) func() {
	const count = 512
	x, y := signal(count*n), make([]complex128, count*(n/2+1))
	var forward []func(dst []complex128, src []float64) []complex128
	first := transform.NewReal(n)
	for range cores {
		if own {
			forward = append(forward, first.Clone().Forward)
		} else {
			forward = append(forward, fourier.NewFFT(n).Coefficients)
		}
	}
	return func() {
		var all sync.WaitGroup
		for c, forward := range forward {
			all.Go(func() {
				for i := count * c / cores; i < count*(c+1)/cores; i++ {
					forward(y[i*(n/2+1):(i+1)*(n/2+1)], x[i*n:(i+1)*n])
				}
			})
		}
		all.Wait()
	}
}

// signal returns a tone with a harmonic, between -1 and 1.
func signal(n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = 0.6*math.Sin(0.1*float64(i)) + 0.3*math.Sin(0.2*float64(i))
	}
	return x
}
