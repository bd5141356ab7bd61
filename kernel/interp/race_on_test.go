//go:build race

package interp_test

// The engine takes an interrupt through a plain variable that the running cell
// looks at, which the race detector rightly sees.
const raceDetector = true
