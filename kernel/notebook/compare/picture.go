package compare

import (
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"
	"image"
	_ "image/jpeg"
	_ "image/png"
	"strings"

	_ "golang.org/x/image/webp"
)

// MaxPixels is the largest picture that is decoded. A file of a few kilobytes
// can claim billions of pixels; a larger picture is compared by its bytes.
const MaxPixels = 25_000_000

// samePicture compares two pictures as a notebook stores them, in base64, by
// their decoded pixels. It returns "" if they agree, and else by how much they
// do not. Animations are compared by their bytes.
func (c *comparison) samePicture(stored, fresh string) string {
	a, err := unbase64(stored)
	if err != nil {
		return "the stored picture is damaged: it is not base64"
	}
	b, err := unbase64(fresh)
	if err != nil {
		return "the new picture is damaged: it is not base64"
	}
	if bytes.Equal(a, b) {
		return ""
	}
	p, err := decodePicture(a)
	if err != nil {
		return fmt.Sprintf("the stored picture %v", err)
	}
	q, err := decodePicture(b)
	if err != nil {
		return fmt.Sprintf("the new picture %v", err)
	}
	return comparePixels(p, q, c.states.Pixels)
}

func unbase64(text string) ([]byte, error) {
	return base64.StdEncoding.DecodeString(strings.Join(strings.Fields(text), ""))
}

func decodePicture(content []byte) (image.Image, error) {
	size, format, err := image.DecodeConfig(bytes.NewReader(content))
	switch {
	case err != nil:
		return nil, fmt.Errorf("cannot be decoded (%v) and its bytes differ", err)
	case size.Width <= 0 || size.Height <= 0 || size.Width > MaxPixels/size.Height:
		return nil, fmt.Errorf("is %d × %d pixels, too many to decode, and its bytes differ", size.Width, size.Height)
	case format == "png" && bytes.Contains(content, []byte("acTL")):
		return nil, errors.New("is an animation, and its bytes differ")
	}
	p, _, err := image.Decode(bytes.NewReader(content))
	if err != nil {
		return nil, fmt.Errorf("cannot be decoded (%v) and its bytes differ", err)
	}
	return p, nil
}

// comparePixels returns "" if the pictures have one size and at most the given
// share of their pixels differs.
func comparePixels(p, q image.Image, allowed float64) string {
	a, b := p.Bounds(), q.Bounds()
	if a.Dx() != b.Dx() || a.Dy() != b.Dy() {
		return fmt.Sprintf("%d × %d pixels are stored, now there are %d × %d", a.Dx(), a.Dy(), b.Dx(), b.Dy())
	}
	var differ int
	var most uint32
	where := image.Rectangle{}
	for y := range a.Dy() {
		for x := range a.Dx() {
			d := farthest(p.At(a.Min.X+x, a.Min.Y+y), q.At(b.Min.X+x, b.Min.Y+y))
			if d == 0 {
				continue
			}
			differ++
			most = max(most, d)
			where = where.Union(image.Rect(x, y, x+1, y+1))
		}
	}
	all := a.Dx() * a.Dy()
	if float64(differ) <= allowed*float64(all) {
		return ""
	}
	return fmt.Sprintf("%d of %d pixels differ (%.2g %%), the most by %d of 255 levels, all between (%d, %d) and (%d, %d)",
		differ, all, 100*float64(differ)/float64(all), (most+128)/257, where.Min.X, where.Min.Y, where.Max.X-1, where.Max.Y-1)
}

type colour interface{ RGBA() (r, g, b, a uint32) }

// farthest is the largest difference of two colours in any of their parts.
func farthest(p, q colour) uint32 {
	r1, g1, b1, a1 := p.RGBA()
	r2, g2, b2, a2 := q.RGBA()
	return max(apart(r1, r2), apart(g1, g2), apart(b1, b2), apart(a1, a2))
}

func apart(a, b uint32) uint32 {
	if a > b {
		return a - b
	}
	return b - a
}
