package pattern

import (
	"sync"
	"testing"
)

func TestRegexp(t *testing.T) {
	p := New(`^a(b+)c$`)
	if p.compiled != nil {
		t.Fatal("compiled before it was used")
	}
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			if m := p.Regexp().FindStringSubmatch("abbc"); len(m) != 2 || m[1] != "bb" {
				t.Errorf("got %q", m)
			}
		})
	}
	all.Wait()
	if p.Regexp() != p.Regexp() {
		t.Error("compiled twice")
	}
}

func TestBroken(t *testing.T) {
	p := New(`(`)
	for range 2 {
		func() {
			defer func() {
				if recover() == nil {
					t.Error("no panic")
				}
			}()
			p.Regexp().MatchString("x")
		}()
	}
}
