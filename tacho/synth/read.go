package synth

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// maxSceneBytes bounds the text of a scene.
const maxSceneBytes = 1 << 20

// ReadScene reads a scene from JSON and checks it. It refuses a field it does
// not know, so that a slip of the pen is not silently ignored, and says in which
// line the text is wrong.
func ReadScene(r io.Reader) (Scene, error) {
	text, err := io.ReadAll(io.LimitReader(r, maxSceneBytes+1))
	if err != nil {
		return Scene{}, err
	}
	if len(text) > maxSceneBytes {
		return Scene{}, fmt.Errorf("scene: longer than %d bytes", maxSceneBytes)
	}
	var s Scene
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&s); err != nil {
		return Scene{}, fmt.Errorf("scene: line %d: %w", lineOf(text, dec.InputOffset(), err), err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return Scene{}, fmt.Errorf("scene: line %d: more text after the end of the scene", lineOf(text, dec.InputOffset(), nil))
	}
	if err := s.check(); err != nil {
		return Scene{}, err
	}
	return s, nil
}

// lineOf returns the line of text in which a decoding error lies.
func lineOf(text []byte, offset int64, err error) int {
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		offset = syntax.Offset
	case errors.As(err, &kind):
		offset = kind.Offset
	}
	offset = min(max(0, offset), int64(len(text)))
	return 1 + bytes.Count(text[:offset], []byte("\n"))
}
