package tacho

import (
	"fmt"
	"math"
)

// Rotor is what must be known of a spinning thing to turn its hum into a
// speed. The only road from a tone to a shaft speed passes through it.
type Rotor struct {
	// Name says in a word or two what spins; it may be empty.
	Name string
	// Pulses is z, the number of sound pulses in one revolution: blades,
	// holes, teeth or flaps. It is a count and exact; its risk is being wrong,
	// which no interval can show. See [Family] for the other readings of the
	// same sound.
	Pulses int
	// Radius is r, the distance from the axis to the tip, in metres. The zero
	// Value stands for a radius that is not known.
	Radius Value
}

// Speed returns the shaft speed in revolutions per second.
//
// If x is a tone in Hz, the pulse rate of the rotor, the speed is x divided by
// r.Pulses. If x already is a speed of the shaft, in rev/s, rpm or rad/s, it
// is converted. The relative uncertainty is that of x.
//
// Speed returns ErrPulses if x is a tone and r.Pulses is less than 1, ErrUnit
// if x is in any other unit, and ErrOption if x is negative, NaN or infinite.
// It cannot notice that the tone is really the second harmonic, or that the
// blades were counted wrongly.
func (r Rotor) Speed(x Value) (Value, error) {
	if !(x.X >= 0) || math.IsInf(x.X, 0) {
		return Value{}, optionError("a speed of %g %s: it must be finite and not negative", x.X, x.Unit)
	}
	if x.Unit != "Hz" {
		fr, err := x.To("rev/s")
		if err != nil {
			return Value{}, fmt.Errorf("%w: a tone in Hz or a speed in rev/s, rpm or rad/s is needed, not %q", ErrUnit, x.Unit)
		}
		return fr, nil
	}
	if err := r.checkPulses(); err != nil {
		return Value{}, err
	}
	return x.Scale(1/float64(r.Pulses), "rev/s"), nil
}

// RPM returns the shaft speed in revolutions per minute: 60 times [Rotor.Speed].
func (r Rotor) RPM(x Value) (Value, error) {
	fr, err := r.Speed(x)
	if err != nil {
		return Value{}, err
	}
	return fr.Scale(60, "rpm"), nil
}

// AngularSpeed returns the shaft speed in radians per second: 2π times
// [Rotor.Speed].
func (r Rotor) AngularSpeed(x Value) (Value, error) {
	fr, err := r.Speed(x)
	if err != nil {
		return Value{}, err
	}
	return fr.Scale(2*math.Pi, "rad/s"), nil
}

// Tone returns the pulse rate in Hz that the rotor makes at shaft speed x: z
// times [Rotor.Speed].
func (r Rotor) Tone(x Value) (Value, error) {
	fr, err := r.Speed(x)
	if err != nil {
		return Value{}, err
	}
	if err := r.checkPulses(); err != nil {
		return Value{}, err
	}
	return fr.Scale(float64(r.Pulses), "Hz"), nil
}

// TipSpeed returns the speed of the tip in metres per second,
//
//	v = 2π r fr
//
// x is a tone or a shaft speed as for [Rotor.Speed]. Value.To turns the result
// into km/h, mile/h, ft/s or knot. TipSpeed returns ErrRadius if r.Radius is
// not known, and the errors of Speed.
func (r Rotor) TipSpeed(x Value) (Value, error) {
	w, radius, err := r.angularAndRadius(x)
	if err != nil {
		return Value{}, err
	}
	return w.Mul(radius).As("m/s"), nil
}

// Acceleration returns the centripetal acceleration of the tip in m/s²,
//
//	a = (2π fr)² r
//
// x is a tone or a shaft speed as for [Rotor.Speed]. The errors are those of
// [Rotor.TipSpeed].
func (r Rotor) Acceleration(x Value) (Value, error) {
	w, radius, err := r.angularAndRadius(x)
	if err != nil {
		return Value{}, err
	}
	return w.Mul(w).Mul(radius).As("m/s²"), nil
}

// GLoad returns the acceleration of the tip in units of [StandardGravity]. The
// errors are those of [Rotor.TipSpeed].
func (r Rotor) GLoad(x Value) (Value, error) {
	a, err := r.Acceleration(x)
	if err != nil {
		return Value{}, err
	}
	return a.Scale(1/float64(StandardGravity), "g"), nil
}

// Order returns how often a line at the frequency f, in Hz, repeats in one
// revolution at x, a tone or a shaft speed as for [Rotor.Speed]. It has no
// unit. An error that f and x share, such as that of the clock, cancels.
func (r Rotor) Order(f, x Value) (Value, error) {
	fr, err := r.Speed(x)
	if err != nil {
		return Value{}, err
	}
	if f.Unit != "Hz" {
		return Value{}, fmt.Errorf("%w: a line has a frequency in Hz, not %q", ErrUnit, f.Unit)
	}
	if fr.X == 0 {
		return Value{}, optionError("orders of a rotor at rest: its speed must be more than 0")
	}
	return f.Div(fr).As(""), nil
}

// BladeLine reports whether a line at the frequency f belongs to the blades of
// the rotor at x, a tone or a shaft speed as for [Rotor.Speed], and if so which
// harmonic m of the pulse rate it is. It does if its order is within 0.1 of a
// whole number that is a multiple of r.Pulses.
func (r Rotor) BladeLine(f, x Value) (m int, ok bool, err error) {
	if err := r.checkPulses(); err != nil {
		return 0, false, err
	}
	order, err := r.Order(f, x)
	if err != nil {
		return 0, false, err
	}
	n := math.Round(order.X)
	if n < 1 || math.Abs(order.X-n) > 0.1 || int(n)%r.Pulses != 0 {
		return 0, false, nil
	}
	return int(n) / r.Pulses, true, nil
}

func (r Rotor) checkPulses() error {
	if r.Pulses < 1 {
		return fmt.Errorf("%w: it is %d; count the blades, holes or teeth", ErrPulses, r.Pulses)
	}
	return nil
}

// HasRadius reports whether the radius is known.
func (r Rotor) HasRadius() bool { return r.Radius.X != 0 || r.Radius.Unit != "" }

// String describes the rotor in one line.
func (r Rotor) String() string {
	name := r.Name
	if name == "" {
		name = "rotor"
	}
	s := fmt.Sprintf("%s, %s per revolution", name, counted(r.Pulses, "pulse"))
	if r.HasRadius() {
		s += ", tip radius " + r.Radius.String()
	}
	return s
}

// angularAndRadius returns the angular speed in rad/s and the radius in m.
func (r Rotor) angularAndRadius(x Value) (w, radius Value, err error) {
	if !r.HasRadius() {
		return w, radius, fmt.Errorf("%w: set Rotor.Radius, as in ParseValue(\"6cm±0.5mm\")", ErrRadius)
	}
	if radius, err = r.Radius.To("m"); err != nil {
		return w, radius, fmt.Errorf("%w: a radius is a length, not %q", ErrUnit, r.Radius.Unit)
	}
	if !(radius.X > 0) || math.IsInf(radius.X, 0) {
		return w, radius, fmt.Errorf("%w: it is %g m and must be more than 0", ErrRadius, radius.X)
	}
	w, err = r.AngularSpeed(x)
	return w, radius, err
}
