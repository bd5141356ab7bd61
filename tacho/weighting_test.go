package tacho

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
)

// IEC 61672-1:2013, Table 3: 34 bands, A and C, printed to 0.1 dB. The printed
// values hold at the exact frequencies, not at the nominal ones: there 12.5 Hz
// would be 0.2 dB off.
func TestWeightingAgainstIEC61672(t *testing.T) {
	file, err := os.Open("testdata/weighting_iec61672.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, worst := 0, 0.0
	for lines := bufio.NewScanner(file); lines.Scan(); {
		var n int
		var nominal, a, c float64
		if _, err := fmt.Sscanf(strings.ReplaceAll(lines.Text(), ",", " "), "%d %g %g %g", &n, &nominal, &a, &c); err != nil {
			continue
		}
		rows++
		f := Hertz(1000 * math.Pow(10, float64(n-30)/10))
		if math.Abs(float64(f)/nominal-1) > 0.02 {
			t.Errorf("row %d: %g Hz, nominal %g Hz", n, f, nominal)
		}
		for _, d := range []float64{AWeighting(f) - a, CWeighting(f) - c} {
			worst = max(worst, math.Abs(d))
			if math.Abs(d) > 0.0505 {
				t.Errorf("%g Hz: differs by %.3f dB", nominal, d)
			}
		}
	}
	if rows != 34 {
		t.Errorf("%d rows, want 34", rows)
	}
	t.Logf("worst difference %.4f dB", worst)
	if a, c := AWeighting(1000), CWeighting(1000); a != 0 || c != 0 || !math.IsInf(AWeighting(0), -1) {
		t.Errorf("at 1 kHz A %v, C %v; at 0 Hz A %v", a, c, AWeighting(0))
	}
}
