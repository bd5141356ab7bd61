package live

import (
	"fmt"
	"image"
	"math"
	"slices"
	"strings"

	"rotorhum/tacho"
)

// View says what a [Screen] shows. The zero value is a good choice.
type View struct {
	// Seconds is the length of sound that is seen; 0 stands for 10.
	Seconds float64
	// Width and Height are in CSS pixels; 0 stands for 960 and 480. Type grows with
	// them.
	Width, Height int
	// Hi is the highest frequency that is seen, in hertz; 0 lets the rotor choose.
	Hi tacho.Hertz
}

// Screen is the rolling picture of what a [Follower] hears: the spectrogram of the
// last seconds with the lines of the rotor over it, the present speed and the
// highest so far with their intervals, and the level. It is for one goroutine at a
// time, which need not be that of the Follower.
type Screen struct {
	view  View
	scale float64 // of type and rooms, 1 at the usual size
	// of the follower: spacing and end of its columns in hertz
	df, nyquist float64
	top         float64 // highest frequency that is shown
	// range of levels in dB
	lo, hi  float64
	columns []column // the newest last
	room    int      // columns that are seen
	now     Reading
	board   *board
	// sure counts the readings that ask for another top frequency
	sure int
	// clipped counts down the readings for which a warning stays
	clipped int
	peak    float64 // highest level of late, dB
}

// column is what is kept of a reading.
type column struct {
	level []float32
	shade []uint8 // by row, from the bottom
	hz    float64 // 0: not heard
	at    float64
}

// The least and the largest size of a screen.
const leastWidth, leastHeight, mostSize = 640, 320, 4096

// NewScreen returns an empty screen for the readings of f. It returns ErrOption for
// a size below 640 by 320 or above 4096, for less than 1 or more than 120 seconds,
// and for a highest frequency that is no positive number.
func NewScreen(f *Follower, view View) (*Screen, error) {
	if view.Seconds == 0 {
		view.Seconds = 10
	}
	if view.Width == 0 {
		view.Width = 960
	}
	if view.Height == 0 {
		view.Height = 480
	}
	switch {
	case f == nil:
		return nil, fmt.Errorf("%w: a screen needs a follower", tacho.ErrOption)
	case view.Width < leastWidth || view.Height < leastHeight || view.Width > mostSize || view.Height > mostSize:
		return nil, fmt.Errorf("%w: a screen of %d by %d: choose from %d by %d to %d by %d", tacho.ErrOption, view.Width, view.Height, leastWidth, leastHeight, mostSize, mostSize)
	case !(view.Seconds >= 1 && view.Seconds <= 120):
		return nil, fmt.Errorf("%w: a screen of %g s: choose from 1 to 120", tacho.ErrOption, view.Seconds)
	case !(view.Hi >= 0) || math.IsInf(float64(view.Hi), 1):
		return nil, fmt.Errorf("%w: highest frequency %v: give one above 0 Hz", tacho.ErrOption, view.Hi)
	}
	scale := math.Max(1, math.Min(float64(view.Width)/960, float64(view.Height)/480))
	s := &Screen{view: view, scale: scale, df: f.columns.df, nyquist: f.intake.fs / 2, lo: -90, hi: -40, room: int(math.Round(view.Seconds / Step)), peak: math.Inf(-1)}
	s.top = float64(view.Hi)
	if s.top == 0 {
		s.top = 2000
	}
	s.top = math.Min(s.top, s.nyquist)
	s.board = &board{image.NewPaletted(image.Rect(0, 0, view.Width, view.Height), screenPalette), letters{}}
	return s, nil
}

// Add takes in readings, in the order in which they came.
func (s *Screen) Add(readings ...Reading) {
	for _, r := range readings {
		c := column{level: r.Column, at: r.At}
		if r.Heard {
			c.hz = r.Tone.X
		}
		s.columns = append(s.columns, c)
		if drop := len(s.columns) - s.room; drop > 0 {
			s.columns = slices.Delete(s.columns, 0, drop)
		}
		s.now = r
		if r.Clipped {
			s.clipped = int(1.5 / Step)
		} else if s.clipped > 0 {
			s.clipped--
		}
		s.peak = math.Max(r.Peak, s.peak-20*Step) // falls by 20 dB a second
		s.fit(r)
	}
}

