package tacho_test

import (
	"testing"

	"rotorhum/scripts/accuracy/exam"
)

// TestAccuracy examines the engine on a few short recordings of every class of
// scripts/accuracy and holds it to what it is known to reach on them. The whole
// exam, with its bounds, is scripts/accuracy itself.
func TestAccuracy(t *testing.T) {
	if testing.Short() {
		t.Skip("measures a hundred recordings")
	}
	const seed = 7
	limits := map[string]struct {
		draws   int
		seconds float64 // longest recording
		// right is the least number of right readings (in silence: of none), wrong
		// the largest number of readings of something else.
		right, wrong int
		// gross is the largest share of grossly wrong time in per cent.
		gross float64
		// ratio is the largest error over the bound, 0 for no claim.
		ratio float64
		// cover is the least share in per cent of track points whose interval holds
		// the truth, among the right readings.
		cover float64
	}{
		"steady":      {20, 1, 19, 0, 0, 1.4, 80},
		"steady-wide": {20, 1, 18, 1, 5, 1.4, 80},
		"ramp":        {10, 3, 5, 2, 10, 0, 90},
		"wow":         {6, 4, 5, 1, 10, 0, 75},
		"mains":       {4, 5, 3, 1, 15, 0, 85},
		"trial":       {8, 12, 6, 1, 20, 0, 85},
		"multiple":    {12, 3, 8, 4, 40, 0, 85},
		"hostile":     {9, 5, 6, 2, 15, 0, 80},
		"no-rotor":    {20, 3, 17, 0, 0, 0, 0},
		"coverage":    {10, 3, 6, 4, 40, 0, 75},
	}
	for _, c := range exam.Classes() {
		t.Run(c.Name, func(t *testing.T) {
			limit, known := limits[c.Name]
			if !known {
				t.Fatalf("no limits for this class: add them here")
			}
			draws := exam.Brief(c, seed, limit.draws, limit.seconds)
			if len(draws) < limit.draws {
				t.Fatalf("only %d draws of at most %g s, want %d", len(draws), limit.seconds, limit.draws)
			}
			out := exam.Examine(c, seed, draws, nil)
			rows := exam.Summarise(out)
			all, right := rows[0], rows[0]
			for _, r := range rows {
				switch r.Group {
				case "all":
					all, right = r, r
				case "right ones":
					right = r
				}
			}
			bad := all.Right < limit.right || all.Wrong > limit.wrong || all.Gross > limit.gross ||
				limit.ratio > 0 && !(right.Ratio <= limit.ratio) || limit.cover > 0 && !(right.CoverTrack >= limit.cover)
			if bad {
				t.Errorf("%d right of %d (want %d), %d wrong (at most %d), %.2f %% gross (at most %g), error/bound %.2f (at most %g), intervals hold %.1f %% (want %g)",
					all.Right, all.N, limit.right, all.Wrong, limit.wrong, all.Gross, limit.gross, right.Ratio, limit.ratio, right.CoverTrack, limit.cover)
				for _, o := range exam.Worst(out, 3) {
					t.Log(o)
				}
			} else {
				t.Logf("%d right of %d, %d wrong, %.2f %% gross, error/bound %.2f, intervals hold %.1f %%", all.Right, all.N, all.Wrong, all.Gross, right.Ratio, right.CoverTrack)
			}
		})
	}
}
