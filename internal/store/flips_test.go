package store

import (
	"os"
	"strconv"
	"testing"
)

// flips is how often something is damaged: a few times in an ordinary run, more
// where BENCHLEAF_FLIPS says how many times as often.
func flips(t *testing.T, few int) int {
	t.Helper()
	n, err := strconv.Atoi(os.Getenv("BENCHLEAF_FLIPS"))
	if err != nil || n < 1 {
		return few
	}
	return few * n
}
