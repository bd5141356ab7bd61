package tacho

import "testing"

// Where each of two readings is followed the other is likelier: neither surely is, and the
// one that was followed stands first at even odds. Closed form.
func TestOnPar(t *testing.T) {
	list := []reading{{num: 2, den: 1, score: 30}, {num: 3, den: 2, score: 28}, {num: 1, den: 1, score: 27}, {num: 1, den: 2, score: 5}}
	if d := asFollowed(list); d != 3 {
		t.Errorf("the best is likelier by %g nats than the one followed, want 3", d)
	}
	want := []reading{{num: 1, den: 1, score: 30}, {num: 2, den: 1, score: 30}, {num: 3, den: 2, score: 28}, {num: 1, den: 2, score: 5}}
	for i, r := range onPar(list) {
		if r != want[i] {
			t.Errorf("reading %d is %v, want %v", i, r, want[i])
		}
	}
	if list[0].num != 2 {
		t.Error("the list itself was changed")
	}
}
