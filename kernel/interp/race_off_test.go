//go:build !race

package interp_test

const raceDetector = false
