package tacho

import "math"

// The quantities of this package. Each is its own type, although several are
// "per second" to a checker of dimensions: a tone in hertz, a shaft speed in
// revolutions per second and an angular speed in radians per second are three
// different things, and only a [Rotor] leads from the first to the second.
//
// String prints every quantity with its unit to six significant digits.
type (
	// Hertz is a frequency in cycles per second: of a tone, or of samples.
	Hertz float64
	// RevPerSec is a shaft speed in revolutions per second.
	RevPerSec float64
	// RPM is a shaft speed in revolutions per minute.
	RPM float64
	// RadPerSec is an angular speed in radians per second.
	RadPerSec float64
	// Second is a time.
	Second float64
	// Metre is a length.
	Metre float64
	// MetrePerSec is a speed.
	MetrePerSec float64
	// KilometrePerHour is a speed.
	KilometrePerHour float64
	// MilePerHour is a speed; the mile is the international one of 1609.344 m.
	MilePerHour float64
	// FootPerSec is a speed; the foot is the international one of 0.3048 m.
	FootPerSec float64
	// Knot is a speed of one nautical mile of 1852 m per hour.
	Knot float64
	// MetrePerSec2 is an acceleration.
	MetrePerSec2 float64
	// GForce is an acceleration in multiples of standard gravity.
	GForce float64
	// Pascal is a pressure or mechanical stress.
	Pascal float64
	// Kilogram is a mass.
	Kilogram float64
	// KilogramPerMetre3 is a density.
	KilogramPerMetre3 float64
)

// StandardGravity is the conventional acceleration of free fall, exact by
// definition (3rd CGPM 1901; NIST SP 811, App. B.8).
const StandardGravity MetrePerSec2 = 9.80665

// The lengths behind the customary speeds, in metres, exact by definition
// (NIST SP 811, App. B.8).
const (
	footMetre         = 0.3048
	mileMetre         = 1609.344
	nauticalMileMetre = 1852
)

// Period returns the length of one cycle, 1/f; infinite at 0.
func (f Hertz) Period() Second { return Second(1 / float64(f)) }

// Cents returns the interval from ref up to f in cents, 1200 of which are an
// octave. It is NaN unless both are positive.
func (f Hertz) Cents(ref Hertz) float64 {
	if !(f > 0 && ref > 0) {
		return math.NaN()
	}
	return 1200 * math.Log2(float64(f/ref))
}

// Hertz returns the number of such times in a second, 1/t; infinite at 0.
func (t Second) Hertz() Hertz { return Hertz(1 / float64(t)) }

// RPM returns the shaft speed in revolutions per minute: exactly 60 times.
func (n RevPerSec) RPM() RPM { return RPM(n * 60) }

// RadPerSec returns the angular speed: 2π radians to the revolution.
func (n RevPerSec) RadPerSec() RadPerSec { return RadPerSec(n * 2 * math.Pi) }

// RevPerSec returns the shaft speed in revolutions per second: exactly 1/60.
func (n RPM) RevPerSec() RevPerSec { return RevPerSec(n / 60) }

// RadPerSec returns the angular speed: 2π/60 of the number.
func (n RPM) RadPerSec() RadPerSec { return n.RevPerSec().RadPerSec() }

// RevPerSec returns the shaft speed in revolutions per second.
func (w RadPerSec) RevPerSec() RevPerSec { return RevPerSec(w / (2 * math.Pi)) }

// RPM returns the shaft speed in revolutions per minute.
func (w RadPerSec) RPM() RPM { return w.RevPerSec().RPM() }

// KilometrePerHour returns the speed in kilometres per hour: exactly 3.6 times.
func (v MetrePerSec) KilometrePerHour() KilometrePerHour { return KilometrePerHour(v * 3.6) }

// MilePerHour returns the speed in miles per hour of exactly 0.44704 m/s each.
func (v MetrePerSec) MilePerHour() MilePerHour { return MilePerHour(v * 3600 / mileMetre) }

// FootPerSec returns the speed in feet per second of exactly 0.3048 m/s each.
func (v MetrePerSec) FootPerSec() FootPerSec { return FootPerSec(v / footMetre) }

// Knot returns the speed in knots of exactly 1852/3600 m/s each.
func (v MetrePerSec) Knot() Knot { return Knot(v * 3600 / nauticalMileMetre) }

// MetrePerSec returns the speed in metres per second.
func (v KilometrePerHour) MetrePerSec() MetrePerSec { return MetrePerSec(v / 3.6) }

// MetrePerSec returns the speed in metres per second.
func (v MilePerHour) MetrePerSec() MetrePerSec { return MetrePerSec(v * mileMetre / 3600) }

// MetrePerSec returns the speed in metres per second.
func (v FootPerSec) MetrePerSec() MetrePerSec { return MetrePerSec(v * footMetre) }

// MetrePerSec returns the speed in metres per second.
func (v Knot) MetrePerSec() MetrePerSec { return MetrePerSec(v * nauticalMileMetre / 3600) }

// GForce returns the acceleration in multiples of [StandardGravity].
func (a MetrePerSec2) GForce() GForce { return GForce(a / StandardGravity) }

// MetrePerSec2 returns the acceleration in metres per second squared.
func (g GForce) MetrePerSec2() MetrePerSec2 { return MetrePerSec2(g) * StandardGravity }

func (f Hertz) String() string             { return withUnit(float64(f), "Hz") }
func (n RevPerSec) String() string         { return withUnit(float64(n), "rev/s") }
func (n RPM) String() string               { return withUnit(float64(n), "rpm") }
func (w RadPerSec) String() string         { return withUnit(float64(w), "rad/s") }
func (t Second) String() string            { return withUnit(float64(t), "s") }
func (r Metre) String() string             { return withUnit(float64(r), "m") }
func (v MetrePerSec) String() string       { return withUnit(float64(v), "m/s") }
func (v KilometrePerHour) String() string  { return withUnit(float64(v), "km/h") }
func (v MilePerHour) String() string       { return withUnit(float64(v), "mile/h") }
func (v FootPerSec) String() string        { return withUnit(float64(v), "ft/s") }
func (v Knot) String() string              { return withUnit(float64(v), "kn") }
func (a MetrePerSec2) String() string      { return withUnit(float64(a), "m/s²") }
func (g GForce) String() string            { return withUnit(float64(g), "g") }
func (p Pascal) String() string            { return withUnit(float64(p), "Pa") }
func (m Kilogram) String() string          { return withUnit(float64(m), "kg") }
func (d KilogramPerMetre3) String() string { return withUnit(float64(d), "kg/m³") }
