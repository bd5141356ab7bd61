package show

import (
	"encoding/base64"
	"fmt"
	"image"
	"reflect"
	"strings"

	"gonum.org/v1/plot"

	"rotorhum/kernel/cell"
)

// MIME types of bundles.
const (
	TextPlain  = "text/plain"
	TextHTML   = "text/html"
	TextMD     = "text/markdown"
	TextLatex  = "text/latex"
	ImageSVG   = "image/svg+xml"
	ImagePNG   = "image/png"
	ImageJPEG  = "image/jpeg"
	AppPDF     = "application/pdf"
	AppJS      = "application/javascript"
	AppJSON    = "application/json"
	maxTextLen = 64 << 10 // bytes of text/plain; longer text is folded
)

// MethodFinder is implemented by stand-ins for values whose methods reflection
// cannot see: those of types that a cell declares.
type MethodFinder interface {
	// FindMethod returns a function that calls the method without arguments,
	// or false if the value has no such method.
	FindMethod(name string) (call func() []any, ok bool)
}

// method is a rendering method and the MIME type of what it returns.
type method struct{ name, mime string }

// methods lists the rendering methods. A value that offers both PNG and SVG is
// shown as PNG, which looks the same everywhere.
var methods = []method{
	{"HTML", TextHTML}, {"Markdown", TextMD}, {"Latex", TextLatex},
	{"PNG", ImagePNG}, {"SVG", ImageSVG}, {"JPEG", ImageJPEG}, {"PDF", AppPDF},
	{"JavaScript", AppJS}, {"JSON", AppJSON},
}

// Bundle renders v. It returns an error if one of v's rendering methods fails
// or panics; the error names the method.
func Bundle(v any) (b cell.Bundle, err error) {
	switch v := v.(type) {
	case cell.Bundle:
		return checked(v)
	case *cell.Bundle:
		if v != nil {
			return checked(*v)
		}
	case *plot.Plot:
		if v != nil {
			return ofPlot(v)
		}
	}
	b = cell.Bundle{Data: map[string]any{}, Metadata: map[string]any{}}
	if !isNil(v) {
		if err := byMethods(v, b); err != nil {
			return cell.Bundle{}, err
		}
		if img, ok := v.(image.Image); ok && len(b.Data) == 0 {
			if err := addImage(b, img); err != nil {
				return cell.Bundle{}, err
			}
		}
	}
	if b.Data[TextPlain] == nil {
		text, err := textOf(v)
		if err != nil {
			return cell.Bundle{}, err
		}
		b.Data[TextPlain] = text
	}
	return checked(b)
}

// IsRich reports whether v has a representation besides plain text.
func IsRich(v any) bool {
	switch v.(type) {
	case cell.Bundle, *cell.Bundle, *plot.Plot, image.Image:
		return true
	}
	if isNil(v) {
		return false
	}
	for _, m := range append([]method{{"Render", ""}, {"SimpleRender", ""}}, methods...) {
		if _, ok := find(v, m.name); ok {
			return true
		}
	}
	return false
}

// checked makes a bundle fit to be sent: valid UTF-8, binary data in base64,
// plain text present, pictures with words that stand for them.
func checked(b cell.Bundle) (cell.Bundle, error) {
	out := cell.Bundle{Data: map[string]any{}, Metadata: map[string]any{}}
	for k, v := range b.Metadata {
		out.Metadata[k] = v
	}
	for mime, v := range b.Data {
		switch v := v.(type) {
		case string:
			out.Data[mime] = cell.ValidText(v)
		case []byte:
			if isBinary(mime) {
				out.Data[mime] = base64.StdEncoding.EncodeToString(v)
			} else {
				out.Data[mime] = cell.ValidText(string(v))
			}
		default:
			out.Data[mime] = v
		}
	}
	if _, ok := out.Data[TextPlain].(string); !ok {
		out.Data[TextPlain] = fmt.Sprintf("[%s]", strings.Join(mimeTypes(out), ", "))
	}
	describePictures(out)
	return out, nil
}

