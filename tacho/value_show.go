package tacho

import (
	"fmt"
	"html"
	"math"
)

// HTML shows the value in a notebook: its number and unit, and below them its
// interval and where its uncertainty comes from.
func (v Value) HTML() string {
	out := `<div class="rotorhum"><b>` + html.EscapeString(v.String()) + `</b>`
	if v.U() > 0 {
		out += `<br>95 % interval ` + html.EscapeString(v.Between())
		rows := [][]string{}
		for _, s := range v.Budget() {
			rows = append(rows, []string{s.Name, formatSig(s.U, uncertaintyDigits), percent(s.Fraction)})
		}
		out += htmlTable([]string{"cause", "standard uncertainty (" + v.Unit + ")", "share"}, rows)
	}
	return out + `</div>`
}

// Between returns the 95 % interval in words, rounded as its width deserves,
// such as "62.16 to 62.84 rev/s".
func (v Value) Between() string {
	lo, hi := v.CI95()
	return formatInterval(lo, hi, v.Unit)
}

// Rounded returns the number and its unit, rounded to the uncertainty but
// without showing it, such as "62.50 rev/s".
func (v Value) Rounded() string {
	u := v.U()
	if !(u > 0) || math.IsInf(u, 1) || math.IsNaN(v.X) || math.IsInf(v.X, 0) {
		return v.String()
	}
	text, _, exp, power := rounded(v.X, u)
	if power {
		text += timesTen(exp)
	}
	return join(text, v.Unit)
}

// percent prints a share, from 0 to 1, of an uncertainty.
func percent(share float64) string {
	if share > 0 && share < 0.005 {
		return "< 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*share)
}

// counted prints a number of things, such as "1 line" or "3 lines".
func counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
