package tacho

// Hertz is a frequency in cycles per second.
type Hertz float64

// RevPerSec is a shaft speed in revolutions per second.
type RevPerSec float64