func isBinary(mime string) bool {
	if mime == ImageSVG {
		return false
	}
	for _, p := range []string{"image/", "audio/", "video/", AppPDF, "application/octet-stream"} {
		if strings.HasPrefix(mime, p) {
			return true
		}
	}
	return false
}

func isNil(v any) bool {
	if v == nil {
		return true
	}
	switch r := reflect.ValueOf(v); r.Kind() {
	case reflect.Pointer, reflect.Map, reflect.Slice, reflect.Func, reflect.Chan:
		return r.IsNil()
	}
	return false
}

// find returns a method of v that takes no arguments.
func find(v any, name string) (func() []any, bool) {
	if f, ok := v.(MethodFinder); ok {
		return f.FindMethod(name)
	}
	m := reflect.ValueOf(v).MethodByName(name)
	if !m.IsValid() || m.Type().NumIn() != 0 || m.Type().NumOut() == 0 {
		return nil, false
	}
	return func() []any {
		var out []any
		for _, r := range m.Call(nil) {
			out = append(out, r.Interface())
		}
		return out
	}, true
}

// call runs a rendering method; a panic or an error result is an error.
func call(v any, name string, f func() []any) (result any, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("method %s of %T failed: %v", name, v, r)
		}
	}()
	out := f()
	if len(out) == 2 {
		if e, ok := out[1].(error); ok && e != nil {
			return nil, fmt.Errorf("method %s of %T: %w", name, v, e)
		}
	}
	if len(out) == 0 || len(out) > 2 {
		return nil, nil
	}
	return out[0], nil
}

// byMethods adds what the rendering methods of v return.
func byMethods(v any, b cell.Bundle) error {
	for _, name := range []string{"Render", "SimpleRender"} {
		f, ok := find(v, name)
		if !ok {
			continue
		}
		r, err := call(v, name, f)
		if err != nil {
			return err
		}
		addAll(b, r)
	}
	for _, m := range methods {
		f, ok := find(v, m.name)
		if !ok || m.mime == ImageSVG && b.Data[ImagePNG] != nil {
			continue
		}
		r, err := call(v, m.name, f)
		if err != nil {
			return err
		}
		if !fits(r, m.mime) {
			continue // a method of that name that renders nothing
		}
		b.Data[m.mime] = r
		if m.mime == ImagePNG || m.mime == ImageJPEG {
			if data, ok := r.([]byte); ok {
				size, err := pictureSize(v, data)
				if err != nil {
					return fmt.Errorf("method %s of %T: %w", m.name, v, err)
				}
				b.Metadata[m.mime] = size
			}
		}
	}
	return nil
}

// fits reports whether r can be the data of a MIME type.
func fits(r any, mime string) bool {
	switch r.(type) {
	case string:
		return !isBinary(mime)
	case []byte:
		return true
	case nil:
		return false
	}
	return mime == AppJSON
}

// addAll adds the result of Render or SimpleRender: a map from MIME types to
// data, or a struct with such maps in its fields Data and Metadata.
func addAll(b cell.Bundle, r any) {
	v := reflect.ValueOf(r)
	switch v.Kind() {
	case reflect.Map:
		addMap(b.Data, v)
	case reflect.Struct:
		if d := v.FieldByName("Data"); d.IsValid() && d.Kind() == reflect.Map {
			addMap(b.Data, d)
		}
		if m := v.FieldByName("Metadata"); m.IsValid() && m.Kind() == reflect.Map {
			addMap(b.Metadata, m)
		}
	}
}

func addMap(to map[string]any, m reflect.Value) {
	if m.Type().Key().Kind() != reflect.String {
		return
	}
	for _, k := range m.MapKeys() {
		to[k.String()] = m.MapIndex(k).Interface()
	}
}
