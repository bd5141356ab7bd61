package tacho

// Value is a number with a standard uncertainty made of named parts.
type Value struct {
	X     float64
	Unit  string
	Parts []Part
}

// Part is one contribution to an uncertainty.
type Part struct {
	Name string
	U    float64
	DOF  float64
}
