package web

import (
	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
)

// operationChoices are all operations, as choices.
func operationChoices() []record.Choice {
	var list []record.Choice
	for _, o := range treatment.Operations {
		list = append(list, record.Choice{Value: o.Slug, Words: o.Name})
	}
	return list
}
