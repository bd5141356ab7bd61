package tacho

import (
	"math"
	"strconv"
	"strings"
)

// This file is the only place in which numbers are rounded and printed.
//
// The rule: an uncertainty is printed with two significant digits, and the
// value to the same decimal place. GUM (JCGM 100:2008) 7.2.6 holds that at most
// two digits are useful; a single digit would round some uncertainties by a
// third. Rounding is to the nearest, from the exact binary value.

// uncertaintyDigits is how many significant digits of an uncertainty are kept.
const uncertaintyDigits = 2

// exactDigits is how many significant digits of an exact number are printed.
const exactDigits = 12

// quantityDigits is how many significant digits of a bare quantity are printed.
const quantityDigits = 6

// vanishing is how small an uncertainty is, relative to the number, when the
// number itself is not held any better.
const vanishing = 1e-15

// Numbers from 10^plainFrom to below 10^plainTo are printed without a power of
// ten.
const (
	plainFrom = -4
	plainTo   = 7
)

// withUnit prints x and its unit.
func withUnit(x float64, unit string) string {
	return join(formatSig(x, quantityDigits), unit)
}

func join(number, unit string) string {
	switch unit {
	case "", "1":
		return number
	case "°":
		return number + unit
	}
	return number + " " + unit
}

// formatSig prints x to the given number of significant digits, without
// trailing zeros behind the decimal point.
func formatSig(x float64, digits int) string {
	if text, special := notFinite(x); special {
		return text
	}
	if x == 0 {
		return "0"
	}
	mantissa, exp := decimal(x, digits)
	if outside(exp) {
		return trimZeros(mantissa) + timesTen(exp)
	}
	return trimZeros(fixed(x, digits-1-exp))
}

// outside reports whether a number of this decimal exponent is printed with a
// power of ten.
func outside(exp int) bool { return exp < plainFrom || exp >= plainTo }

func notFinite(x float64) (string, bool) {
	switch {
	case math.IsNaN(x):
		return "not a number", true
	case math.IsInf(x, 1):
		return "infinite", true
	case math.IsInf(x, -1):
		return "minus infinite", true
	}
	return "", false
}

// decimal splits x into a mantissa of the given number of digits, rounded, and
// the power of ten it belongs to. The carry of 9.96 to 10 is in both.
func decimal(x float64, digits int) (mantissa string, exp int) {
	m, e, _ := strings.Cut(strconv.FormatFloat(x, 'e', digits-1, 64), "e")
	exp, _ = strconv.Atoi(e)
	return m, exp
}

// fixed prints x rounded to the given decimal place; a negative place rounds
// before the decimal point, and zeros fill up.
func fixed(x float64, place int) string {
	if place >= 0 {
		return unsignedZero(strconv.FormatFloat(x, 'f', place, 64))
	}
	if x == 0 {
		return "0"
	}
	_, exp := decimal(x, 1)
	digits := exp + 1 + place
	if digits < 1 {
		// At most the first digit is at stake: is it rounded up or away?
		unit := math.Pow10(-place)
		if math.Abs(x) < unit/2 {
			return "0"
		}
		return unsignedZero(strconv.FormatFloat(math.Copysign(unit, x), 'f', 0, 64))
	}
	m, e := decimal(x, digits)
	m = strings.Replace(m, ".", "", 1)
	n := len(strings.TrimPrefix(m, "-"))
	return m + strings.Repeat("0", e+1-n)
}

// unsignedZero turns "-0.00" into "0.00".
func unsignedZero(s string) string {
	if strings.HasPrefix(s, "-") && strings.Trim(s, "-0.") == "" {
		return s[1:]
	}
	return s
}

func trimZeros(s string) string {
	if !strings.Contains(s, ".") {
		return s
	}
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}

// raised turns digits into raised digits.
var raised = strings.NewReplacer("-", "⁻", "0", "⁰", "1", "¹", "2", "²", "3", "³", "4", "⁴",
	"5", "⁵", "6", "⁶", "7", "⁷", "8", "⁸", "9", "⁹")

// timesTen prints a power of ten with raised digits.
func timesTen(exp int) string {
	return "×10" + raised.Replace(strconv.Itoa(exp))
}

// rounded prints x and u, u to two significant digits and x to the same place,
// in both of which the factor 10^exp is left out when power is true.
func rounded(x, u float64) (xText, uText string, exp int, power bool) {
	_, uExp := decimal(u, uncertaintyDigits)
	place := uncertaintyDigits - 1 - uExp
	lead := uExp
	if x != 0 {
		if _, xExp := decimal(x, 1); xExp > lead {
			lead = xExp
		}
	}
	if !outside(lead) {
		return fixed(x, place), fixed(u, place), 0, false
	}
	return scaled(x, lead, place), scaled(u, lead, place), lead, true
}

// scaled prints x·10^-exp rounded at the given decimal place of x itself.
func scaled(x float64, exp, place int) string {
	places := place + exp // behind the point of the scaled number
	_, xExp := decimal(x, 1)
	digits := xExp + place + 1
	if x == 0 || digits < 1 {
		return strconv.FormatFloat(0, 'f', max(places, 0), 64)
	}
	m, e := decimal(x, digits)
	f, _ := strconv.ParseFloat(m+"e"+strconv.Itoa(e-exp), 64)
	return strconv.FormatFloat(f, 'f', max(places, 0), 64)
}

// formatMeasured prints a value with its standard uncertainty.
func formatMeasured(x, u float64, unit string) string {
	if text, special := notFinite(x); special {
		return join(text, unit)
	}
	if u == 0 || u > 0 && u < math.Abs(x)*vanishing {
		return join(formatSig(x, exactDigits), unit)
	}
	if !(u > 0) || math.IsInf(u, 1) {
		return join(formatSig(x, quantityDigits), unit) + " with unknown uncertainty"
	}
	xText, uText, exp, power := rounded(x, u)
	if !power {
		return join(xText+" ± "+uText, unit)
	}
	return join("("+xText+" ± "+uText+")"+timesTen(exp), unit)
}

// formatInterval prints an interval, rounded as its width deserves.
func formatInterval(lo, hi float64, unit string) string {
	if !(lo < hi) || math.IsInf(lo, 0) || math.IsInf(hi, 0) {
		return join(formatSig(lo, quantityDigits)+" to "+formatSig(hi, quantityDigits), unit)
	}
	// A 95 % interval is about four standard uncertainties wide.
	u := (hi - lo) / 4
	loText, _, exp, power := rounded(lo, u)
	hiText, _, hiExp, hiPower := rounded(hi, u)
	if power || hiPower {
		_, uExp := decimal(u, uncertaintyDigits)
		place := uncertaintyDigits - 1 - uExp
		exp = max(exp, hiExp)
		return join("("+scaled(lo, exp, place)+" to "+scaled(hi, exp, place)+")"+timesTen(exp), unit)
	}
	return join(loText+" to "+hiText, unit)
}

// formatDB prints decibels to a tenth, without the unit.
func formatDB(x float64) string {
	if text, special := notFinite(x); special {
		return text
	}
	return fixed(x, 1)
}
