package comb

import "rotorhum/tacho/internal/sound"

// Watch finds the candidates of a sound that is still coming, a few moments at
// a time. It is for one goroutine.
type Watch struct{ worker *worker }

// NewWatch returns a watch for sound sampled at fs.
func NewWatch(fs float64, opt FrameOptions) *Watch {
	return &Watch{newWorker(nil, newViews(fs, opt), opt)}
}

// Moments returns the candidates at times first*Hop to (first+count-1)*Hop of src,
// which must be sampled at the watch's rate. What src does not hold is silent: a
// moment near its end is seen by the part of each frame that is there.
func (w *Watch) Moments(src *sound.Source, first, count int) ([]Moment, error) {
	w.worker.src = src
	moments := make([]Moment, first+count)
	err := w.worker.block(moments, first, first+count)
	w.worker.src = nil
	return moments[first:], err
}
