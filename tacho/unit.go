package tacho

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"
)

// Conversion is one unit of the table of conversions.
type Conversion struct {
	// Symbol is how the unit is written here, Name what it is called.
	Symbol, Name string
	// Factor is how many times Base, a combination of SI units, it is.
	Factor float64
	Base   string
	// Exact reports that Factor is so by definition and not rounded, but for
	// the 53 bits it is held in.
	Exact bool
	// Source is where the factor is published.
	Source string
}

const (
	sp811 = "NIST SP 811 (2008), App. B.8"
	siDef = "SI Brochure, 9th edition"
)

// conversions is the table. A cycle of a tone and a revolution of a shaft are
// different things here: only a rotor leads from one to the other.
var conversions = []Conversion{
	{"m", "metre", 1, "m", true, siDef},
	{"km", "kilometre", 1e3, "m", true, siDef},
	{"cm", "centimetre", 1e-2, "m", true, siDef},
	{"mm", "millimetre", 1e-3, "m", true, siDef},
	{"µm", "micrometre", 1e-6, "m", true, siDef},
	{"nm", "nanometre", 1e-9, "m", true, siDef},
	{"in", "inch", 0.0254, "m", true, sp811},
	{"ft", "foot", footMetre, "m", true, sp811},
	{"mile", "mile, international", mileMetre, "m", true, sp811},
	{"nmi", "nautical mile", nauticalMileMetre, "m", true, sp811},

	{"s", "second", 1, "s", true, siDef},
	{"ms", "millisecond", 1e-3, "s", true, siDef},
	{"µs", "microsecond", 1e-6, "s", true, siDef},
	{"min", "minute", 60, "s", true, siDef},
	{"h", "hour", 3600, "s", true, siDef},

	{"Hz", "hertz", 1, "cycle/s", true, siDef},
	{"mHz", "millihertz", 1e-3, "cycle/s", true, siDef},
	{"kHz", "kilohertz", 1e3, "cycle/s", true, siDef},

	{"rad", "radian", 1, "rad", true, siDef},
	{"°", "degree of angle", math.Pi / 180, "rad", false, sp811},
	{"rev", "revolution", 2 * math.Pi, "rad", false, sp811},
	{"rpm", "revolution per minute", 2 * math.Pi / 60, "rad/s", false, sp811},

	{"km/h", "kilometre per hour", 1 / 3.6, "m/s", false, sp811},
	{"mile/h", "mile per hour", mileMetre / 3600, "m/s", true, sp811},
	{"ft/s", "foot per second", footMetre, "m/s", true, sp811},
	{"ft/min", "foot per minute", footMetre / 60, "m/s", true, sp811},
	{"kn", "knot", nauticalMileMetre / 3600.0, "m/s", false, sp811},
	{"gₙ", "standard gravity", float64(StandardGravity), "m/s²", true, sp811},

	{"kg", "kilogram", 1, "kg", true, siDef},
	{"g", "gram", 1e-3, "kg", true, siDef},
	{"mg", "milligram", 1e-6, "kg", true, siDef},

	{"N", "newton", 1, "kg·m/s²", true, siDef},
	{"J", "joule", 1, "kg·m²/s²", true, siDef},
	{"W", "watt", 1, "kg·m²/s³", true, siDef},
	{"Pa", "pascal", 1, "kg/(m·s²)", true, siDef},
	{"kPa", "kilopascal", 1e3, "kg/(m·s²)", true, siDef},
	{"MPa", "megapascal", 1e6, "kg/(m·s²)", true, siDef},
	{"GPa", "gigapascal", 1e9, "kg/(m·s²)", true, siDef},
	{"psi", "pound-force per square inch", 0.45359237 * 9.80665 / (0.0254 * 0.0254), "kg/(m·s²)", false, sp811},
	{"atm", "standard atmosphere", 101325, "kg/(m·s²)", true, sp811},

	{"%", "per cent", 1e-2, "", true, siDef},
	{"ppm", "part per million", 1e-6, "", true, "common practice"},
}

