package interp

import (
	"fmt"
	"go/types"
	"regexp"
	"strings"

	"rotorhum/kernel/pattern"
)

// rule gives advice on one kind of message. Advice is one sentence that says
// what to do; it may use what the message says.
type rule struct {
	message *pattern.Pattern
	advice  func(c *clue, m []string) string
}

// clue is what advice may look at besides the message.
type clue struct {
	in       *Interp
	at       place
	declared []string // names that the cell itself declares
	autopsy  *autopsy // nil for compile errors, and where nothing is certain
}

// adviseOn returns advice on a message, or "".
func adviseOn(rules []rule, c *clue, msg string) string {
	for _, r := range rules {
		if m := r.message.Regexp().FindStringSubmatch(msg); m != nil {
			if a := r.advice(c, m); a != "" {
				return a
			}
		}
	}
	return ""
}

func say(text string) func(*clue, []string) string {
	return func(*clue, []string) string { return text }
}

func on(message string, advice func(*clue, []string) string) rule {
	return rule{pattern.New(message), advice}
}

// syntaxRules are for the parser's messages, and our own about brackets.
var syntaxRules = []rule{
	on(`this (.) is never closed`, func(_ *clue, m []string) string {
		return "Add the missing " + closing(m[1]) + "."
	}),
	on(`this (.) closes nothing`, func(_ *clue, m []string) string {
		return "Remove this " + m[1] + ", or add the bracket that it should close."
	}),
	on(`this (.) does not fit the (.) of line`, func(_ *clue, m []string) string {
		return "Close that " + m[2] + " with a " + closing(m[2]) + " first."
	}),
	on(`^expected|^found|^unexpected|found newline|found ':'|illegal label`, func(c *clue, _ []string) string { return habitOf(c.at.src.line(c.at.line)) }),
	on(`unexpected comma; expecting \]`, say("A list begins with its type: []float64{1, 2, 3}.")),
	on(`curly quotation mark|illegal character U\+(201C|201D|2018|2019)`, say(`Replace the curly quotation marks by straight ones: "text".`)),
	on(`illegal character U\+(2212|2013|2014)`, say("Replace the dash by a minus sign: -.")),
	on(`illegal character U\+00D7`, say("Write * to multiply.")),
	on(`illegal character U\+00B2`, say("Write x*x for a square.")),
	on(`illegal character U\+0023`, say("Begin a comment with //.")),
	on(`(?:expected .*, )?found '(%|!)'`, func(c *clue, m []string) string {
		if strings.HasPrefix(strings.TrimSpace(c.at.src.line(c.at.line)), m[1]) {
			return "Cells hold Go only; commands that begin with " + m[1] + " belong to other kernels."
		}
		return ""
	}),
	on(`illegal character`, say("Remove the character, or put it into a string.")),
	on(`string literal not terminated`, say(`End the string with " on the same line.`)),
	on(`rune literal|more than one character in rune`, say(`Put text into "double" quotation marks; single ones are for one character.`)),
	on(`missing ',' (before newline )?in (composite literal|argument list|parameter list)`, say("Separate the items by commas, and end a line that continues with a comma too.")),
	on(`found '\+\+'|found '--'`, say("Write i++ or i-- as a statement of its own; it has no value.")),
	on(`cannot use assignment|cannot use .* as value|found assignment`, say("Write == to compare; = assigns.")),
	on(`expected '?\{'?`, say("Put the opening { at the end of the line of if, for or func.")),
	on(`unexpected newline|found newline`, say("The line ends too early; go on in it, or end it with an operator or a comma.")),
	on(`else`, say("Write } else { on one line.")),
	on(`expected ';', found '?(\w+)'?|expected ';', found`, say("Put each statement on a line of its own, and check the line for a missing operator, comma or bracket.")),
	on(`expected operand, found 'EOF'|expected operand, found '\}'`, say("Something is missing after the last operator.")),
	on(`expected operand`, say("A value is missing here, or there is an operator too many.")),
	on(`expected declaration|non-declaration statement`, say("Check that the brackets before this line are closed.")),
	on(`imports must appear before`, say("Put the import first.")),
	on(`.`, say("Compare the line with a working one, letter by letter, from the caret leftwards.")),
}

func closing(open string) string {
	return map[string]string{"(": ")", "[": "]", "{": "}"}[open]
}

