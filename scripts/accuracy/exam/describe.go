package exam

import (
	"fmt"

	"rotorhum/tacho"
)

// describe puts a case in a line.
func (k Case) describe() string {
	s := k.Scene
	text := fmt.Sprintf("%d Hz %.2f s", s.Rate, s.Seconds)
	for _, p := range s.Rotors {
		text += fmt.Sprintf(" | rotor z %d %s", p.Pulses, p.Profile.Kind)
		if len(p.Harmonics) > 0 {
			text += fmt.Sprintf(" harm %.2f", p.Harmonics)
		} else {
			text += fmt.Sprintf(" width %.3f", p.PulseWidth)
		}
		if p.Jitter > 0 {
			text += fmt.Sprintf(" jitter %.2g %%", 100*p.Jitter)
		}
		if p.GainSpread > 0 || p.AngleSpread > 0 {
			text += fmt.Sprintf(" unlike %.2f/%.3f", p.GainSpread, p.AngleSpread)
		}
		if p.OncePerTurn > 0 {
			text += fmt.Sprintf(" once %.1f", p.OncePerTurn)
		}
		if p.Growth > 0 {
			text += fmt.Sprintf(" growth %g", p.Growth)
		}
		if p.Waver > 0 {
			text += fmt.Sprintf(" waver %.1f dB", p.Waver)
		}
		if p.Jet != nil {
			text += fmt.Sprintf(" jet %.0f dB", p.Jet.LevelDB)
		}
		for _, w := range p.Profile.Wow {
			text += fmt.Sprintf(" wow %.2f Hz %.2f %%", w.Rate, 100*w.Depth)
		}
	}
	for _, v := range s.Noise {
		text += fmt.Sprintf(" | noise %.1f dB %.1f dB/oct", v.SNR, v.Slope)
	}
	for _, m := range s.Mains {
		text += fmt.Sprintf(" | hum %.2f Hz %.0f dB", m.Hz, m.LevelDB)
	}
	if n := len(s.Voices); n > 0 {
		text += fmt.Sprintf(" | %d voices", n)
	}
	if n := len(s.Music); n > 0 {
		text += fmt.Sprintf(" | music in %d parts, %.0f/min", s.Music[0].Parts, s.Music[0].Tempo)
	}
	if s.Room != nil {
		text += fmt.Sprintf(" | room %.2f s %.0f dB", s.Room.RT60, s.Room.Direct)
	}
	if k.Options.Pulses > 0 {
		text += fmt.Sprintf(" | told z %d", k.Options.Pulses)
	}
	if k.Options.Range != (tacho.Range{}) {
		text += " | range " + rangeText(k.Options.Range)
	}
	return text
}
