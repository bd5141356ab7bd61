package compare

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"rotorhum/kernel/notebook"
)

// The names under which a cell states what it allows; a tag joins name and
// value with an equals sign.
const (
	ToleranceTag        = "tolerance"
	PictureToleranceTag = "picture-tolerance"
	OutputVariesTag     = "output-varies"
)

// ErrStatement: a cell states what it allows in a way that cannot be understood.
var ErrStatement = errors.New("statement not understood")

// Statement is what a cell allows to differ. The zero value allows nothing.
type Statement struct {
	// Absolute is the largest allowed difference of two numbers.
	Absolute float64
	// Relative is the same as a share of the stored number, 0.01 for 1 %.
	Relative float64
	// Pixels is the share of a picture's pixels that may differ.
	Pixels float64
	// Varies: the cell's outputs are not compared.
	Varies bool
}

// numbers reports whether numbers need not be equal.
func (s Statement) numbers() bool { return s.Absolute > 0 || s.Relative > 0 }

// String says the tolerance for numbers in words.
func (s Statement) String() string {
	var parts []string
	if s.Absolute > 0 {
		parts = append(parts, strconv.FormatFloat(s.Absolute, 'g', -1, 64))
	}
	if s.Relative > 0 {
		parts = append(parts, strconv.FormatFloat(100*s.Relative, 'g', 6, 64)+" %")
	}
	if len(parts) == 0 {
		return "0"
	}
	return strings.Join(parts, " or ")
}

// StatementOf reads what a cell states in its tags and its metadata. Errors
// wrap [ErrStatement] and quote the statement.
func StatementOf(c *notebook.Cell) (Statement, error) {
	var s Statement
	for _, tag := range c.Tags() {
		name, value, hasValue := strings.Cut(tag, "=")
		switch name = strings.TrimSpace(name); {
		case name == OutputVariesTag && !hasValue:
			s.Varies = true
		case name == ToleranceTag || name == PictureToleranceTag:
			if err := s.add(name, strings.TrimSpace(value)); err != nil {
				return Statement{}, fmt.Errorf("%w: the tag %q: %w", ErrStatement, tag, err)
			}
		}
	}
	own, _ := c.Metadata["rotorhum"].(map[string]any)
	if v, ok := own["output_varies"]; ok {
		varies, isBool := v.(bool)
		if !isBool {
			return Statement{}, fmt.Errorf("%w: rotorhum.output_varies in the cell's metadata is neither true nor false", ErrStatement)
		}
		s.Varies = s.Varies || varies
	}
	for key, name := range map[string]string{"tolerance": ToleranceTag, "picture_tolerance": PictureToleranceTag} {
		v, ok := own[key]
		if !ok {
			continue
		}
		list, isList := v.([]any)
		if !isList {
			list = []any{v}
		}
		for _, v := range list {
			if err := s.add(name, textOf(v)); err != nil {
				return Statement{}, fmt.Errorf("%w: rotorhum.%s in the cell's metadata: %w", ErrStatement, key, err)
			}
		}
	}
	return s, nil
}

// textOf returns a number or a text of metadata as text, "" for anything else.
func textOf(v any) string {
	switch v := v.(type) {
	case string:
		return strings.TrimSpace(v)
	case json.Number:
		return v.String()
	}
	return ""
}

// add takes one tolerance into s.
func (s *Statement) add(name, text string) error {
	digits, percent := strings.CutSuffix(text, "%")
	x, err := strconv.ParseFloat(strings.TrimSpace(digits), 64)
	switch {
	case err != nil || !(x > 0) || math.IsInf(x, 0):
		return fmt.Errorf("%q is no tolerance; write a number such as 0.02 or a share such as 0.5%%", text)
	case percent && x >= 100:
		return errors.New("a tolerance of 100 % or more would let everything pass")
	case name == PictureToleranceTag && !percent:
		return fmt.Errorf("%q is no share of the pixels; write for example 0.1%%", text)
	case name == PictureToleranceTag:
		s.Pixels = max(s.Pixels, x/100)
	case percent:
		s.Relative = max(s.Relative, x/100)
	default:
		s.Absolute = max(s.Absolute, x)
	}
	return nil
}

// within reports whether a number may stand where the stored one stood.
func (s Statement) within(stored, fresh float64) bool {
	if stored == fresh {
		return true
	}
	d := math.Abs(fresh - stored)
	// A difference of decimals such as 0.02 comes out a few last bits high.
	const slack = 1 + 1e-9
	return d <= s.Absolute*slack || d <= s.Relative*math.Abs(stored)*slack
}