// compileRules are for the messages of go/types.
var compileRules = []rule{
	on(`^undefined: (\w+)\.(\w+) \(but have (\w+)\)$`, func(_ *clue, m []string) string {
		return fmt.Sprintf("Did you mean %s.%s? What a package offers begins with a capital letter.", m[1], m[3])
	}),
	on(`^undefined: (\w+)\.(\w+)$`, adviseMember),
	on(`^undefined: ([\pL_][\pL\d_]*)$`, adviseUndefined),
	on(`^package "([^"]*)" is not part of this kernel`, adviseImport),
	on(`undefined \(type (.*) has no field or method ([\pL\d_]+)(?:, but does have (?:field|method) ([\pL\d_]+))?`, adviseSelector),
	on(`^invalid operation: (.+) \(mismatched types (.+) and (.+)\)`, adviseMismatch),
	on(`^cannot use (.+) \((?:.*) of (?:\w+ )?type ([^()]+)\) as (.+?) value in (.+)`, adviseUse),
	on(`^cannot use (.+) \(.*untyped (\w+) constant.*\) as (.+?) value in`, adviseConstant),
	on(`^missing return`, say("Every way through the function has to end in a return with its results.")),
	on(`^(?:assignment mismatch: (\d+) variables? but (.+?) returns? (\d+) values?)`, func(_ *clue, m []string) string {
		if m[1] == "1" && m[3] == "2" {
			return "Take both results, v, err := " + m[2] + "(…), or let must(" + m[2] + "(…)) deal with the error."
		}
		return "Write as many names on the left as there are results: " + m[3] + "."
	}),
	on(`^multiple-value (.+) \(value of type \((.*)\)\) in single-value context`, func(_ *clue, m []string) string {
		if strings.HasSuffix(m[2], "error") {
			return "Take both results first, v, err := …, or write must(" + m[1] + ")."
		}
		return "Take the results into variables first."
	}),
	on(`^assignment mismatch`, say("Write as many names on the left as there are values on the right.")),
	on(`^no new variables on left side of :=`, say("Write = to give a variable that exists a new value.")),
	on(`^(not enough|too many) arguments in call to (.+)\n\thave (.*)\n\twant (.*)`, func(_ *clue, m []string) string {
		if m[1] == "too many" && strings.HasSuffix(m[3], ", error)") {
			return "The call inside gives an error too: put must(…) around it, or take both results first, v, err := …"
		}
		return fmt.Sprintf("Give %s the arguments %s.", m[2], m[4])
	}),
	on(`^(not enough|too many) return values\n\thave (.*)\n\twant (.*)`, func(_ *clue, m []string) string {
		return "Return what the function's head promises: " + m[3] + "."
	}),
	on(`\(no value\) used as value`, say("This call gives no value; use it as a statement of its own.")),
	on(`is not used$`, say("Do something with the value: assign it, print it, or remove the line.")),
	on(`non-boolean condition`, say("Write a comparison, such as x > 0 or x != nil.")),
	on(`^invalid operation: operator (\S+) not defined on (.+) \((?:.*) of type (float\d\d)`, func(_ *clue, m []string) string {
		if m[1] == "%" {
			return "Use math.Mod for the remainder of " + m[3] + " values."
		}
		return "The operator " + m[1] + " needs whole numbers: convert with int(…)."
	}),
	on(`^invalid operation: operator (\S+) not defined on (.+) \(`, func(_ *clue, m []string) string {
		return "The operator " + m[1] + " does not work on values of this kind."
	}),
	on(`invalid operation: (.+) == (.+) \((?:slice|map|func) can only be compared to nil\)|can only be compared to nil`, say("Compare the elements in a loop.")),
	on(`division by zero`, say("The divisor is the constant 0; use the one you meant.")),
	on(`index (\S+) \(constant.*\) (?:out of bounds|must not be negative)|invalid argument: index (.+) out of bounds \[0:(\d+)\]`, func(_ *clue, m []string) string {
		if m[3] != "" {
			return "Elements are numbered from 0: the last one here is the length " + m[3] + " minus 1."
		}
		return "Elements are numbered from 0 to the length minus 1."
	}),
	on(`^index \d+ is out of bounds`, say("There are more elements than the type has room for; [...]T{…} counts them itself.")),
	on(`^invalid argument: (.+) for built-in (?:len|cap)`, say("Only a slice, array, map, string or channel has a length.")),
	on(`^cannot assign to ([^ ]+)`, adviseAssign),
	on(`^cannot assign to struct field (.+) in map`, say("Take the struct out of the map, change it, and put it back.")),
	on(`^cannot assign to`, say("Only a variable, a field or an element can stand left of =.")),
	on(`^cannot range over (.+) \(.*float`, say("Loop over a whole number: convert with int(…).")),
	on(`^cannot range over`, say("Loop over a whole number, a slice, a map, a string or a channel.")),
	on(`range over .* permits`, say("Drop the second variable of the loop.")),
	on(`does not implement (.+) \(missing method (\w+)\)`, func(_ *clue, m []string) string {
		return "Give the type a method " + m[2] + ", as " + m[1] + " demands."
	}),
	on(`method (\w+) has pointer receiver`, say("Pass the address: put & before the value.")),
	on(`does not implement`, say("Compare the methods of the type with those that the interface demands.")),
	on(`^cannot convert (.+) \(.*string.* to type (?:int|float)`, say("Turn text into a number with strconv.Atoi or strconv.ParseFloat.")),
	on(`^cannot convert`, say("There is no conversion between these types; compute the value instead.")),
	on(`(\w+) redeclared in this block`, say("Give one of the two another name.")),
	on(`generic (function|type)`, say("Write it for the type you need, such as float64.")),
	on(`cannot infer (\w+)`, say("Generic functions do not run in cells; use one that is made for your type.")),
	on(`a map whose keys are of an interface`, say("Write map[any]… instead.")),
	on(`range over a function`, say("Collect the values in a slice and loop over that.")),
	on(`return outside a function`, say("Cells have nothing to return to: put the value on the last line.")),
	on(`truncated to int64`, func(c *clue, _ []string) string {
		if strings.Contains(c.at.src.line(c.at.line), "time.") {
			return "A length of time is a whole number: write 1500 * time.Millisecond for one and a half seconds."
		}
		return ""
	}),
	on(`truncated|cannot use .* \(untyped float constant\) as int`, say("Write a whole number, or convert the other side to float64.")),
	on(`overflows|cannot represent`, say("The number is too large for its type; use float64 or int64.")),
	on(`is not a type`, say("A type is wanted here, such as float64 or []float64.")),
	on(`is not an expression|\(type\)`, say("A value is wanted here, not a type: make one with T{…} or T(x).")),
	on(`use of package (\w+) not in selector|use of package (\w+) without selector`, say("Write the name of something in the package after a dot.")),
	on(`unknown field (\w+) in struct literal of type (\S+)`, func(c *clue, m []string) string {
		if n := nearest(m[1], c.in.membersOfTypeText(m[2])); n != "" {
			return fmt.Sprintf("Did you mean %s?", n)
		}
		return ""
	}),
	on(`unknown field (\w+) in struct literal`, say("Compare the field names with those of the type: press Shift-Tab on it.")),
	on(`too (few|many) values in struct literal`, say("Give all fields in order, or name those you give: T{Name: value}.")),
	on(`mixture of field:value and value`, say("Name all fields or none.")),
	on(`first argument to append must be a slice`, say("Make a slice first: var s []float64.")),
	on(`break|continue`, say("It has to stand inside a loop.")),
	on(`label (\w+) not defined|goto`, say("Use a loop.")),
	on(`cannot call non-function`, say("Only a function can be called; write * to multiply.")),
	on(`cannot indirect`, say("Only a pointer can have a * before it.")),
	on(`had another receiver`, say("Run that cell first.")),
	on(`cannot (?:use|compare) nil|use of untyped nil`, say("nil needs a type: declare the variable with var x T.")),
	on(`invalid recursive type|initialization cycle`, say("A type cannot contain itself; use a pointer to it.")),
}

