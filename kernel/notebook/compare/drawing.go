package compare

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"rotorhum/kernel/pattern"
)

// maxDepth is how deeply the elements of a drawing may stand inside each other.
const maxDepth = 200

// pathLetter matches the letters of a path, which are set apart from its numbers.
var pathLetter = pattern.New(`[A-DF-Za-df-z]`)

// canonicalSVG brings a drawing to one line for each tag or text in it:
// attributes sorted, comments and blanks between the elements left out. What
// two drawings of the same content may differ in is gone.
func canonicalSVG(source string) (string, error) {
	d := xml.NewDecoder(strings.NewReader(source))
	d.CharsetReader = func(charset string, _ io.Reader) (io.Reader, error) {
		return nil, fmt.Errorf("it is written in %s, not UTF-8", charset)
	}
	var out strings.Builder
	depth := 0
	for {
		token, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			return "", err
		}
		switch t := token.(type) {
		case xml.StartElement:
			if depth++; depth > maxDepth {
				return "", errors.New("its elements are nested too deeply")
			}
			attributes := []string{}
			for _, a := range t.Attr {
				if a.Name.Space == "xmlns" || a.Name.Local == "xmlns" {
					continue // names are written with what it stands for
				}
				value := a.Value
				if a.Name.Local == "d" {
					value = pathLetter.Regexp().ReplaceAllString(value, " $0 ")
				}
				attributes = append(attributes, fmt.Sprintf(" %s=%q", named(a.Name), strings.Join(strings.Fields(value), " ")))
			}
			slices.Sort(attributes)
			out.WriteString("<" + named(t.Name) + strings.Join(attributes, "") + ">\n")
		case xml.EndElement:
			depth--
			out.WriteString("</" + named(t.Name) + ">\n")
		case xml.CharData:
			if text := strings.Join(strings.Fields(string(t)), " "); text != "" {
				out.WriteString(text + "\n")
			}
		}
	}
	if depth != 0 || out.Len() == 0 {
		return "", errors.New("it is not a whole drawing")
	}
	return out.String(), nil
}

// named writes a name with the address of its namespace, which is the same
// whatever the prefix.
func named(n xml.Name) string {
	if n.Space == "" {
		return n.Local
	}
	return n.Space + ":" + n.Local
}

// compareDrawing compares two SVG drawings by their canonical form. It returns nil
// if they agree.
func (c *comparison) compareDrawing(stored, fresh string) *textDifference {
	if stored == fresh {
		return nil
	}
	a, errA := canonicalSVG(stored)
	b, errB := canonicalSVG(fresh)
	if errA != nil || errB != nil {
		return c.compareText(stored, fresh)
	}
	return c.compareText(a, b)
}
