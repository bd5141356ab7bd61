package tacho

// PeakSpeed is the highest pulse rate of a recording and its moment.
type PeakSpeed struct {
	// T is the moment in seconds from the start, TLo95 and THi95 its interval.
	T, TLo95, THi95 float64
	// Tone is the pulse rate, with the contributions "tone" and "clock".
	Tone Value
}

// Peak returns the highest speed of the track and its moment, estimated from
// the model fitted around the top and not from the largest of many noisy
// points, which would be too high. It returns ErrNoReading if the track has no
// points.
func (t *Track) Peak() (*PeakSpeed, error) {
	if t.peak == nil {
		return nil, ErrNoReading
	}
	p := *t.peak
	return &p, nil
}
