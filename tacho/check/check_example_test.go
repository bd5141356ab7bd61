package check_test

import (
	"errors"
	"fmt"
	"math"

	"rotorhum/tacho"
	"rotorhum/tacho/check"
)

// A lesson's checks: a three-lobed rotor heard at 187.5 Hz.
func Example() {
	ledger := check.NewLedger("How fast is that")

	turns := 187.5 / 3
	ledger.Near("shaft speed", tacho.RevPerSec(turns), 62.5, 0.01, "common practice")
	ledger.Near("in rpm", tacho.RevPerSec(turns).RPM(), 3750, 1, "common practice")

	tip := tacho.MetrePerSec(2 * math.Pi * 0.04 * turns)
	ledger.Near("tip speed", tip, 15.7, 0.05, "common practice")
	ledger.Equal("3600 mile/h", tacho.MilePerHour(3600).MetrePerSec(), 1609.344, "NIST SP 811")

	fmt.Println(ledger.Close())
	// Output:
	// ok     shaft speed: got 62.500 rev/s, want 62.500 ± 0.010 rev/s (common practice)
	// ok     in rpm: got 3750.0 rpm, want 3750.0 ± 1.0 rpm (common practice)
	// ok     tip speed: got 15.708 m/s, want 15.700 ± 0.050 m/s (common practice)
	// ok     3600 mile/h: got 1609.344 m/s, want 1609.344 m/s (NIST SP 811)
	// How fast is that: all 4 checks hold
	//   ok      shaft speed  got 62.500 rev/s  want 62.500 ± 0.010 rev/s  common practice
	//   ok      in rpm       got 3750.0 rpm    want 3750.0 ± 1.0 rpm      common practice
	//   ok      tip speed    got 15.708 m/s    want 15.700 ± 0.050 m/s    common practice
	//   ok      3600 mile/h  got 1609.344 m/s  want 1609.344 m/s          NIST SP 811
	// Sources: common practice (3); NIST SP 811 (1)
}

// What a failing check says when its cell stops.
func ExampleFailure() {
	defer func() {
		var f *check.Failure
		if err, ok := recover().(error); ok && errors.As(err, &f) {
			fmt.Println(f)
		}
	}()
	check.Near("tip speed", tacho.MetrePerSec(31.4), 15.7, 0.05, "common practice")
	// Output:
	// FAILED tip speed: got 31.400 m/s, want 15.700 ± 0.050 m/s (common practice): they differ by 15.7 m/s, 314 times the tolerance
	// check failed: tip speed: got 31.400 m/s, want 15.700 ± 0.050 m/s (common practice): they differ by 15.7 m/s, 314 times the tolerance
}

func ExampleAnswer() {
	seal := "438b0e3a63" // made by check.Seal("exercise 1", 62.5, 0.1)
	fmt.Println(check.Answer("exercise 1", 0, 0.1, seal))
	fmt.Println(check.Answer("exercise 1", 3750, 0.1, seal))
	fmt.Println(check.Answer("exercise 1", 62.5, 0.1, seal))
	// Output:
	// exercise 1: no answer yet
	// exercise 1: not yet; it is 60 times too large: per minute or per second?
	// exercise 1: right
}

func ExampleSeal() {
	fmt.Println(check.Seal("exercise 1", 62.5, 0.1))
	// Output:
	// 438b0e3a63
}