// spellings are other ways to write a unit.
var spellings = map[string]string{
	"um": "µm", "μm": "µm", "us": "µs", "μs": "µs",
	"mph": "mile/h", "mi": "mile", "mi/h": "mile/h", "kmh": "km/h", "kph": "km/h", "kt": "kn", "fps": "ft/s",
	"r": "rev", "turn": "rev", "deg": "°", "gn": "gₙ", "g_n": "gₙ", "metre": "m", "meter": "m", "inch": "in", "foot": "ft",
	"second": "s", "sec": "s", "hr": "h", "hertz": "Hz", "hz": "Hz", "khz": "kHz", "RPM": "rpm",
}

// Conversions returns the table by which [Value.To] converts: every unit that
// it knows, and combinations of them such as "kg·m²" or "rev/s".
func Conversions() []Conversion { return append([]Conversion(nil), conversions...) }

// To returns v converted to another unit of the same kind of quantity, with its
// uncertainty: Measured(1, 0, "rev/s", "").To("rpm") is 60 rpm.
//
// Units may be combined with "·" or "*" and "/", and raised to whole powers:
// "kg·m²", "m/s^2". Hertz and revolutions per second are not converted into
// each other: that takes a rotor. The symbol "g" stands for standard gravity
// where the other unit is an acceleration, else for the gram.
//
// It returns ErrUnit if a unit is unknown or the two are of different kinds.
func (v Value) To(unit string) (Value, error) {
	if unit == v.Unit {
		return v, nil
	}
	from, err := readUnit(v.Unit)
	if err != nil {
		return Value{}, err
	}
	to, err := readUnit(unit)
	if err != nil {
		return Value{}, err
	}
	for _, a := range from {
		for _, b := range to {
			if a.powers.equal(b.powers) {
				return v.Scale(a.factor/b.factor, unit), nil
			}
		}
	}
	advice := ""
	if mixesToneAndTurn(from[0].powers, to[0].powers) {
		advice = "; only a Rotor leads from a tone to a shaft speed"
	}
	return Value{}, fmt.Errorf("%w: cannot convert %q to %q%s", ErrUnit, v.Unit, unit, advice)
}

func mixesToneAndTurn(a, b unitPowers) bool {
	return a["cycle"] != b["cycle"] && a["rad"] != b["rad"]
}

// unitPowers is a combination of units: symbol to exponent.
type unitPowers map[string]int

func (u unitPowers) equal(w unitPowers) bool {
	if len(u) != len(w) {
		return false
	}
	for s, n := range u {
		if w[s] != n {
			return false
		}
	}
	return true
}

// times multiplies u by w to the power n.
func (u unitPowers) times(w unitPowers, n int) {
	for s, p := range w {
		u[s] += n * p
		if u[s] == 0 {
			delete(u, s)
		}
	}
}

// unitReading is a unit in terms of base units.
type unitReading struct {
	factor float64
	powers unitPowers
}

// readUnit returns what a unit can mean, the commonest meaning first.
func readUnit(unit string) ([]unitReading, error) {
	if whole, ok := inTable(strings.TrimSpace(unit)); ok {
		readings := []unitReading{whole}
		if unit == "g" {
			gravity, _ := inTable("gₙ")
			readings = append(readings, gravity)
		}
		return readings, nil
	}
	symbols, err := splitUnit(unit)
	if err != nil {
		return nil, err
	}
	out := unitReading{1, unitPowers{}}
	for _, s := range symbols {
		r, ok := inTable(s.symbol)
		if !ok {
			return nil, fmt.Errorf("%w: %q is not a unit that can be converted; it can be one of %s", ErrUnit, s.symbol, knownUnits())
		}
		out.factor *= math.Pow(r.factor, float64(s.power))
		out.powers.times(r.powers, s.power)
	}
	return []unitReading{out}, nil
}

// inTable looks a symbol up in the table of conversions.
func inTable(symbol string) (unitReading, bool) {
	if s, ok := spellings[symbol]; ok {
		symbol = s
	}
	for _, c := range conversions {
		if c.Symbol == symbol {
			base := unitPowers{}
			parts, err := splitUnit(c.Base)
			if err != nil {
				panic("tacho: the table of conversions: " + err.Error())
			}
			for _, p := range parts {
				base.times(unitPowers{p.symbol: p.power}, 1)
			}
			return unitReading{c.Factor, base}, true
		}
	}
	return unitReading{}, false
}

