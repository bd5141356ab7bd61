// Command nullsink listens for real, without a microphone: it starts a sound
// server of its own whose only device leads nowhere, plays invented trials into
// it, and listens to them through the whole way of a microphone. Of every trial it
// checks that no sample was lost or changed on the way to the kept file, and that
// the highest speed followed live agrees with that of the full measurement; it
// measures the delay from the sound to the number and the load of the processor.
//
//	go run ./scripts/nullsink [-trials 10] [-program FILE] [-v]
//
// With -program, which is a built rotorhum, it also pipes sound from a recorder
// program into that, and lets it capture by itself. In the end the sound server is
// stopped in the middle of a trial: what was heard until then must be kept.
//
// Needed are the Debian packages pulseaudio and pulseaudio-utils. The exit code is
// 0 if all is well, 1 if not, and 3 if no sound server can be started here.
package main

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"sort"
)

var (
	trials  = flag.Int("trials", 10, "how many trials to play")
	program = flag.String("program", "", "also listen with this built `program`")
	verbose = flag.Bool("v", false, "print what the sound server says")
)

func main() {
	flag.Parse()
	err := run()
	switch {
	case errors.Is(err, errNoServer):
		fmt.Println("skipped:", err)
		os.Exit(3)
	case err != nil:
		fmt.Fprintln(os.Stderr, "nullsink:", err)
		os.Exit(1)
	}
}

func run() error {
	folder, err := os.MkdirTemp("", "nullsink")
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder)
	server, err := startServer(folder)
	if err != nil {
		return err
	}
	defer server.stop()
	var bad []error
	var all []figures
	fmt.Println("trial                              heard             live   full measurement  differ     lag    load    lost  readings")
	for i := range *trials {
		f, err := oneTrial(i, filepath.Join(folder, fmt.Sprintf("trial-%d.wav", i+1)))
		if err != nil {
			bad = append(bad, fmt.Errorf("trial %d: %w", i+1, err))
			fmt.Printf("%-5d FAILED: %v\n", i+1, err)
			continue
		}
		all = append(all, f)
		fmt.Println(f)
	}
	if len(all) > 0 {
		summary(all)
	}
	median, most, err := delay(filepath.Join(folder, "paced.wav"))
	if err != nil {
		bad = append(bad, fmt.Errorf("delay: %w", err))
	} else {
		fmt.Printf("from sample to number: median %.0f ms, 95 of 100 within %.0f ms\n\n", 1000*median, 1000*most)
	}
	if *program != "" {
		for _, way := range []struct {
			name string
			hear func(program, folder string) error
		}{{"a recorder program piped into the program", piped}, {"the program by itself", alone}} {
			if err := way.hear(*program, folder); err != nil {
				bad = append(bad, fmt.Errorf("%s: %w", way.name, err))
			} else {
				fmt.Println("ok:", way.name)
			}
		}
	}
	if err := unplugged(server, filepath.Join(folder, "unplugged.wav")); err != nil {
		bad = append(bad, fmt.Errorf("unplugged: %w", err))
	} else {
		fmt.Println("ok: the sound server ended in the middle of a trial, and what was heard until then is kept")
	}
	return errors.Join(bad...)
}

// summary prints the figures of all trials together.
func summary(all []figures) {
	pick := func(of func(figures) float64) (median, most float64) {
		var x []float64
		for _, f := range all {
			x = append(x, of(f))
		}
		sort.Float64s(x)
		return x[len(x)/2], x[len(x)-1]
	}
	agree, live, full := 0, 0, 0
	for _, f := range all {
		if f.agree {
			agree++
		}
		if f.holds {
			live++
		}
		if f.fullHolds {
			full++
		}
	}
	fmt.Printf("\n%d of %d trials agree within their intervals; the true peak, a cusp, is held by %d live intervals and %d of the full measurement\n", agree, len(all), live, full)
	m, w := pick(func(f figures) float64 { return 1000 * f.lag })
	fmt.Printf("the speed on the way up is that of %.0f ms before its newest sample (median), at most %.0f ms\n", m, w)
	m, w = pick(func(f figures) float64 { return 100 * f.load })
	fmt.Printf("load of one core, with the notebook's picture drawn: median %.0f %%, at most %.0f %%\n\n", m, w)
}
