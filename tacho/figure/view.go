package figure

import (
	"context"
	"fmt"
	"math"

	"rotorhum/tacho"
)

// View says which part of the data a picture shows, and how large. The zero
// value shows what matters at the standard size. Constructors take at most one.
type View struct {
	// Title stands above the picture; "" stands for one made from the data.
	Title string
	// From and To bound the time axis in seconds; To 0 stands for the end.
	From, To float64
	// Lo and Hi bound the axis of frequency, in hertz of sound; Hi 0 stands
	// for a bound chosen from the data.
	Lo, Hi tacho.Hertz
	// Width and Height are in CSS pixels; 0 stands for 800 and for a height
	// that suits the picture.
	Width, Height int
	// Context, if not nil, ends long work early: the error is its own.
	Context context.Context
}

// ended returns the error of the view's context once that has ended.
func (v View) ended() error {
	if v.Context == nil {
		return nil
	}
	return v.Context.Err()
}

// Limits of a picture's sides in CSS pixels: below the first there is no room
// for the axes, above the second a raster would not fit in memory.
const (
	minSide = 240
	maxSide = 4000
)

// viewOf returns the one view in views or the zero view, checked.
func viewOf(views []View, height int) (View, error) {
	var v View
	switch len(views) {
	case 0:
	case 1:
		v = views[0]
	default:
		return v, fmt.Errorf("figure: %d views given, at most one makes sense", len(views))
	}
	if v.Width == 0 {
		v.Width = 800
	}
	if v.Height == 0 {
		v.Height = height
	}
	if v.Width < minSide || v.Width > maxSide || v.Height < minSide || v.Height > maxSide {
		return v, fmt.Errorf("figure: a picture of %d by %d pixels; each side must lie between %d and %d", v.Width, v.Height, minSide, maxSide)
	}
	for _, x := range []float64{v.From, v.To, float64(v.Lo), float64(v.Hi)} {
		if !finite(x) || x < 0 {
			return v, fmt.Errorf("figure: a view bound of %g; bounds are finite and not negative", x)
		}
	}
	if v.To != 0 && v.To <= v.From {
		return v, fmt.Errorf("figure: a view from %g s to %g s is empty", v.From, v.To)
	}
	if v.Hi != 0 && v.Hi <= v.Lo {
		return v, fmt.Errorf("figure: a view from %g Hz to %g Hz is empty", float64(v.Lo), float64(v.Hi))
	}
	return v, nil
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
