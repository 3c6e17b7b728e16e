package webtest

import "benchleaf/internal/store"

var storeAll = store.Filter{}

// mixLime makes lime water of 0.4 g/L from the saturated stock, without a
// balance, and returns the name of the bottle.
func (b *bench) mixLime(p *tab) string {
	b.t.Helper()
	p.goTo("/solutions/mix?way=stock")
	p.fill("The stock stands at", "17")
	p.fill("Wanted", "0.4 g/L")
	p.fill("How much", "1.5 L")
	p.chooseStarting("Water", "De-ionised can")
	p.chooseStarting("Stock", "Lime water stock")
	p.touch("Calculate")
	p.see("at 17 °C")
	p.until("it draws from the stock", `document.querySelector("#make p").innerText.includes("draws from")`)
	p.until("what to pour stands in large lines", `document.querySelectorAll(".pour .amount").length >= 2`)
	p.see("Lime")
	p.axe()
	const name = "lime water 0.4 g/L"
	p.fill("Name on the bottle", name)
	p.press("It is made: put it on the shelf")
	p.see(name)
	return name
}
