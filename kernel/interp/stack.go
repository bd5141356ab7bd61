package interp

import (
	"go/token"

	"github.com/cosmos72/gomacro/fast"
)

// maxFrames bounds the call stack that is reported.
const maxFrames = 60

// frame is one interpreted function in a call stack.
type frame struct {
	fn  string // "" for the cell itself
	pos token.Pos
	env *fast.Env // where it was, for the innermost function only
}

// callStack lists the interpreted functions that are active in env, innermost
// first.
func callStack(env *fast.Env) []frame {
	var out []frame
	inner := env
	for hops := 0; env != nil && len(out) < maxFrames && hops < 100_000; hops++ {
		if env.Caller == nil && env.Outer != nil && env.FileEnv != env {
			env = env.Outer // a block inside a function
			continue
		}
		f := frame{}
		if c := env.DebugComp; c != nil && c.FuncMaker != nil {
			if f.fn = c.FuncMaker.Name; f.fn == "" {
				f.fn = "func literal"
			}
		}
		if ip := inner.IP; ip >= 0 && ip < len(inner.DebugPos) {
			f.pos = inner.DebugPos[ip]
		}
		if len(out) == 0 {
			f.env = inner
		}
		out = append(out, f)
		env = env.Caller
		inner = env
	}
	return out
}
