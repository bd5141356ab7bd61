package main

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"syscall"

	"rotorhum/tacho"
	"rotorhum/tacho/figure"
)

const measureHelp = `usage: rotorhum measure [-pulses Z] [-radius R] [-motion M] [-range LO:HI] [-channel C]
                        [-clock PPM] [-json FILE|-] [-report FILE.html] RECORDING

Says how fast a rotor turned in a sound recording of it, when it was fastest and how
sure that is. With its radius, also how fast its tips moved and what load they bore.

Every interval printed is a 95 % interval. The number behind ± in a radius is one
standard uncertainty. Without -pulses one repetition of the sound counts as one turn.

Exit code: 0 a reading, 3 no rotor can be claimed in the recording (the reasons are
printed), 1 the recording cannot be used, 2 wrong usage.

Example: a whirligig with five vanes, 6 cm from axis to tip

  rotorhum measure -pulses 5 -radius 6cm±0.5mm datasets/whirligig-three-pushes.wav

Flags:
`

// runMeasure is the command "rotorhum measure".
func runMeasure(args []string, stdout, stderr io.Writer) int {
	o, flags, err := parseMeasure(args)
	switch {
	case errors.Is(err, flag.ErrHelp):
		fmt.Fprint(stdout, measureHelp)
		flags.SetOutput(stdout)
		flags.PrintDefaults()
		return exitOK
	case err != nil:
		fmt.Fprintf(stderr, "rotorhum measure: %v; rotorhum measure -h explains\n", err)
		return exitBadUsage
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	o.options.Context = ctx
	show, done := progressBar(stderr)
	o.options.Progress = show
	m, err := o.measure(stdout, done)
	done()
	if err != nil {
		fmt.Fprintf(stderr, "rotorhum measure: %v\n", advised(err))
		if errors.Is(err, tacho.ErrOption) || errors.Is(err, errTarget) {
			return exitBadUsage
		}
		return exitBadInput
	}
	if m.Verdict == tacho.VerdictNoReading {
		return exitNoReading
	}
	return exitOK
}

// measure measures the recording, writes the files that were asked for and
// prints the answer; measured is called when the long part is over.
func (o measureOptions) measure(stdout io.Writer, measured func()) (*tacho.Measurement, error) {
	for _, path := range []string{o.json, o.report} {
		if err := mayBecome(path, o.recording); err != nil {
			return nil, err
		}
	}
	// Reading a long file takes about a fifth of the time.
	const reading = 0.2
	opening := tacho.Watch{Context: o.options.Context}
	if show := o.options.Progress; show != nil {
		opening.Progress = func(done float64) { show(reading * done) }
		o.options.Progress = func(done float64) { show(reading + (1-reading)*done) }
	}
	rec, err := tacho.OpenWith(o.recording, opening)
	if err != nil {
		return nil, err
	}
	// in a long recording memory counts for more than a little time
	usual := debug.SetGCPercent(50)
	m, err := tacho.Measure(rec, o.rotor, o.options)
	debug.SetGCPercent(usual)
	if err != nil {
		return nil, err
	}
	measured()
	var data, page bytes.Buffer
	if o.json != "" {
		if err := m.WriteJSON(&data); err != nil {
			return nil, err
		}
	}
	if o.report != "" {
		if err := writeReport(o.options.Context, &page, rec, m); err != nil {
			return nil, err
		}
		if err := writeResult(o.report, page.Bytes()); err != nil {
			return nil, err
		}
	}
	switch o.json {
	case "":
	case "-":
		_, err := stdout.Write(data.Bytes())
		return m, err
	default:
		if err := writeResult(o.json, data.Bytes()); err != nil {
			return nil, err
		}
	}
	_, err = fmt.Fprint(stdout, m)
	return m, err
}

// writeReport writes the page with its pictures.
func writeReport(ctx context.Context, w io.Writer, rec *tacho.Recording, m *tacho.Measurement) error {
	pictures, err := figure.StoryWith(rec, m, tacho.Watch{Context: ctx})
	if err != nil {
		return err
	}
	var all []tacho.Illustration
	for _, p := range pictures {
		ill, err := p.Illustration()
		if err != nil {
			return err
		}
		all = append(all, ill)
	}
	return m.WritePage(w, all...)
}

// advised adds to an error that says what is wrong what to do about it, where
// the error itself does not.
func advised(err error) error {
	switch {
	case errors.Is(err, context.Canceled):
		return errors.New("interrupted; nothing was written")
	case errors.Is(err, errTarget):
		return err
	case errors.Is(err, fs.ErrNotExist) && !strings.Contains(err.Error(), "; "): // tacho.Open advises
		return fmt.Errorf("%w; check the name and the folder", err)
	case errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("%w; make the file readable for you", err)
	}
	return err
}