// fit chooses frequencies and levels so that the rotor is seen, and seldom changes
// its mind.
func (s *Screen) fit(r Reading) {
	if s.view.Hi == 0 && r.Heard {
		want := 400.0
		for want < 4.6*r.Tone.X {
			want *= 2
		}
		want = math.Min(want, s.nyquist)
		highest := 0.0
		for _, c := range s.columns {
			highest = math.Max(highest, c.hz)
		}
		switch {
		case want > s.top:
			s.top, s.sure = want, 0
			s.forget()
		case want < s.top && 4.6*highest < s.top/2:
			if s.sure++; s.sure > int(2/Step) {
				s.top, s.sure = math.Max(want, s.top/2), 0
				s.forget()
			}
		default:
			s.sure = 0
		}
	}
	// the colours once a second
	if int(r.At/Step+0.5)%int(1/Step) != 0 && len(s.columns) > int(1/Step) {
		return
	}
	var all []float64
	for i := max(0, len(s.columns)-int(5/Step)); i < len(s.columns); i += 2 {
		for k, v := range s.columns[i].level {
			if float64(k)*s.df > s.top {
				break
			}
			if v > -180 {
				all = append(all, float64(v))
			}
		}
	}
	if len(all) == 0 {
		return
	}
	slices.Sort(all)
	hi := 5 * math.Ceil(all[len(all)-1-len(all)/2000]/5)
	lo := 5 * math.Floor(all[len(all)*6/10]/5)
	lo = math.Min(math.Max(lo, hi-70), hi-30)
	if math.Abs(hi-s.hi) > 5 || math.Abs(lo-s.lo) > 5 {
		s.lo, s.hi = lo, hi
		s.forget()
	}
}

// forget makes all columns be shaded anew.
func (s *Screen) forget() {
	for i := range s.columns {
		s.columns[i].shade = nil
	}
}

// shade fills in the colours of a column, rows of them from the bottom.
func (s *Screen) shade(c *column, rows int) {
	if len(c.shade) == rows {
		return
	}
	c.shade = make([]uint8, rows)
	df := s.df
	for y := range c.shade {
		a, b := float64(y)*s.top/float64(rows)/df, float64(y+1)*s.top/float64(rows)/df
		var v float64
		if b-a < 1 { // between two bins: joined by a straight line
			mid := (a + b) / 2
			k := min(int(mid), len(c.level)-2)
			v = float64(c.level[k]) + (mid-float64(k))*float64(c.level[k+1]-c.level[k])
		} else { // several bins: the loudest, so that no line is lost
			v = math.Inf(-1)
			for k := int(a + 0.5); k <= int(b+0.5) && k < len(c.level); k++ {
				v = math.Max(v, float64(c.level[k]))
			}
		}
		t := math.Min(1, math.Max(0, (v-s.lo)/(s.hi-s.lo)))
		c.shade[y] = uint8(t*(heatSteps-1) + 0.5)
	}
}

// Size returns the width and height at which the picture is meant to be shown, in
// CSS pixels.
func (s *Screen) Size() (width, height int) { return s.view.Width, s.view.Height }

// String returns the alternative text: what the picture shows, in words.
func (s *Screen) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "Listening live, at %.1f s: the spectrogram of the last %g s up to %.4g Hz.", s.now.At, s.view.Seconds, s.top)
	if s.now.Heard {
		fmt.Fprintf(&b, " The speed is %s (95 %%: %s), %s.", s.now.Speed.Rounded(), s.now.Speed.Between(), s.now.RPM().Rounded())
	} else if s.now.Why != "" {
		fmt.Fprintf(&b, " Not heard: %s.", s.now.Why)
	}
	if h := s.now.Highest; h != nil {
		fmt.Fprintf(&b, " The highest so far is %s at %.2f s (95 %%: %s).", h.Speed.Rounded(), h.T, h.Speed.Between())
	}
	fmt.Fprintf(&b, " Level %s.", levelText(s.now.Level))
	if s.clipped > 0 {
		b.WriteString(" The sound is clipped: turn the gain down or move the microphone away.")
	}
	return b.String()
}

// levelText writes a level in whole decibels.
func levelText(db float64) string {
	if math.IsInf(db, -1) {
		return "silent"
	}
	return strings.ReplaceAll(fmt.Sprintf("%.0f dB", db), "-", "−")
}
