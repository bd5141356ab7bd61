package interp

import (
	"fmt"
	"strings"
	"unicode"

	"rotorhum/kernel/pattern"
)

// Many who meet Go know another language, and write a word of it now and then.

// habits says what Go has in the place of words that begin a line elsewhere.
var habits = []struct {
	line   *pattern.Pattern
	advice string
}{
	{pattern.New(`^while\b`), "Go has one word for all loops: write for condition { … }."},
	{pattern.New(`^(\}\s*)?(elif|elsif|elseif)\b`), "Write } else if condition { on one line."},
	{pattern.New(`^(def|function|fun|fn|sub)\s`), "Declare a function with func name(x float64) float64 { … }."},
	{pattern.New(`^let\s`), "Declare a variable with name := value."},
	{pattern.New(`^(class|struct|record)\s`), "Declare a type with type Name struct { … }."},
	{pattern.New(`^(try|except|catch|raise|throw)\b`), "Functions return their errors: write v, err := f(…) and test err != nil."},
	{pattern.New(`^(from|using|include|require)\s`), `Write import "path" with the path of the package.`},
	{pattern.New(`^(if|for)\b.*(\bthen|\bdo|:)\s*$`), "End the line with {, and the block with }."},
	{pattern.New(`^if\b.*\bthen\b`), "Put { in the place of then, and } at the end."},
	{pattern.New(`^(print|println|printf|echo|puts)\s+[^(\s]`), "Put what is to be printed into brackets: fmt.Println(…)."},
	{pattern.New(`^for\s*\(`), "Leave out the brackets behind for."},
	{pattern.New(`^for\b.*\bin\b`), "Write for i, v := range list { … }."},
}

// habitOf returns advice on a line that would be right in another language, or
// "".
func habitOf(line string) string {
	line = strings.TrimSpace(line)
	for _, h := range habits {
		if h.line.Regexp().MatchString(line) {
			return h.advice
		}
	}
	return ""
}

// elsewhere are names that other languages have for what Go has.
var elsewhere = map[string]string{
	"float": "float64", "double": "float64", "real": "float64", "str": "string", "String": "string", "char": "byte",
	"integer": "int", "boolean": "bool", "None": "nil", "null": "nil", "NULL": "nil", "nullptr": "nil",
	"True": "true", "False": "false", "TRUE": "true", "FALSE": "false",
}

// mathName returns what package math calls a function or constant, such as
// math.Sqrt for sqrt, or "".
func (in *Interp) mathName(name string) string {
	r := []rune(name)
	r[0] = unicode.ToUpper(r[0])
	if in.view.Exported("math", string(r)) == nil {
		return ""
	}
	return "math." + string(r)
}

// adviseElsewhere says what a name of another language is in Go, or "".
func (in *Interp) adviseElsewhere(name string) string {
	if here := elsewhere[name]; here != "" {
		return fmt.Sprintf("Write %s, as Go calls it.", here)
	}
	if here := in.mathName(name); here != "" {
		if in.view.Live()["math"] == nil {
			return fmt.Sprintf("Write %s, after import \"math\".", here)
		}
		return fmt.Sprintf("Write %s.", here)
	}
	return ""
}
