package figure

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	"os"
	"path/filepath"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"

	"rotorhum/tacho"
)

// Picture is one drawing, ready to be shown. It keeps what it needs of the
// results it was made from, so changing those later does not change it.
type Picture struct {
	// Alt says in words what the picture shows.
	Alt string

	width, height int // CSS pixels, 96 to the inch
	draw          func(c draw.Canvas)
}

// pixel is the side of one CSS pixel.
const pixel = vg.Inch / 96

// Size returns the width and height at which the picture is meant to be shown,
// in CSS pixels (96 to the inch).
func (p *Picture) Size() (width, height int) { return p.width, p.height }

// String returns the alternative text.
func (p *Picture) String() string { return p.Alt }

// PNG returns the picture as a PNG file of twice its Size in each direction,
// sharp on a dense screen and in print. The bytes are the same every time.
func (p *Picture) PNG() ([]byte, error) { return p.Raster(2) }

// Raster returns the picture as a PNG file of scale times its Size in each
// direction. The scale is a whole number from 1 to 8, anything else an error.
//
// The context of a watch ends the work early, with its error.
func (p *Picture) Raster(scale int, watch ...tacho.Watch) ([]byte, error) {
	if scale < 1 || scale > 8 {
		return nil, fmt.Errorf("figure: a raster scale of %d is outside 1 to 8", scale)
	}
	out := &stoppable{}
	if len(watch) > 0 {
		out.ctx = watch[0].Context
	}
	c := vgimg.PngCanvas{Canvas: vgimg.NewWith(
		vgimg.UseWH(vg.Length(p.width)*pixel, vg.Length(p.height)*pixel),
		vgimg.UseDPI(96*scale),
		vgimg.UseBackgroundColor(color.White),
	)}
	if err := out.ended(); err != nil {
		return nil, err
	}
	if err := out.draw(c, p.draw); err != nil {
		return nil, err
	}
	if _, err := c.WriteTo(out); err != nil {
		return nil, err
	}
	return out.b.Bytes(), nil
}

// stoppable takes a file until its context, if there is one, ends.
type stoppable struct {
	b   bytes.Buffer
	ctx context.Context
}

func (s *stoppable) ended() error {
	if s.ctx == nil {
		return nil
	}
	return s.ctx.Err()
}

// draw draws on a canvas, but no further once the context ends.
func (s *stoppable) draw(c vg.CanvasSizer, picture func(draw.Canvas)) (err error) {
	if s.ctx != nil {
		defer func() {
			switch p := recover().(type) {
			case nil:
			case drawingEnded:
				err = p.error
			default:
				panic(p)
			}
		}()
		c = watchedCanvas{c, s}
	}
	picture(draw.New(c))
	return s.ended()
}

// drawingEnded is what leaves a drawing whose context has ended: the drawing
// library has no other way out of what it draws.
type drawingEnded struct{ error }

// watchedCanvas looks after the context while it draws an image, which of all that
// is drawn takes the longest.
type watchedCanvas struct {
	vg.CanvasSizer
	out *stoppable
}

func (c watchedCanvas) DrawImage(at vg.Rectangle, img image.Image) {
	if p, ok := img.(*image.Paletted); ok {
		img = &watchedImage{Paletted: p, out: c.out}
	}
	c.CanvasSizer.DrawImage(at, img)
}

// watchedImage looks at the context once for so many of its points.
type watchedImage struct {
	*image.Paletted
	out  *stoppable
	read int
}

func (m *watchedImage) look() {
	if m.read++; m.read%(1<<14) == 0 {
		if err := m.out.ended(); err != nil {
			panic(drawingEnded{err})
		}
	}
}

func (m *watchedImage) At(x, y int) color.Color {
	m.look()
	return m.Paletted.At(x, y)
}

func (m *watchedImage) RGBA64At(x, y int) color.RGBA64 {
	m.look()
	return m.Paletted.RGBA64At(x, y)
}

func (s *stoppable) Write(data []byte) (int, error) {
	if err := s.ended(); err != nil {
		return 0, err
	}
	return s.b.Write(data)
}

// SVG returns the picture as an SVG document whose title is the alternative
// text. Heat maps are embedded as an image. The bytes are the same every time.
//
// Its text asks for the Liberation Sans typeface or the reader's own sans-serif.
func (p *Picture) SVG() ([]byte, error) {
	c := vgsvg.New(vg.Length(p.width)*pixel, vg.Length(p.height)*pixel)
	p.draw(draw.New(c))
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); err != nil {
		return nil, err
	}
	_, body, found := strings.Cut(b.String(), "xmlns:xlink=\"http://www.w3.org/1999/xlink\">\n")
	if !found {
		return nil, errors.New("figure: the drawing library wrote an SVG document of an unknown kind")
	}
	// The library labels embedded images as JPEG; they are PNG.
	body = strings.ReplaceAll(body, "data:image/jpg;base64,", "data:image/png;base64,")
	body = strings.ReplaceAll(body, "font-family:Liberation Sans;", "font-family:'Liberation Sans',Arial,sans-serif;")
	body = strings.ReplaceAll(body, "font-variant:normal;", "")
	body = strings.ReplaceAll(body, "font-style:normal;", "")
	var out bytes.Buffer
	fmt.Fprintf(&out, `<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="%d" height="%d" viewBox="0 0 %s %s" role="img">`+"\n",
		p.width, p.height, points(p.width), points(p.height))
	fmt.Fprintf(&out, "<title>%s</title>\n", xmlText(p.Alt))
	out.WriteString(body)
	return out.Bytes(), nil
}

func points(px int) string {
	return fmt.Sprintf("%g", (vg.Length(px) * pixel).Points())
}

var xmlText = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;").Replace

// Save writes the picture to a new file whose name ends in .png or .svg. It
// refuses to replace a file that is already there.
func (p *Picture) Save(path string) error {
	var data []byte
	var err error
	switch ext := strings.ToLower(filepath.Ext(path)); ext {
	case ".png":
		data, err = p.PNG()
	case ".svg":
		data, err = p.SVG()
	default:
		return fmt.Errorf("figure: %s: end the file name in .png or .svg", path)
	}
	if err != nil {
		return err
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	if _, err := f.Write(data); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

// Illustration returns the picture for the HTML page of a measurement, see
// [tacho.Measurement.WritePage].
func (p *Picture) Illustration() (tacho.Illustration, error) {
	data, err := p.PNG()
	return tacho.Illustration{Alt: p.Alt, PNG: data, Width: p.width}, err
}
