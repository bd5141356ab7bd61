package figure

import (
	"errors"
	"math"
	"strings"
	"testing"

	"rotorhum/tacho"
)

// Every intermediate can be drawn; the words beside it say what it shows.
func TestInspectionsAreDrawn(t *testing.T) {
	rec := hum(t, "hum.wav")
	in, err := tacho.Inspect(rec, tacho.Options{Pulses: 4})
	if err != nil {
		t.Fatal(err)
	}
	s, err := tacho.InspectFamily(rec, tacho.Options{Pulses: 4})
	if err != nil {
		t.Fatal(err)
	}
	if len(in.Fits) == 0 || len(in.Weighings) == 0 || s.Family == nil {
		t.Fatalf("%v\n%v", in, s)
	}
	for what, c := range map[string]struct {
		draw func(...View) (*Picture, error)
		says []string
	}{
		"floor":      {func(v ...View) (*Picture, error) { return Floor(s, v...) }, []string{"Noise floor: a line", "What the fitted lines leave"}},
		"evidence":   {func(v ...View) (*Picture, error) { return Evidence(s, v...) }, []string{"had to be reached", s.Family.Tone.Rounded()}},
		"stacks":     {func(v ...View) (*Picture, error) { return Stacks(s, nil, v...) }, []string{"nats together"}},
		"candidates": {func(v ...View) (*Picture, error) { return Candidates(in, v...) }, []string{"1 were taken for a rotor"}},
		"residuals":  {func(v ...View) (*Picture, error) { return Residuals(in.Fits[0], v...) }, []string{"with intervals"}},
		"harmonics":  {func(v ...View) (*Picture, error) { return Harmonics(in.Fits[0], v...) }, []string{"Noise alone"}},
		"readings":   {func(v ...View) (*Picture, error) { return Readings(in.Weighings[0], v...) }, []string{"for 1, ", "highest 0 at x = 0"}},
		"orders":     {func(v ...View) (*Picture, error) { return Orders(in.Weighings[0], v...) }, []string{"multiple of the pulse rate"}},
	} {
		p, err := c.draw(View{Title: "Why this line"})
		if err != nil {
			t.Errorf("%s: %v", what, err)
			continue
		}
		for _, want := range c.says {
			if !strings.Contains(p.Alt, want) {
				t.Errorf("%s: %q does not say %q", what, p.Alt, want)
			}
		}
		if _, err := p.Raster(1); err != nil {
			t.Errorf("%s: %v", what, err)
		}
		if _, err := c.draw(View{}, View{}); err == nil {
			t.Errorf("%s: two views were taken", what)
		}
	}
	// the map is darkest where the candidate with the most evidence is
	hm := candidateMap(in, [2]float64{0, in.Track.Seconds}, [2]float64{1, 4}, View{Width: 800, Height: 460})
	most, best := 0.0, tacho.Candidate{}
	for _, c := range in.Candidates {
		if c.Evidence > best.Evidence {
			best = c
		}
	}
	where := 0
	for i, e := range hm.level {
		if e > most {
			most, where = e, i
		}
	}
	row := (4 - math.Log10(float64(best.Tone))) / 3 * float64(hm.height)
	if most != best.Evidence || math.Abs(float64(where/hm.width)-row) > 3 {
		t.Errorf("darkest %g in row %d of %d, the best candidate is %+v", most, where/hm.width, hm.height, best)
	}
}

func TestInspectionsRefuse(t *testing.T) {
	empty := tacho.FamilySearch{}
	for what, err := range map[string]error{
		"floor":      errOf(Floor(nil)),
		"floor 0":    errOf(Floor(&empty)),
		"evidence":   errOf(Evidence(&empty)),
		"stacks":     errOf(Stacks(&empty, nil)),
		"candidates": errOf(Candidates(&tacho.Inspection{})),
		"residuals":  errOf(Residuals(nil)),
		"harmonics":  errOf(Harmonics(&tacho.PhaseFit{})),
		"readings":   errOf(Readings(&tacho.Weighing{})),
		"orders":     errOf(Orders(nil)),
	} {
		if !errors.Is(err, tacho.ErrTooShort) || !strings.Contains(err.Error(), "tacho.Inspect") {
			t.Errorf("%s of nothing: %v", what, err)
		}
	}
}

func errOf(_ *Picture, err error) error { return err }
