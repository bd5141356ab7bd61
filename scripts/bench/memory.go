package main

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"text/tabwriter"
)

// The program rotorhum measures recordings of up to an hour, 48 kHz, 16 bits, one
// channel, of three kinds; of each the most memory that it had at any time is told,
// the program's own 35 MB included, and its processor time.
var (
	memoryMinutes = []int{1, 3, 10, 30, 60}
	memoryKinds   = []struct {
		name string
		rate func(t float64) float64 // hertz, 0 for silence
	}{
		{"one motion", func(t float64) float64 { return 180 - 100*math.Cos(2*math.Pi*t/10) }},
		{"pushes", func(t float64) float64 {
			t = math.Mod(t, 20)
			if t > 15 {
				return 0
			}
			return 60 + 120*math.Min(t, 1)*math.Exp(-math.Max(0, t-1)/8)
		}},
		{"noise", func(float64) float64 { return 0 }},
	}
)

// memory prints the table of memory and time against length.
func memory() error {
	dir, err := os.MkdirTemp("", "bench")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	program := filepath.Join(dir, "rotorhum")
	build := exec.Command("go", "build", "-ldflags=-s", "-o", program, "./kernel/rotorhum")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		return fmt.Errorf("building rotorhum: %w\n%s", err, out)
	}
	w := tabwriter.NewWriter(os.Stdout, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "sound\tminutes\tmemory\tprocessor time\t")
	for _, k := range memoryKinds {
		for _, minutes := range memoryMinutes {
			file := filepath.Join(dir, "sound.wav")
			if err := writeSound(file, 60*minutes, k.rate); err != nil {
				return err
			}
			cmd := exec.Command(program, "measure", "-pulses", "5", "-motion", "varying", file)
			err := cmd.Run()
			if _, exited := err.(*exec.ExitError); err != nil && !exited {
				return err
			}
			used := cmd.ProcessState.SysUsage().(*syscall.Rusage)
			worked := cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
			fmt.Fprintf(w, "%s\t%d\t%d MB\t%.2f s\t\n", k.name, minutes, used.Maxrss>>10, worked.Seconds())
		}
	}
	return w.Flush()
}

// writeSound writes the sound of a rotor with five harmonics in white noise.
func writeSound(file string, seconds int, rate func(t float64) float64) error {
	const fs = 48000
	f, err := os.Create(file)
	if err != nil {
		return err
	}
	defer f.Close()
	w := bufio.NewWriterSize(f, 1<<20)
	size := uint32(2 * fs * seconds)
	w.WriteString("RIFF")
	binary.Write(w, binary.LittleEndian, size+36)
	w.WriteString("WAVEfmt ")
	binary.Write(w, binary.LittleEndian, []uint32{16, 1<<16 | 1, fs, 2 * fs, 16<<16 | 2})
	w.WriteString("data")
	binary.Write(w, binary.LittleEndian, size)
	r := rand.New(rand.NewPCG(1, 1))
	turns := 0.0
	for i := range seconds * fs {
		v := 0.05 * r.NormFloat64()
		if f := rate(float64(i) / fs); f > 0 {
			turns += f / fs
			for m := 1.0; m <= 5; m++ {
				v += 0.1 / m * math.Sin(2*math.Pi*m*turns)
			}
		}
		s := int16(math.Round(32767 * math.Max(-1, math.Min(1, v))))
		w.WriteByte(byte(s))
		w.WriteByte(byte(s >> 8))
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return f.Close()
}
