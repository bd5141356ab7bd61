package tacho

import "errors"

// ErrNoReading says that no rotor can be claimed in the recording. The reasons
// stand in the Track or the Measurement; record closer to the rotor, or give
// the range in which its pulse rate must lie.
var ErrNoReading = errors.New("no reading: no rotor can be claimed in this recording")
