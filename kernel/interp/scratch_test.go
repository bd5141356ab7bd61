package interp_test

import (
	"os"
	"strings"
	"testing"
)

func TestScratch(t *testing.T) {
	b := start(t)
	for _, code := range strings.Split(os.Getenv("SCRATCH"), "----") {
		r, o := b.run(code)
		t.Logf("%s\n=> %q %q", code, r.out.String(), r.err.String())
		if len(r.order) > 0 {
			t.Log(r.order, r.shown)
		}
		if o.Result != nil {
			t.Log(o.Result.Data)
		}
		if o.Fault != nil {
			t.Log(strings.Join(o.Fault.Traceback, "\n"))
		}
	}
}
