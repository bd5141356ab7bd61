package figure

import "rotorhum/tacho/internal/hue"

// The colours of all pictures, by their short names.
var (
	paper  = hue.Paper
	ink    = hue.Ink
	slate  = hue.Slate
	rule   = hue.Rule
	tide   = hue.Tide
	shoal  = hue.Shoal
	mist   = hue.Mist
	buoy   = hue.Buoy
	casing = hue.Casing
)
