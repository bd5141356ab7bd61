package tacho

import (
	"fmt"
	"math"
)

// NoiseLimit is a rule for how long a noise may be borne: Hours at Level, and half
// as long for every Exchange decibels more.
//
// Levels are A-weighted, read from a sound level meter: a recording does not tell
// them, unless it was calibrated. The rules are published ones; which of them
// holds where you are, local codes and licensed practice say.
type NoiseLimit struct {
	// Name says whose rule it is.
	Name string
	// Level is the level, in dBA, that may be borne for Hours in a day, and
	// Exchange the decibels that halve the time.
	Level, Hours, Exchange float64
}

// The two rules of United States agencies.
var (
	// NIOSHLimit is what the National Institute for Occupational Safety and Health
	// recommends: 85 dBA for 8 hours, and half the time for 3 dB more (criteria
	// document 98-126, 1998).
	NIOSHLimit = NoiseLimit{"NIOSH recommended exposure limit", 85, 8, 3}
	// OSHALimit is what the Occupational Safety and Health Administration permits
	// at work: 90 dBA for 8 hours, and half the time for 5 dB more (29 CFR
	// 1910.95).
	OSHALimit = NoiseLimit{"OSHA permissible exposure limit", 90, 8, 5}
)

// Exposure is a noise of one level for some time.
type Exposure struct {
	Level float64 // dBA
	Time  Second
}

// Time returns how long a level, in dBA, may be borne in a day:
//
//	Hours / 2^((level - Level)/Exchange)
func (l NoiseLimit) Time(level float64) Second {
	return Second(3600 * l.Hours * math.Exp2((l.Level-level)/l.Exchange))
}

// Dose returns the share of a day's limit, in per cent, that exposures one after
// another take: the sum of their times, each over the time that its level may be
// borne. Above 100 the limit is exceeded. It returns ErrOption for a level that is
// not finite or a time that is negative.
func (l NoiseLimit) Dose(exposures ...Exposure) (percent float64, err error) {
	for _, e := range exposures {
		if math.IsNaN(e.Level) || math.IsInf(e.Level, 0) || !(e.Time >= 0) || math.IsInf(float64(e.Time), 1) {
			return 0, optionError("an exposure to %g dBA for %v: give a finite level and a time that is not negative", e.Level, e.Time)
		}
		percent += 100 * float64(e.Time/l.Time(e.Level))
	}
	return percent, nil
}

// DailyLevel returns the level, in dBA, that would have given a dose, in per cent,
// if it had lasted for Hours: the time-weighted average.
//
//	Level + Exchange · log2(dose/100)
func (l NoiseLimit) DailyLevel(percent float64) float64 {
	return l.Level + l.Exchange*math.Log2(percent/100)
}

// String says the rule in words.
func (l NoiseLimit) String() string {
	return fmt.Sprintf("%s: %g dBA for %g h, half the time for every %g dB more", l.Name, l.Level, l.Hours, l.Exchange)
}

// PressureLevel returns the level of a sound pressure (root mean square) in
// decibels above 20 µPa, about the faintest that is heard. It is minus infinity at
// 0 and NaN below.
//
// Source: IEC 61672-1 for the reference.
func PressureLevel(rms Pascal) float64 { return 20 * math.Log10(float64(rms)/20e-6) }
