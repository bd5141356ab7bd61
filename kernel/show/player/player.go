// Package player shows the results of tacho in notebooks that do not show
// themselves: recordings, with the waveform to look at and a player to listen
// with; spectra, spectrograms, beats and simulations as pictures; the peaks of a
// spectrum as a table; and measurements, with their JSON for programs.
package player

import (
	"context"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"html"
	"math"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/show"
	"rotorhum/tacho"
	"rotorhum/tacho/figure"
	"rotorhum/tacho/synth"
)

// maxBytes bounds the sound that goes into a notebook. Longer recordings are
// played from their beginning as far as it reaches.
const maxBytes = 4 << 20

// Render renders results of tacho; it reports false for any other value. It ends
// early with the context.
func Render(ctx context.Context, v any) (b cell.Bundle, ok bool, err error) {
	switch v := v.(type) {
	case *tacho.Recording:
		if v != nil {
			b, err = Bundle(ctx, v)
			return b, true, err
		}
	case *tacho.Measurement:
		if v != nil {
			b, err = measurement(v)
			return b, true, err
		}
	case *tacho.Spectrum:
		if v != nil {
			pic, err := figure.Spectrum(v, nil, figure.View{Context: ctx})
			b, err = stoppable(ctx, pic, err, v.String())
			return b, true, err
		}
	case *tacho.Spectrogram:
		if v != nil {
			pic, err := figure.Spectrogram(v, nil, figure.View{Context: ctx})
			b, err = stoppable(ctx, pic, err, v.String())
			return b, true, err
		}
	case *tacho.Beat:
		if v != nil {
			b, err = beat(v)
			return b, true, err
		}
	case *tacho.Simulation:
		if v != nil {
			b, err = simulation(v)
			return b, true, err
		}
	case []tacho.Peak:
		if len(v) > 0 {
			b, err = peaks(v)
			return b, true, err
		}
	case *synth.Take:
		if v != nil {
			b, err = take(ctx, v)
			return b, true, err
		}
	}
	return cell.Bundle{}, false, nil
}

// Bundle shows a recording: what it is in words, its waveform, and a player of
// its channels mixed to one.
func Bundle(ctx context.Context, rec *tacho.Recording) (cell.Bundle, error) {
	return bundle(ctx, rec, rec.String())
}

// bundle shows a recording under the given words.
func bundle(ctx context.Context, rec *tacho.Recording, words string) (cell.Bundle, error) {
	pic, err := figure.Waveform(rec, figure.View{Context: ctx})
	if err != nil {
		return cell.Bundle{}, err
	}
	png, err := pic.PNG()
	if err != nil {
		return cell.Bundle{}, err
	}
	sound, seconds, err := wav(rec)
	if err != nil {
		return cell.Bundle{}, err
	}
	w, h := pic.Size()
	note := ""
	if seconds < rec.Seconds() {
		note = fmt.Sprintf("<div>the player has the first %.0f s of %.0f s</div>", seconds, rec.Seconds())
	}
	// A player is of no use on paper.
	source := fmt.Sprintf(`<div class="rotorhum"><style>@media print { .rotorhum audio { display: none } }</style><div>%s</div><img width="%d" height="%d" alt="%s" src="data:image/png;base64,%s"><br><audio controls preload="metadata" src="data:audio/wav;base64,%s"></audio>%s</div>`,
		html.EscapeString(words), w, h, html.EscapeString(pic.Alt),
		base64.StdEncoding.EncodeToString(png), base64.StdEncoding.EncodeToString(sound), note)
	return cell.Bundle{Data: map[string]any{show.TextPlain: words, show.TextHTML: source}, Metadata: map[string]any{}}, nil
}

// wav returns the beginning of a recording, mixed to one channel, as a WAV file
// of 16 bits, and its length in seconds. Samples beyond full scale are limited.
func wav(rec *tacho.Recording) (file []byte, seconds float64, err error) {
	fs := int(math.Round(rec.Rate))
	n := min(rec.Frames, maxBytes/2)
	pcm := make([]float64, n)
	buf := make([]float64, n)
	for ch := range rec.Channels {
		if _, err := rec.Block(ch, 0, buf); err != nil {
			return nil, 0, err
		}
		for i, x := range buf {
			pcm[i] += x / float64(rec.Channels)
		}
	}
	const header = 44
	file = make([]byte, header+2*n)
	le := binary.LittleEndian
	copy(file, "RIFF")
	le.PutUint32(file[4:], uint32(len(file)-8))
	copy(file[8:], "WAVEfmt ")
	le.PutUint32(file[16:], 16)           // bytes of the format
	le.PutUint16(file[20:], 1)            // integers
	le.PutUint16(file[22:], 1)            // channels
	le.PutUint32(file[24:], uint32(fs))   // frames per second
	le.PutUint32(file[28:], uint32(2*fs)) // bytes per second
	le.PutUint16(file[32:], 2)            // bytes per frame
	le.PutUint16(file[34:], 16)           // bits per sample
	copy(file[36:], "data")
	le.PutUint32(file[40:], uint32(2*n))
	for i, x := range pcm {
		s := math.Round(x * 32768)
		le.PutUint16(file[header+2*i:], uint16(int16(min(max(s, -32768), 32767))))
	}
	return file, float64(n) / float64(fs), nil
}
