package interp

import (
	"fmt"
	"regexp"
	"strings"
	"unicode"
)

// Many who meet Go know another language, and write a word of it now and then.

// habits says what Go has in the place of words that begin a line elsewhere.
var habits = []struct {
	line   *regexp.Regexp
	advice string
}{
	{regexp.MustCompile(`^while\b`), "Go has one word for all loops: write for condition { … }."},
	{regexp.MustCompile(`^(\}\s*)?(elif|elsif|elseif)\b`), "Write } else if condition { on one line."},
	{regexp.MustCompile(`^(def|function|fun|fn|sub)\s`), "Declare a function with func name(x float64) float64 { … }."},
	{regexp.MustCompile(`^let\s`), "Declare a variable with name := value."},
	{regexp.MustCompile(`^(class|struct|record)\s`), "Declare a type with type Name struct { … }."},
	{regexp.MustCompile(`^(try|except|catch|raise|throw)\b`), "Functions return their errors: write v, err := f(…) and test err != nil."},
	{regexp.MustCompile(`^(from|using|include|require)\s`), `Write import "path" with the path of the package.`},
	{regexp.MustCompile(`^(if|for)\b.*(\bthen|\bdo|:)\s*$`), "End the line with {, and the block with }."},
	{regexp.MustCompile(`^if\b.*\bthen\b`), "Put { in the place of then, and } at the end."},
	{regexp.MustCompile(`^(print|println|printf|echo|puts)\s+[^(\s]`), "Put what is to be printed into brackets: fmt.Println(…)."},
	{regexp.MustCompile(`^for\s*\(`), "Leave out the brackets behind for."},
	{regexp.MustCompile(`^for\b.*\bin\b`), "Write for i, v := range list { … }."},
}

// habitOf returns advice on a line that would be right in another language, or
// "".
func habitOf(line string) string {
	line = strings.TrimSpace(line)
	for _, h := range habits {
		if h.line.MatchString(line) {
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
