package synth

import (
	"fmt"
	"math"
)

// stage is a scene about to be performed: everything compiled and sized.
type stage struct {
	*work
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

func (s Scene) stage(w Watch) (*stage, error) {
	st := &stage{
		work:     &work{Watch: w},
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
	if s.Room != nil {
		st.lead += int(s.Room.lead() * st.fs)
	}
	for i, r := range s.Rotors {
		p, err := s.player(i, r)
		if err != nil {
			return nil, err
		}
		st.players = append(st.players, p)
	}
	st.parts = len(st.players) + len(s.Voices) + len(s.Music) + len(s.Clicks) + len(st.channels)*(1+len(s.Noise)+len(s.Mains))
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
		if st.err() != nil {
			return
		}
		tone, jet := st.dry, p.startJet(st, i)
		if i > 0 {
			tone = make([]float64, len(st.dry))
		}
		power := p.play(tone, jet, st, i)
		p.gain = 1
		if i == 0 {
			st.linePower = power
			if power > 0 {
				st.reference = power
			}
		} else {
			if p.Level == 0 && power > 0 {
				p.gain = math.Sqrt(st.reference * dB(p.LevelDB) / power)
			}
			add(st.dry, tone, p.gain)
		}
		if jet != nil {
			add(st.dry, jet.out, st.amplitude(jet.LevelDB))
		}
		st.finish()
	}
	seed, n := st.scene.Seed, len(st.dry)
	for i, v := range st.scene.Voices {
		if st.err() != nil {
			return
		}
		add(st.dry, v.render(st.work, stream(seed, streamVoice, i), st.fs, n), st.amplitude(v.LevelDB))
		st.finish()
	}
	for i, m := range st.scene.Music {
		if st.err() != nil {
			return
		}
		add(st.dry, m.render(st.work, stream(seed, streamMusic, i), st.fs, n), st.amplitude(m.LevelDB))
		st.finish()
	}
	for i, c := range st.scene.Clicks {
		c.addTo(st.work, st.dry, st.amplitude(c.LevelDB), st.fs, stream(seed, streamClicks, i))
		st.finish()
	}
}

// amplitude returns the RMS value of a sound at level dB over the reference.
func (st *stage) amplitude(level float64) float64 { return math.Sqrt(st.reference * dB(level)) }

// add adds gain times src to dst.
func add(dst, src []float64, gain float64) {
	for i, v := range src {
		dst[i] += gain * v
	}
}

// play adds the rotor's lines to tone and returns their power, mean over the
// time the rotor turns at 2 % of its highest speed or more.
func (p *player) play(tone []float64, jet *jetting, st *stage, index int) float64 {
	h := 1 / st.fs
	top := p.about.PeakSpeed
	var beat *beating
	if p.Beat != nil {
		beat = &beating{Beat: *p.Beat}
	}
	var waver *table
	if p.Waver > 0 {
		w := newSwell(stream(st.scene.Seed, streamWaver, index), p.Waver, 0.3, 4, float64(len(tone))*h)
		waver = &w
	}
	var uneven *jitter
	if p.Jitter > 0 {
		uneven = newJitter(stream(st.scene.Seed, streamJitter, index), p.Jitter, p.StartTurn*float64(p.Pulses))
	}
	turn, early := p.StartTurn, 0.0
	before := p.curve(-float64(st.lead) * h)
	fr, loudness := math.NaN(), 0.0
	power, turning := 0.0, 0
	for from, to := range st.pieces(len(tone)) {
		for i := from; i < to; i++ {
			t := float64(i-st.lead) * h
			now := p.curve(t)
			if i > 0 {
				turn += (before + now) / 2 * h
				turn -= math.Floor(turn)
				if uneven != nil {
					early = uneven.step((before+now)/2*h*float64(p.Pulses)) / float64(p.Pulses)
				}
			}
			before = now
			if now != fr {
				fr, loudness = now, p.loudness(now, top)
			}
			gain := loudness
			if beat != nil {
				gain *= beat.step(fr, h)
			}
			if waver != nil {
				gain *= waver.at(float64(i) * h)
			}
			if jet != nil {
				jet.blow(i, t, turn, fr)
			}
			if loudness == 0 {
				continue
			}
			tone[i] += gain * p.timbre.at(turn+early, fr*h)
			if fr >= restFraction*top {
				power += gain * gain * p.timbre.powerAt(fr*h)
				turning++
			}
		}
	}
	if turning == 0 {
		return 0
	}
	return power / float64(turning)
}

// hear returns what the microphone of channel c takes down.
func (st *stage) hear(c int) []float64 {
	ch := st.channels[c]
	sound := st.dry
	if room := st.scene.Room; room != nil {
		sound = convolve(st.work, sound, room.response(stream(st.scene.Seed, streamRoom, c), st.fs))
	}
	x := make([]float64, st.n)
	gain := math.Sqrt(dB(ch.Gain))
	if ch.Inverted {
		gain = -gain
	}
	delayed(st.work, x, sound, float64(st.lead)-ch.Delay*st.fs, gain)
	st.addNoise(x, c, false)
	if m := st.scene.Microphone; m != nil {
		m.apply(st.work, x, st.fs)
	}
	st.addNoise(x, c, true)
	st.finish()
	return x
}

// addNoise adds the noise and the hum that arise before the microphone's
// roll-off, or those that arise behind it.
func (st *stage) addNoise(x []float64, c int, electronic bool) {
	seed := st.scene.Seed
	for i, v := range st.scene.Noise {
		if v.Electronic != electronic || st.err() != nil {
			continue
		}
		sd := st.amplitude(-v.SNR)
		if c == 0 {
			st.noisePower += sd * sd
		}
		which := 64 * i
		if !v.Common {
			which += c
		}
		add(x, v.render(st.work, stream(seed, streamNoise, which), sd, st.fs, st.n), 1)
		st.finish()
	}
	for i, m := range st.scene.Mains {
		if m.Electronic == electronic {
			a := st.amplitude(m.LevelDB)
			m.addTo(st.work, x, a*a, st.fs, seed, i)
			st.finish()
		}
	}
}

// dB returns the ratio of powers for a level in decibels.
func dB(level float64) float64 { return math.Pow(10, level/10) }
