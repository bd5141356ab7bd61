package synth_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"rotorhum/tacho/synth"
)

func TestSignalsCombine(t *testing.T) {
	a, b := []float64{1, 2, 3}, []float64{10, 20}
	cases := []struct {
		name      string
		got, want []float64
	}{
		{"Sum", synth.Sum(a, b), []float64{11, 22, 3}},
		{"Sum of nothing", synth.Sum(), []float64{}},
		{"Scaled", synth.Scaled(a, -2), []float64{-2, -4, -6}},
		{"Join", synth.Join(a, nil, b), []float64{1, 2, 3, 10, 20}},
		{"Every 1", synth.Every(a, 1), a},
		{"Every 2", synth.Every(a, 2), []float64{1, 3}},
		{"Every 9", synth.Every(a, 9), []float64{1}},
		{"Every of nothing", synth.Every(nil, 2), nil},
	}
	for _, c := range cases {
		if !slices.Equal(c.got, c.want) {
			t.Errorf("%s = %v, want %v", c.name, c.got, c.want)
		}
	}
	if a[0] != 1 || b[0] != 10 {
		t.Error("the arguments were modified")
	}
}

// Every fourth sample of 7 kHz at 24 kHz is 1 kHz at 6 kHz: 7 - 6 = 1.
func ExampleEvery() {
	fast := synth.Tone(7000, 24000, 24)
	slow := synth.Every(fast, 4)
	want := synth.Tone(1000, 6000, 6)
	for i, v := range slow {
		if math.Abs(v-want[i]) > 1e-12 {
			fmt.Println("not the same tone")
		}
	}
	fmt.Println(len(slow), "samples, the same as a tone of 1 kHz")
	// Output:
	// 6 samples, the same as a tone of 1 kHz
}
