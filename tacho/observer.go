package tacho

// observer is told of the intermediates of a measurement as they come about, of
// what the measurement has at hand anyway: see [Inspect] and [InspectFamily]. Most
// measurements have none.
type observer func(what any)

func (o observer) told(what any) {
	if o != nil {
		o(what)
	}
}
