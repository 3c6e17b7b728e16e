package photo

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// solveLinear solves the n equations a x = b, a row by row, and leaves x in b; a is
// used up. It reports whether every pivot was above leastPivot.
func solveLinear(a, b []float64, leastPivot float64) bool {
	n := len(b)
	m := blas64.General{Rows: n, Cols: n, Stride: n, Data: a}
	rows := make([]int, n)
	lapack64.Getrf(m, rows)
	for i := range n {
		if !(math.Abs(a[i*n+i]) > leastPivot) {
			return false
		}
	}
	lapack64.Getrs(blas.NoTrans, m, blas64.General{Rows: n, Cols: 1, Stride: 1, Data: b}, rows)
	return true
}

// leastSquares solves the weighted normal equations with a little damping, so that
// it always answers.
func leastSquares(rows [][]float64, weight []float64, n int, value func(i int) float64) []float64 {
	a, b := make([]float64, n*n), make([]float64, n)
	for i := range n {
		a[i*n+i] = 1e-9
	}
	for k, row := range rows {
		w, v := weight[k], value(k)
		for i := range n {
			for j := range n {
				a[i*n+j] += w * row[i] * row[j]
			}
			b[i] += w * row[i] * v
		}
	}
	if !solveLinear(a, b, 0) {
		clear(b)
	}
	return b
}
