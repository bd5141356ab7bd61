package compare

import (
	"maps"
	"slices"
	"strings"
	"unicode/utf8"

	"rotorhum/kernel/pattern"
)

// Versions says which names of versions the stored outputs hold and what stands
// in their place today: "go1.26.8" and "go1.27.0", say. Only where the fresh
// output has exactly the new name in the place of exactly the old one do two
// lines that differ in it agree; everything else on the line still counts.
type Versions map[string]string

// madeWith matches how the reports of this project name what made them. A
// notebook that does not say its versions in its metadata is read by it.
var madeWith = pattern.New(`\brotorhum v?[0-9]+\.[0-9]+\.[0-9]+[0-9A-Za-z.+-]*, go[0-9]+\.[0-9]+[0-9A-Za-z.+-]*`)

// renamed returns a stored text with the versions of today.
func (c *comparison) renamed(stored string) string {
	stored = c.options.Versions.replaceIn(stored)
	if c.options.Made != "" {
		stored = madeWith.Regexp().ReplaceAllLiteralString(stored, c.options.Made)
	}
	return stored
}

// replaceIn replaces every old name that is not part of a longer one. What was
// put in is not looked at again.
func (v Versions) replaceIn(text string) string {
	olds := slices.Sorted(maps.Keys(v))
	slices.SortStableFunc(olds, func(a, b string) int { return len(b) - len(a) })
	var out strings.Builder
	for i := 0; i < len(text); {
		at := slices.IndexFunc(olds, func(old string) bool {
			return old != "" && strings.HasPrefix(text[i:], old) && !continues(text[:i], text[i+len(old):])
		})
		if at < 0 {
			out.WriteByte(text[i])
			i++
			continue
		}
		out.WriteString(v[olds[at]])
		i += len(olds[at])
	}
	return out.String()
}

// continues reports whether a name between the two texts is part of a longer
// one: a letter or digit touches it, or one does across a full stop.
func continues(before, after string) bool {
	last, size := utf8.DecodeLastRuneInString(before)
	if last == '.' {
		last, _ = utf8.DecodeLastRuneInString(before[:len(before)-size])
	}
	next, size := utf8.DecodeRuneInString(after)
	if next == '.' {
		next, _ = utf8.DecodeRuneInString(after[size:])
	}
	return isWord(last) || isWord(next)
}