// runRules are for panics.
var runRules = []rule{
	on(`index out of range`, func(c *clue, _ []string) string {
		if c.autopsy != nil {
			if why := c.autopsy.outOfRange(); why != "" {
				return why + "."
			}
		}
		return "Elements are numbered from 0 to the length minus 1; compare the index with len."
	}),
	on(`slice bounds out of range`, func(c *clue, _ []string) string {
		if c.autopsy != nil {
			if why := c.autopsy.outOfRange(); why != "" {
				return why + "."
			}
		}
		return "Compare both ends of the slice with its length."
	}),
	on(`nil pointer dereference`, func(c *clue, _ []string) string {
		if c.autopsy != nil {
			if what := c.autopsy.nilPart(); what != "" {
				return what + " is nil: give it a value first, or test it with " + what + " != nil."
			}
		}
		return "Something in this line is nil: a pointer, function or interface that was never given a value."
	}),
	on(`assignment to entry in nil map`, func(c *clue, _ []string) string {
		if c.autopsy != nil {
			if what := c.autopsy.nilMap(); what != "" {
				return "Make the map first: " + what + " = make(map[K]V)."
			}
		}
		return "Make the map first: m = make(map[K]V)."
	}),
	on(`integer divide by zero`, func(c *clue, _ []string) string {
		if c.autopsy != nil {
			if what := c.autopsy.zeroDivisor(); what != "" {
				return what + " is 0: test it before dividing."
			}
		}
		return "Test the divisor before dividing."
	}),
	on(`calls inside one another`, say("The function calls itself without end: let it return before it does, once it has arrived.")),
	on(`interface conversion: .* is nil`, say("The interface holds nothing: test it first.")),
	on(`interface conversion: .* is (\S+), not (\S+)`, func(_ *clue, m []string) string {
		return "It holds a " + strings.TrimSuffix(m[1], ",") + ": ask with v, ok := x.(" + m[2] + ") and test ok."
	}),
	on(`elements takes .* of memory`, say("Check the numbers that the length is made of, and their units.")),
	on(`makeslice|makechan|negative`, say("A length has to be 0 or more.")),
	on(`close of closed channel|send on closed channel`, say("Close a channel once, and send nothing after it.")),
	on(`negative WaitGroup counter`, say("Call Done once for each Add(1).")),
	on(`unlock of unlocked mutex`, say("Call Unlock once for each Lock.")),
	on(`negative shift`, say("Shift by 0 or more.")),
	on(`unhashable type`, say("Use a number, a string or a struct of those as the key.")),
}

