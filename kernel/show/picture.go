package show

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	_ "image/jpeg" // sizes of JPEG pictures
	"image/png"
	"maps"
	"sort"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"

	"rotorhum/kernel/cell"
)

// Size at which a plot is shown, in CSS pixels (96 to the inch), and the
// number of picture dots per CSS pixel in each direction.
const (
	plotWidth, plotHeight = 640, 400
	plotScale             = 2
)

// ofPlot draws a plot.
func ofPlot(p *plot.Plot) (b cell.Bundle, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("drawing the plot failed: %v", r)
		}
	}()
	const px = vg.Inch / 96
	c := vgimg.PngCanvas{Canvas: vgimg.NewWith(
		vgimg.UseWH(plotWidth*px, plotHeight*px),
		vgimg.UseDPI(96*plotScale),
		vgimg.UseBackgroundColor(color.White),
	)}
	p.Draw(draw.New(c))
	var buf bytes.Buffer
	if _, err := c.WriteTo(&buf); err != nil {
		return b, err
	}
	text := "plot"
	if p.Title.Text != "" {
		text = "plot: " + p.Title.Text
	}
	return checked(cell.Bundle{
		Data:     map[string]any{TextPlain: text, ImagePNG: buf.Bytes()},
		Metadata: map[string]any{ImagePNG: sizeOf(plotWidth, plotHeight)},
	})
}

// addImage adds an image as PNG.
func addImage(b cell.Bundle, img image.Image) error {
	size := img.Bounds().Size()
	if size.X <= 0 || size.Y <= 0 {
		return fmt.Errorf("an image of %d by %d dots cannot be shown", size.X, size.Y)
	}
	var buf bytes.Buffer
	if err := png.Encode(&buf, img); err != nil {
		return err
	}
	b.Data[ImagePNG] = buf.Bytes()
	b.Data[TextPlain] = fmt.Sprintf("image, %d by %d", size.X, size.Y)
	b.Metadata[ImagePNG] = sizeOf(size.X, size.Y)
	return nil
}

// pictureSize is the size at which an encoded picture is shown: what the value
// says with a method Size() (width, height int), or else one CSS pixel a dot.
func pictureSize(v any, data []byte) (map[string]any, error) {
	cfg, _, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("not a picture: %w", err)
	}
	if s, ok := v.(interface{ Size() (int, int) }); ok {
		w, h := s.Size()
		return sizeOf(w, h), nil
	}
	return sizeOf(cfg.Width, cfg.Height), nil
}

func sizeOf(w, h int) map[string]any { return map[string]any{"width": w, "height": h} }

// describePictures gives every picture without an alternative text the bundle's
// plain text for one, in the metadata "alt" from which nbconvert takes it.
func describePictures(b cell.Bundle) {
	const most = 400 // characters
	for _, mime := range []string{ImagePNG, ImageJPEG} {
		if b.Data[mime] == nil {
			continue
		}
		own, _ := b.Metadata[mime].(map[string]any)
		if own["alt"] != nil {
			continue
		}
		text, _ := b.Data[TextPlain].(string)
		alt := []rune(strings.Join(strings.Fields(text), " "))
		if len(alt) > most {
			alt = append(alt[:most], '…')
		}
		if own = maps.Clone(own); own == nil {
			own = map[string]any{}
		}
		own["alt"] = string(alt)
		b.Metadata[mime] = own
	}
}

func mimeTypes(b cell.Bundle) []string {
	var out []string
	for m := range b.Data {
		out = append(out, m)
	}
	sort.Strings(out)
	return out
}
