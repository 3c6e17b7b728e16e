package web

import (
	"strings"

	"benchleaf/internal/record"
)

// kindWords names a kind of entry for a person.
func kindWords(k record.Kind) string { return strings.ReplaceAll(string(k), "-", " ") }