func adviseUndefined(c *clue, m []string) string {
	name := m[1]
	if path := c.in.packageNamed(name); path != "" {
		return fmt.Sprintf("Import the package first: import %q", path)
	}
	n := nearest(name, append(c.in.allNames(), c.declared...))
	if !strings.EqualFold(n, name) {
		if a := c.in.adviseElsewhere(name); a != "" {
			return a
		}
	}
	if n != "" {
		return fmt.Sprintf("Did you mean %s?", n)
	}
	return fmt.Sprintf("Declare %s first, or run the cell that does.", name)
}

func adviseAssign(c *clue, m []string) string {
	if m[1] == "struct" {
		return "" // a field of a struct in a map
	}
	if _, ok := c.in.view.Live()[m[1]].(*types.Const); ok || declaredConst(c.at.src.text, m[1]) {
		return "A constant cannot change: declare it with := instead of const."
	}
	if name, _, ok := strings.Cut(m[1], "["); ok {
		if o := c.in.view.Live()[name]; o != nil && o.Type().Underlying() == types.Typ[types.String] {
			return "Text cannot be changed in place: make a new string, or convert it to []byte first."
		}
	}
	return "Only a variable, a field or an element can stand left of =."
}

// declaredConst reports whether a cell declares a constant of that name.
func declaredConst(text, name string) bool {
	return regexp.MustCompile(`\bconst\s+` + regexp.QuoteMeta(name) + `\b`).MatchString(text)
}

func adviseMember(c *clue, m []string) string {
	path := c.in.importedAs(m[1])
	if path == "" {
		return ""
	}
	if n := nearest(m[2], c.in.view.Members(path)); n != "" {
		return fmt.Sprintf("Did you mean %s.%s?", m[1], n)
	}
	if sig, _, ok := c.in.doc(path, m[2]); ok && strings.Contains(sig, "[") {
		return fmt.Sprintf("%s.%s is generic, which cells cannot call; use one that is made for your type.", m[1], m[2])
	}
	return fmt.Sprintf("Type %s. and press Tab to see what the package offers.", m[1])
}

