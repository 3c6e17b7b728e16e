package web

import (
	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
)

// after puts a word before s, unless s is empty.
func after(before, s string) string {
	if s == "" {
		return ""
	}
	return before + s
}

func orElse(s, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return s
}

// operationChoices are all operations, as choices.
func operationChoices() []record.Choice {
	var list []record.Choice
	for _, o := range treatment.Operations {
		list = append(list, record.Choice{Value: o.Slug, Words: o.Name})
	}
	return list
}
