package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"rotorhum/tacho"
)

// measureOptions is what the command line of "rotorhum measure" says.
type measureOptions struct {
	recording    string
	rotor        tacho.Rotor
	options      tacho.Options
	json, report string
}

// parseMeasure reads the command line. The error is flag.ErrHelp if help was
// asked for, and else says what is wrong.
func parseMeasure(args []string) (measureOptions, *flag.FlagSet, error) {
	var o measureOptions
	flags := flag.NewFlagSet("measure", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	rotorFlags(flags, &o.rotor, &o.options)
	flags.Func("motion", "`kind` of motion: auto, steady (one speed) or varying (default auto)", func(s string) error {
		switch m := tacho.Motion(s); m {
		case tacho.Auto, tacho.Steady, tacho.Varying:
			o.options.Motion = m
			return nil
		}
		return errors.New("it is auto, steady or varying")
	})
	flags.StringVar(&o.json, "json", "", "write the measurement as JSON to this `file`; - writes nothing else to standard output")
	flags.StringVar(&o.report, "report", "", "write a page with pictures to this `file`, which ends in .html")
	if err := flags.Parse(args); err != nil {
		return o, flags, err
	}
	switch {
	case flags.NArg() == 0:
		return o, flags, errors.New("name a recording")
	case flags.NArg() > 1 && strings.HasPrefix(flags.Arg(1), "-"):
		return o, flags, fmt.Errorf("put %s before the recording", flags.Arg(1))
	case flags.NArg() > 1:
		return o, flags, fmt.Errorf("name one recording, not %d; run the command once for each", flags.NArg())
	case o.report != "" && !isPage(o.report):
		return o, flags, fmt.Errorf("-report %s: end the name in .html", o.report)
	case o.report != "" && filepath.Clean(o.report) == filepath.Clean(o.json):
		return o, flags, errors.New("-json and -report name the same file")
	}
	o.recording = flags.Arg(0)
	return o, flags, nil
}

// rotorFlags defines the flags that say what spins and how to listen to it.
func rotorFlags(flags *flag.FlagSet, rotor *tacho.Rotor, opt *tacho.Options) {
	flags.Func("pulses", "`number` of blades, holes or teeth: sound pulses in one turn", func(s string) error {
		z, err := strconv.Atoi(s)
		if err != nil || z < 1 {
			return errors.New("count the blades, holes or teeth: a whole number from 1")
		}
		rotor.Pulses = z
		return nil
	})
	flags.Func("radius", "`distance` from the axis to the tip with its standard uncertainty, such as 6cm±0.5mm", func(s string) (err error) {
		rotor.Radius, err = parseRadius(s)
		return err
	})
	flags.Func("range", "`range` of pulse rates to look in, such as 20:6000Hz (default 20:6000Hz)", func(s string) (err error) {
		opt.Range, err = parseRange(s)
		return err
	})
	flags.Func("channel", "`channel` to listen to: auto (all, each by its evidence), its number from 1, or mix (default auto)", func(s string) (err error) {
		opt.Channel, err = parseChannel(s)
		return err
	})
	flags.Func("clock", fmt.Sprintf("standard uncertainty of the recorder's clock in `ppm`; 0 for a perfect one (default %g)", tacho.DefaultClockPPM), func(s string) (err error) {
		opt.ClockPPM, err = parseClock(s)
		return err
	})
}

func isPage(name string) bool {
	ext := strings.ToLower(filepath.Ext(name))
	return ext == ".html" || ext == ".htm"
}

func parseRadius(s string) (tacho.Value, error) {
	r, err := tacho.ParseValue(s)
	switch {
	case err != nil:
		return r, err
	case r.Unit != "m":
		return r, errors.New("give a length with its unit, such as 6cm±0.5mm")
	case !(r.X > 0):
		return r, errors.New("give a length of more than 0")
	}
	return r.Named("radius"), nil
}

// parseRange reads LO:HI, each with a unit of frequency or both with the one
// behind HI, which is hertz if there is none.
func parseRange(s string) (r tacho.Range, err error) {
	lo, hi, ok := strings.Cut(s, ":")
	if !ok {
		return r, errors.New("give two frequencies with a colon between, such as 20:6000Hz")
	}
	unit := strings.TrimSpace(strings.TrimLeft(strings.TrimSpace(hi), "0123456789.eE+-"))
	if unit == "" {
		unit = "Hz"
	}
	ends := [2]float64{}
	for i, text := range []string{lo, hi} {
		v, err := tacho.ParseValue(text)
		if err == nil && v.Unit == "" {
			v, err = tacho.ParseValue(strings.TrimSpace(text) + unit)
		}
		if err != nil {
			return r, err
		}
		if v.Unit != "Hz" {
			return r, fmt.Errorf("%q is not a frequency; write it like 20:6000Hz", text)
		}
		ends[i] = v.X
	}
	if !(ends[0] > 0 && ends[1] > ends[0]) {
		return r, errors.New("the second frequency must be higher than the first, and both more than 0")
	}
	return tacho.Range{Lo: tacho.Hertz(ends[0]), Hi: tacho.Hertz(ends[1])}, nil
}

func parseChannel(s string) (int, error) {
	switch s {
	case "auto":
		return 0, nil
	case "mix":
		return tacho.MixDown, nil
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < 1 {
		return 0, errors.New("it is auto, mix or a number from 1")
	}
	return n, nil
}

// parseClock returns the value of Options.ClockPPM, in which a perfect clock is
// a negative number.
func parseClock(s string) (float64, error) {
	ppm, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(s, "ppm")), 64)
	switch {
	case err != nil || !(ppm >= 0) || math.IsInf(ppm, 0):
		return 0, errors.New("give a number of parts per million, such as 5")
	case ppm == 0:
		return -1, nil
	}
	return ppm, nil
}
