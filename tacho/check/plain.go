package check

// plain checks without keeping a record.
func plain() *Ledger { return &Ledger{quiet: true} }

// Near is [Ledger.Near] without a ledger.
func Near(what string, got, want any, tol float64, source string) {
	plain().Near(what, got, want, tol, source)
}

// NearPercent is [Ledger.NearPercent] without a ledger.
func NearPercent(what string, got, want any, percent float64, source string) {
	plain().NearPercent(what, got, want, percent, source)
}

// Within is [Ledger.Within] without a ledger.
func Within(what string, got, lo, hi any, source string) { plain().Within(what, got, lo, hi, source) }

// Holds is [Ledger.Holds] without a ledger.
func Holds(what string, measured Interval, truth any, source string) {
	plain().Holds(what, measured, truth, source)
}

// Equal is [Ledger.Equal] without a ledger.
func Equal(what string, got, want any, source string) { plain().Equal(what, got, want, source) }

// True is [Ledger.True] without a ledger.
func True(what string, ok bool, source string) { plain().True(what, ok, source) }

// Fails is [Ledger.Fails] without a ledger.
func Fails(what string, err error, source string) { plain().Fails(what, err, source) }
