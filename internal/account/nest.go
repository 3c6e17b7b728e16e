package account

import (
	"benchleaf/internal/record"
	"benchleaf/makeup"
)

// NestOf is the case's make-up as package makeup computes with it, or nil.
func NestOf(c *record.Case) *makeup.MakeUp {
	if c.MakeUp == nil {
		return nil
	}
	b := c.MakeUp.Body
	m := &makeup.MakeUp{Inner: b.InnerSheets, Cover: makeup.SeparateCover, FirstNumber: b.FirstPage}
	if b.Cover == record.CoverSelf {
		m.Cover = makeup.SelfCover
	}
	for _, x := range b.Printed {
		m.Printed = append(m.Printed, makeup.Printed{Position: x.Position, Number: x.Printed})
	}
	return m
}
