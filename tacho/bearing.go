package tacho

import (
	"fmt"
	"math"
)

// Bearing is a rolling bearing whose outer ring stands still and whose inner
// ring turns with the shaft.
type Bearing struct {
	// Balls is the number of balls or rollers.
	Balls int
	// Ball and Pitch are the diameter of a ball and of the circle on which the
	// centres of the balls run, in the same unit.
	Ball, Pitch float64
	// Contact is the contact angle in degrees; 0 for a deep-groove bearing.
	Contact float64
}

// BearingOrders are the tones of a damaged bearing as multiples of the shaft
// speed. They are seldom whole numbers, which tells them from blades and teeth.
type BearingOrders struct {
	Inner float64 // a fault of the inner ring, touched by every ball
	Outer float64 // a fault of the outer ring
	Cage  float64 // one turn of the cage
	Ball  float64 // a fault of a ball, which touches both rings once in a turn of its own
}

// Orders returns the orders for rolling without slip; real bearings slip by a per
// cent or two (common practice). It returns ErrOption for a bearing that cannot
// be.
func (b Bearing) Orders() (BearingOrders, error) {
	ratio := b.Ball / b.Pitch * math.Cos(b.Contact*math.Pi/180)
	// Between the balls there is room: Balls · Ball < π · Pitch.
	if b.Balls < 1 || !(b.Ball > 0) || !(b.Pitch > b.Ball) || math.IsInf(b.Pitch, 1) || !(math.Abs(b.Contact) < 90) || float64(b.Balls)*b.Ball >= math.Pi*b.Pitch {
		return BearingOrders{}, optionError("a bearing of %d balls of %g on a circle of %g at %g°: give what fits into one another", b.Balls, b.Ball, b.Pitch, b.Contact)
	}
	z := float64(b.Balls)
	return BearingOrders{
		Inner: z / 2 * (1 + ratio),
		Outer: z / 2 * (1 - ratio),
		Cage:  (1 - ratio) / 2,
		Ball:  b.Pitch / b.Ball * (1 - ratio*ratio),
	}, nil
}

// String lists the orders.
func (o BearingOrders) String() string {
	return fmt.Sprintf("inner ring %s, outer ring %s, ball %s, cage %s times the shaft speed",
		formatSig(o.Inner, 5), formatSig(o.Outer, 5), formatSig(o.Ball, 5), formatSig(o.Cage, 5))
}