func adviseImport(c *clue, m []string) string {
	if path := c.in.packageNamed(m[1]); path != "" {
		return fmt.Sprintf("Write import %q.", path)
	}
	if n := nearest(m[1], registeredPaths()); n != "" {
		return fmt.Sprintf("Did you mean %q?", n)
	}
	return "Cells can import the standard library, gonum, gonum/plot and rotorhum/tacho; type import \" and press Tab for the list."
}

func adviseSelector(c *clue, m []string) string {
	if m[3] != "" {
		return fmt.Sprintf("Did you mean %s? Upper and lower case differ.", m[3])
	}
	if strings.HasPrefix(m[1], "type ") {
		m[1] = m[1][len("type "):]
	}
	if strings.HasPrefix(m[1], "[") || strings.HasPrefix(m[1], "map[") || m[1] == "string" {
		switch strings.ToLower(m[2]) {
		case "append", "add", "push":
			return "Write x = append(x, …): a slice has no methods."
		case "len", "length", "size", "count":
			return "Write len(x)."
		}
		return "A " + m[1] + " has no fields or methods: use len, append, an index, or a function that takes it."
	}
	if n := nearest(m[2], c.in.membersOfTypeText(m[1])); n != "" {
		return fmt.Sprintf("Did you mean %s?", n)
	}
	return "Type the dot and press Tab to see what there is."
}

var number = pattern.New(`^(u?int(8|16|32|64)?|float(32|64)|byte|rune)$`)

func isNumber(t string) bool { return number.Regexp().MatchString(t) }

func isWhole(t string) bool { return isNumber(t) && !strings.HasPrefix(t, "float") }

func adviseMismatch(_ *clue, m []string) string {
	x, y := m[2], m[3]
	switch {
	case strings.Contains(x, "string") && !strings.Contains(y, "string"), strings.Contains(y, "string") && !strings.Contains(x, "string"):
		return "Text and number do not mix: use fmt.Sprint(…) to make text, or strconv to make a number."
	case isWhole(x) && strings.HasPrefix(y, "float"):
		return fmt.Sprintf("Convert the left side: %s(…).", y)
	case isWhole(y) && strings.HasPrefix(x, "float"):
		return fmt.Sprintf("Convert the right side: %s(…).", x)
	case strings.HasPrefix(x, "untyped") || strings.HasPrefix(y, "untyped"):
		return "These two do not go together; check what each of them is."
	}
	if strings.Contains(x, ".") && strings.Contains(y, ".") {
		return "They are different kinds of quantity: use a method or function that makes one of the other."
	}
	return fmt.Sprintf("Convert one side to the type of the other: %s(…) or %s(…).", x, y)
}

func adviseUse(c *clue, m []string) string {
	what, have, want, where := m[1], m[2], m[3], m[4]
	switch {
	case have == want:
		return fmt.Sprintf("A cell has declared %s again since: declare with := again what is of the type that it was before.", have)
	case isNumber(have) && isNumber(want):
		return fmt.Sprintf("Convert it: %s(%s).", want, what)
	case have == "string" && isNumber(want):
		return "Turn text into a number with strconv.Atoi or strconv.ParseFloat."
	case want == "string" && isNumber(have):
		return fmt.Sprintf("Turn the number into text: fmt.Sprint(%s).", what)
	case "*"+have == want:
		return fmt.Sprintf("Pass the address: &%s.", what)
	case have == "*"+want:
		return fmt.Sprintf("Pass what it points to: *%s.", what)
	case have == "[]"+want:
		return "Pass one element, or loop over all of them."
	case want == "[]"+have:
		return fmt.Sprintf("Make a slice of it: %s{%s}.", want, what)
	case isNumber(have) && !strings.ContainsAny(want, "[]*(){} "):
		return fmt.Sprintf("Convert it if that is what it means: %s(%s).", want, what)
	}
	return fmt.Sprintf("A %s is wanted in %s.", want, where)
}

func adviseConstant(_ *clue, m []string) string {
	switch want := m[3]; {
	case m[2] == "float" && isWhole(want):
		return "Write a whole number, or make the other side float64."
	case m[2] == "string" && isNumber(want):
		return "Write the number without quotation marks."
	case want == "string":
		return `Put the text into quotation marks: "…".`
	}
	return fmt.Sprintf("A %s is wanted here.", m[3])
}
