package player

import (
	"context"
	"fmt"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/show"
	"rotorhum/tacho"
	"rotorhum/tacho/figure"
	"rotorhum/tacho/synth"
)

// picture shows a picture, with the words of what it pictures as plain text.
func picture(pic *figure.Picture, err error, words string) (cell.Bundle, error) {
	if err != nil { // silence, say, has no picture
		return show.Bundle(words)
	}
	b, err := show.Bundle(pic)
	if err == nil {
		b.Data[show.TextPlain] = words
	}
	return b, err
}

// stoppable is picture for one that may take long: if the cell was interrupted,
// there is nothing to show.
func stoppable(ctx context.Context, pic *figure.Picture, err error, words string) (cell.Bundle, error) {
	if ctx.Err() != nil {
		return cell.Bundle{}, ctx.Err()
	}
	return picture(pic, err, words)
}

// take shows a synthetic recording: what is known about it, its sound.
func take(ctx context.Context, t *synth.Take) (cell.Bundle, error) {
	rec, err := tacho.NewRecording("synthetic sound", float64(t.Rate), t.Samples...)
	if err != nil {
		return show.Bundle(t.String())
	}
	return bundle(ctx, rec, t.String())
}

// beat shows the loudness of a rotor and the beat in it.
func beat(b *tacho.Beat) (cell.Bundle, error) {
	pic, err := figure.Plot(figure.Axes{Title: "Beat: " + b.Rate.String(), X: "time (s)", Y: "loudness (dB)"},
		figure.Dots("loudness", b.T, b.Level), figure.Line("trend and beat", b.T, b.Fitted))
	return picture(pic, err, b.String())
}

// simulation shows how the results are spread: for every value the share of them
// that lies below.
func simulation(s *tacho.Simulation) (cell.Bundle, error) {
	const steps = 200
	x, share := make([]float64, 2*steps), make([]float64, 2*steps)
	for i := range steps {
		p := 1 - float64(i)/steps
		x[i], x[2*steps-1-i] = s.Interval(p)
		share[i], share[2*steps-1-i] = 100*(1-p)/2, 100*(1+p)/2
	}
	axis := "result"
	if s.Unit != "" {
		axis = fmt.Sprintf("result (%s)", s.Unit)
	}
	pic, err := figure.Plot(figure.Axes{Title: s.String(), Note: fmt.Sprintf("%d draws", s.Draws), X: axis, Y: "results below (%)", YHi: 100},
		figure.Line("results below", x, share), figure.RuleX("mean", s.Mean))
	return picture(pic, err, s.String())
}

// peaks shows the lines of a spectrum as a table.
func peaks(list []tacho.Peak) (cell.Bundle, error) {
	rows := make([][]string, len(list))
	for i, p := range list {
		rows[i] = []string{p.Tone().String(), fmt.Sprintf("%.1f", p.DB()), fmt.Sprintf("%.1f", p.SNR)}
	}
	return show.Table([]string{"frequency", "level (dB re full scale)", "over the noise (dB)"}, rows)
}
