package chem_test

import (
	"fmt"
	"strings"

	"benchleaf/chem"
)

// Lime water from over its solid, one part in three parts of de-ionised water.
func Example() {
	pure, _ := chem.Pure(20)
	stock, _ := chem.Equilibrate(pure, chem.Conditions{StandsOver: chem.Portlandite})
	mixed, _ := chem.Mix(stock.Part(1), chem.Part{Parts: 3, Water: pure})
	bath, _ := chem.Equilibrate(mixed, chem.Conditions{})
	fmt.Printf("stock pH %.1f, bath pH %.1f\n", stock.PH(), bath.PH())
	// Output: stock pH 12.7, bath pH 12.1
}

// The same from a description in JSON, as the water command reads it.
func ExampleReadSpec() {
	spec, _ := chem.ReadSpec(strings.NewReader(`{"temperature_c": 15,
		"solutes": [{"name": "Mg(HCO3)2", "amount": 0.02, "unit": "mol/kg"}], "co2_atm": 0.01}`))
	answer, _ := spec.Answer()
	fmt.Printf("pH %.2f\n", answer.PH)
	// Output: pH 8.21
}
