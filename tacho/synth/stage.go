package synth

import (
	"fmt"
	"math"
)

// stage is a scene about to be performed: everything compiled and sized.
type stage struct {
	scene    Scene
	fs       float64 // samples per second that the recorder really takes
	n        int     // samples of the recording
	lead     int     // samples rendered before it, so that echoes are under way
	channels []Channel
	players  []*player

	dry        []float64 // lead + n samples and a few: all that sounds in the room
	linePower  float64   // of the first rotor
	reference  float64   // power that levels in dB are relative to
	noisePower float64
}

// player is a rotor with its speed curve and its lines worked out.
type player struct {
	Rotor
	about  Truth
	curve  func(t float64) float64 // true time to rev/s
	lines  []Line
	timbre timbre
	gain   float64 // set by perform
}

func (s Scene) stage() (*stage, error) {
	st := &stage{
		scene:    s,
		fs:       float64(s.Rate) * (1 + s.ClockPPM*1e-6),
		n:        int(math.Round(s.Seconds * float64(s.Rate))),
		channels: s.Channels,
	}
	if len(st.channels) == 0 {
		st.channels = []Channel{{}}
	}
	for _, c := range st.channels {
		if c.Delay > 0 {
			st.lead = max(st.lead, int(math.Ceil(c.Delay*st.fs))+delayReach)
		}
	}
	for i, r := range s.Rotors {
		p, err := s.player(i, r)
		if err != nil {
			return nil, err
		}
		st.players = append(st.players, p)
	}
	return st, nil
}

func (s Scene) player(i int, r Rotor) (*player, error) {
	p := &player{Rotor: r}
	if r.Speed != nil {
		p.curve = func(t float64) float64 { return r.Speed(math.Max(0, t)) }
	} else {
		curve, err := r.Profile.Curve(s.Seconds*1.02, s.Seed+uint64(i))
		if err != nil {
			return nil, fmt.Errorf("scene: rotor %d: %w", i+1, err)
		}
		p.curve = curve
	}
	if r.RandomPhases {
		p.StartTurn += stream(s.Seed, streamPhases, 1000+i).Float64()
	}
	p.lines = r.lines(s.Seed, i)
	p.timbre = newTimbre(p.lines)
	clock := 1 + s.ClockPPM*1e-6
	p.about = Truth{
		Name: r.Name, Pulses: r.Pulses, TipRadius: r.TipRadius,
		speed: func(t float64) float64 { return p.curve(t / clock) },
	}
	if err := p.about.survey(s.Seconds, r.loudness); err != nil {
		return nil, fmt.Errorf("scene: rotor %d: %w", i+1, err)
	}
	p.about.Turns /= clock
	return p, nil
}

// truth returns the truth with amplitudes as they are in the recording.
func (p *player) truth(scale float64) Truth {
	t := p.about
	for _, l := range p.lines {
		l.Amplitude *= p.gain * scale
		t.Lines = append(t.Lines, l)
	}
	return t
}

// perform lets everything in the room sound, into st.dry.
func (st *stage) perform() {
	st.dry = make([]float64, st.lead+st.n+delayReach)
	st.reference = defaultLevel * defaultLevel
	for i, p := range st.players {
		tone := st.dry
		if i > 0 {
			tone = make([]float64, len(st.dry))
		}
		power := p.play(tone, st, i)
		p.gain = 1
		switch {
		case i == 0:
			st.linePower = power
			if power > 0 {
				st.reference = power
			}
		default:
			if p.Level == 0 && power > 0 {
				p.gain = math.Sqrt(st.reference * dB(p.LevelDB) / power)
			}
			for j, v := range tone {
				st.dry[j] += p.gain * v
			}
		}
	}
}

// play adds the rotor's lines to tone and returns their power, mean over the
// time the rotor turns at 2 % of its highest speed or more.
func (p *player) play(tone []float64, st *stage, index int) float64 {
	h := 1 / st.fs
	top := p.about.PeakSpeed
	turn := p.StartTurn
	before := p.curve(-float64(st.lead) * h)
	fr, gain := math.NaN(), 0.0
	power, turning := 0.0, 0
	for i := range tone {
		t := float64(i-st.lead) * h
		now := p.curve(t)
		if i > 0 {
			turn += (before + now) / 2 * h
			turn -= math.Floor(turn)
		}
		before = now
		if now != fr {
			fr, gain = now, p.loudness(now, top)
		}
		if gain == 0 {
			continue
		}
		tone[i] += gain * p.timbre.at(turn, fr*h)
		if fr >= restFraction*top {
			power += gain * gain * p.timbre.powerAt(fr*h)
			turning++
		}
	}
	if turning == 0 {
		return 0
	}
	return power / float64(turning)
}

// hear returns what channel c of the recorder takes down.
func (st *stage) hear(c int) []float64 {
	ch := st.channels[c]
	x := make([]float64, st.n)
	g := math.Sqrt(dB(ch.Gain))
	if ch.Inverted {
		g = -g
	}
	delayed(x, st.dry, float64(st.lead)-ch.Delay*st.fs, g)
	for i, v := range st.scene.Noise {
		variance := st.reference / dB(v.SNR)
		if c == 0 {
			st.noisePower += variance
		}
		which := 64 * i
		if !v.Common {
			which += c
		}
		for j, e := range v.render(stream(st.scene.Seed, streamNoise, which), math.Sqrt(variance), st.fs, st.n) {
			x[j] += e
		}
	}
	return x
}

// dB returns the ratio of powers for a level in decibels.
func dB(level float64) float64 { return math.Pow(10, level/10) }
