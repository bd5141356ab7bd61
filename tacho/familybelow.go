package tacho

import (
	"fmt"
	"math"

	"rotorhum/tacho/internal/comb"
)

// errBelowRange is what a search returns where what it finds in the range are lines
// of a rate that lies below it.
var errBelowRange = fmt.Errorf("%w: its pulse rate lies below the range", ErrNoReading)

// belowRangeReason words it.
func belowRangeReason(opt Options) string {
	return fmt.Sprintf("the pulse rate of what is heard lies below the range from %.4g Hz; lower the range to measure it", float64(opt.Range.Lo))
}

// belowParts is the largest number in the ratio, such as 2, 6 or 3/2, of a rate in the
// range to the one below it some of whose lines it has.
const belowParts = 6

// multipleOfSlower reports whether a rate that was found in the range, with so much
// evidence, is a multiple of one of the slower candidates, of which there is so much
// more that it is believed to lie below the range. What sounds there besides is no
// concern of the rotor's, and where the range was stated lines of its shaft are its own.
func multipleOfSlower(rate, nats float64, slower []comb.Candidate, opt Options) bool {
	for _, c := range slower {
		if shaft := c.Rate / rate * float64(opt.Pulses); opt.belowRange() == belowStated && math.Abs(shaft/math.Round(shaft)-1) < 0.003 {
			continue
		}
		more := c.Evidence - nats
		if more < opt.belowRange()+math.Max(1, 0.1*c.Evidence) {
			continue
		}
		for part := 1.0; part <= 2; part++ {
			k := rate / c.Rate * part
			if r := math.Round(k); r > part && r <= belowParts && math.Abs(k/r-1) < 0.003 {
				return true
			}
		}
	}
	return false
}
