package tacho

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
)

// partGiven is the name under which ParseValue files an uncertainty.
const partGiven = "given"

// ParseValue reads a value with its unit and, behind "±", "+-" or "+/-", its
// standard uncertainty, and converts both to SI base units: "6cm±0.5mm" is
// 0.06 m with a standard uncertainty of 0.0005 m.
//
// The uncertainty may have its own unit or be per cent of the value, and a
// value without a unit takes that of the uncertainty: "60mm±1%", "6 ± 0.05 cm",
// "(6 ± 0.05) cm", and "6.00(5) cm", whose bracket counts in the last digit.
// Without it the value is exact. A value may have no unit at all.
//
// The number behind ± is one standard uncertainty. Where it is a limit that the
// error never exceeds, divide it by √3 first, or use [Within].
//
// Its contribution is called "given"; give it its proper name with Named.
// ParseValue returns ErrSyntax for what it cannot read and ErrUnit for a unit
// it does not know. Angles come out in radians, and shaft speeds in rad/s; a
// frequency stays in hertz.
func ParseValue(text string) (Value, error) {
	fail := func(why string) (Value, error) {
		return Value{}, fmt.Errorf("%w: %q: %s; write it like 6cm±0.5mm", ErrSyntax, text, why)
	}
	s := strings.TrimSpace(text)
	s = strings.NewReplacer("+/-", "±", "+-", "±").Replace(s)
	common := ""
	if strings.HasPrefix(s, "(") {
		inner, unit, closed := strings.Cut(s[1:], ")")
		if !closed {
			return fail("the bracket is not closed")
		}
		s, common = inner, strings.TrimSpace(unit)
	}
	main, spread, hasSpread := strings.Cut(s, "±")
	if strings.Contains(spread, "±") {
		return fail("there are two uncertainties")
	}
	x, u, unit, why := readNumber(main)
	if why != "" {
		return fail(why)
	}
	var uUnit string
	if hasSpread {
		if u != 0 {
			return fail("there are two uncertainties")
		}
		var inBracket float64
		u, inBracket, uUnit, why = readNumber(spread)
		switch {
		case why != "":
			return fail("behind ±, " + why)
		case inBracket != 0:
			return fail("an uncertainty has no uncertainty")
		case u < 0:
			return fail("an uncertainty cannot be negative")
		case uUnit == "%":
			u, uUnit = math.Abs(x)*u/100, unit
		}
	}
	if common != "" {
		if unit != "" || uUnit != "" {
			return fail("there is one unit inside the brackets and one behind")
		}
		unit = common
	}
	if unit == "" {
		unit = uUnit
	}
	if uUnit == "" {
		uUnit = unit
	}
	return inBaseUnits(x, u, unit, uUnit)
}

// inBaseUnits converts a number and its uncertainty, each in its own unit.
func inBaseUnits(x, u float64, unit, uUnit string) (Value, error) {
	spread, err := Exact(u, uUnit).To(unit)
	if err != nil {
		return Value{}, err
	}
	readings, err := readUnit(unit)
	if err != nil {
		return Value{}, err
	}
	base := baseUnit(readings[0].powers)
	v := Exact(x, unit).Scale(readings[0].factor, base)
	if spread.X != 0 {
		v.Parts = []Part{{Name: partGiven, U: spread.X * readings[0].factor}}
	}
	if math.IsInf(v.X, 0) {
		return Value{}, fmt.Errorf("%w: %g %s is too large a number", ErrSyntax, x, unit)
	}
	return v, nil
}

// baseUnit writes a combination of base units in a fixed order.
func baseUnit(powers unitPowers) string {
	if powers.equal(unitPowers{"cycle": 1, "s": -1}) {
		return "Hz"
	}
	return writeUnit([]string{"cycle", "kg", "rad", "m", "s"}, powers)
}

// readNumber splits "6.00(5) cm" into the number, the uncertainty in the
// bracket and the unit; why says what is wrong, if anything.
func readNumber(s string) (x, u float64, unit, why string) {
	s = strings.TrimSpace(s)
	s = strings.Replace(s, "−", "-", 1) // the minus sign of typesetters
	end := numberLen(s)
	digits := s[:end]
	if digits == "" {
		return 0, 0, "", "there is no number at the start"
	}
	x, err := strconv.ParseFloat(digits, 64)
	if err != nil {
		return 0, 0, "", fmt.Sprintf("%q is not a number in range", digits)
	}
	rest := s[end:]
	if strings.HasPrefix(rest, ",") {
		return 0, 0, "", "use a point for decimals, not a comma"
	}
	if strings.HasPrefix(rest, "(") {
		inner, tail, closed := strings.Cut(rest[1:], ")")
		n, err := strconv.ParseUint(inner, 10, 32)
		if !closed || err != nil {
			return 0, 0, "", "the bracket behind the number must hold digits, the uncertainty of its last places"
		}
		rest = tail
		u = float64(n) * lastPlace(digits)
	}
	unit = strings.TrimSpace(rest)
	if unit != "" && (unicode.IsDigit(rune(unit[0])) || unit[0] == '.' || unit[0] == '-' || unit[0] == '+') {
		return 0, 0, "", fmt.Sprintf("%q behind the number is not a unit", unit)
	}
	return x, u, unit, ""
}

// numberLen returns the length of the decimal number at the start of s.
func numberLen(s string) int {
	i, digits := 0, 0
	if i < len(s) && (s[i] == '-' || s[i] == '+') {
		i++
	}
	for point := false; i < len(s); i++ {
		if s[i] == '.' && !point {
			point = true
			continue
		}
		if s[i] < '0' || s[i] > '9' {
			break
		}
		digits++
	}
	if digits == 0 {
		return 0
	}
	if i < len(s) && (s[i] == 'e' || s[i] == 'E') {
		j := i + 1
		if j < len(s) && (s[j] == '-' || s[j] == '+') {
			j++
		}
		from := j
		for j < len(s) && s[j] >= '0' && s[j] <= '9' {
			j++
		}
		if j > from {
			return j
		}
	}
	return i
}

// lastPlace returns the worth of the last digit of a decimal number.
func lastPlace(digits string) float64 {
	mantissa, exp, _ := strings.Cut(strings.ToLower(digits), "e")
	e, _ := strconv.Atoi(exp)
	if _, behind, ok := strings.Cut(mantissa, "."); ok {
		e -= len(behind)
	}
	return math.Pow10(e)
}