func knownUnits() string {
	var s []string
	for _, c := range conversions {
		s = append(s, c.Symbol)
	}
	return strings.Join(s, " ")
}

// unitPower is one symbol in a combination of units.
type unitPower struct {
	symbol string
	power  int
}

// splitUnit takes "kg·m²/(s·A)" apart. Every symbol after a slash divides.
func splitUnit(unit string) ([]unitPower, error) {
	var out []unitPower
	sign := 1
	inside := false // a parenthesis
	token := ""
	end := func() error {
		if token == "" {
			return nil
		}
		symbol, power, ok := splitPower(token)
		if !ok {
			return fmt.Errorf("%w: %q in %q is not a symbol with a whole power", ErrUnit, token, unit)
		}
		token = ""
		if symbol != "1" {
			out = append(out, unitPower{symbol, sign * power})
		}
		return nil
	}
	for _, c := range unit {
		var err error
		switch c {
		case '·', '*', '⋅', ' ':
			err = end()
			if !inside && c != ' ' {
				sign = 1
			}
		case '/':
			err = end()
			sign = -1
		case '(':
			err, inside = end(), true
		case ')':
			err, inside = end(), false
		default:
			token += string(c)
		}
		if err != nil {
			return nil, err
		}
	}
	return out, end()
}

var lowered = strings.NewReplacer("⁻", "-", "⁰", "0", "¹", "1", "²", "2", "³", "3", "⁴", "4",
	"⁵", "5", "⁶", "6", "⁷", "7", "⁸", "8", "⁹", "9", "^", "")

// splitPower takes "m²", "m^2" or "m2" apart.
func splitPower(token string) (symbol string, power int, ok bool) {
	plain := lowered.Replace(token)
	i := len(plain)
	for i > 0 && strings.ContainsRune("-0123456789", rune(plain[i-1])) {
		i--
	}
	if i == len(plain) {
		return plain, 1, true
	}
	if i == 0 {
		return plain, 1, plain == "1"
	}
	power, err := strconv.Atoi(plain[i:])
	return plain[:i], power, err == nil
}

// composeUnits returns a·b for sign 1 and a/b for -1. What cannot be taken
// apart is put side by side as it is.
func composeUnits(a, b string, sign int) string {
	as, errA := splitUnit(a)
	bs, errB := splitUnit(b)
	if errA != nil || errB != nil {
		if sign < 0 {
			return a + "/(" + b + ")"
		}
		return a + "·" + b
	}
	powers := unitPowers{}
	order := map[string]int{}
	add := func(u unitPower, sign int) {
		if _, seen := order[u.symbol]; !seen {
			order[u.symbol] = len(order)
		}
		powers.times(unitPowers{u.symbol: u.power}, sign)
	}
	for _, u := range as {
		add(u, 1)
	}
	for _, u := range bs {
		add(u, sign)
	}
	symbols := make([]string, 0, len(powers))
	for s := range powers {
		symbols = append(symbols, s)
	}
	sort.Slice(symbols, func(i, j int) bool { return order[symbols[i]] < order[symbols[j]] })
	return writeUnit(symbols, powers)
}

// writeUnit writes a combination of units, what divides behind one slash.
func writeUnit(symbols []string, powers unitPowers) string {
	var above, below []string
	for _, s := range symbols {
		switch n := powers[s]; {
		case n > 0:
			above = append(above, s+raisedPower(n))
		case n < 0:
			below = append(below, s+raisedPower(-n))
		}
	}
	top := strings.Join(above, "·")
	if len(below) == 0 {
		return top
	}
	if top == "" {
		top = "1"
	}
	if len(below) > 1 {
		return top + "/(" + strings.Join(below, "·") + ")"
	}
	return top + "/" + below[0]
}

func raisedPower(n int) string {
	if n == 1 {
		return ""
	}
	return raised.Replace(strconv.Itoa(n))
}
