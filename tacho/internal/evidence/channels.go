package evidence

// A line of one source is heard in all channels that are not turned so that it falls into
// one of them, as that of a source nearby is: into the one with the most power, unless
// something else is louder. That it is missing in another says little then, and the same at
// every place of a comb and at all times, so that the choice costs less than one anew at
// each place would: these are its costs, in nats. They are a judgement; with them whistles
// in two channels of pink noise are followed as often as in one.
const (
	alone      = 0.2 // in the one with the most power only
	aloneThere = 1.0 // in another only
	inBoth     = 0.7
)

// Join returns the evidence that a line stands at a place from what the channel with the
// most power says, and what another does, or others together: of a line that is there in the
// one, in the other, or in both, whatever is likeliest.
func Join[T float32 | float64](first, other T) T {
	return max(first-alone, other-aloneThere, first+other-inBoth)
}
