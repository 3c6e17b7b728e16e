package solution

import "testing"

// A grade is the viscosity of its 2 % solution: the equation gives it back. Above 2 %
// it rises by about the fifth power or more for a thick grade (makers' curves fall between
// the fifth and the eighth; memory), and a thicker grade is thicker at any strength.
func TestCelluloseViscosity(t *testing.T) {
	last := 0.0
	for _, grade := range []float64{15, 400, 1500, 4000} {
		two, err := CelluloseViscosity(grade, 2)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "the grade", two.Best, grade, 1e-9)
		four, err := CelluloseViscosity(grade, 4)
		if err != nil || four.Best <= two.Best || four.Low > four.Best || four.Best <= last {
			t.Errorf("grade %g at 4 %%: %v, %v", grade, four, err)
		}
		if rise := four.Best / two.Best; grade >= 400 && (rise < 20 || rise > 256) {
			t.Errorf("grade %g: twice the strength is %.0f times as thick", grade, rise)
		}
		last = four.Best
	}
	for _, bad := range [][2]float64{{0, 2}, {4000, 0}, {4000, 20}, {1e9, 2}} {
		if _, err := CelluloseViscosity(bad[0], bad[1]); err == nil {
			t.Errorf("grade %g at %g %% is answered", bad[0], bad[1])
		}
	}
}
