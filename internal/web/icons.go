package web

import (
	"fmt"
	"html/template"
)

// icons are few and drawn for this program: strokes on a field of 24 by 24.
var icons = map[string]string{
	"wet": `<path d="M12 3c4 5 6.500 8 6.500 11.500a6.500 6.500 0 0 1-13 0C5.500 11 8 8 12 3z" ` +
		`fill="currentColor" stroke="none"/>`,
	"damp":    `<path d="M12 3.500c4 5 6 7.500 6 11a6 6 0 0 1-12 0c0-3.500 2-6 6-11z"/><path d="M6.500 15h11" />`,
	"due":     `<circle cx="12" cy="12" r="8.500"/><path d="M12 7v5.500l3.500 2.500"/>`,
	"done":    `<path d="M4.500 12.500l5 5 10-11"/>`,
	"stopped": `<rect x="6" y="6" width="12" height="12" fill="currentColor" stroke="none"/>`,
	"waiting": `<path d="M7 4h10M7 20h10M8 4c0 5 8 6 8 8s-8 3-8 8M16 4c0 5-8 6-8 8s8 3 8 8"/>`,
	"caution": `<path d="M12 3.500L22 20.500H2z"/><path d="M12 10v5M12 17.200v.6" stroke-width="2.400"/>`,
	"wrong":   `<circle cx="12" cy="12" r="9"/><path d="M12 7v6M12 16v.6" stroke-width="2.400"/>`,
	"undo":    `<path d="M9 6L4 11l5 5M4 11h10a5 5 0 0 1 0 10h-3"/>`,
	"add":     `<path d="M12 5v14M5 12h14"/>`,
	"camera":  `<path d="M4 8h4l2-3h4l2 3h4v11H4z"/><circle cx="12" cy="13" r="3.500"/>`,
	"sound":   `<path d="M5 10v4h3l5 4V6l-5 4zM16 9c1.500 2 1.500 4 0 6M18.500 7c2.700 3.300 2.700 6.700 0 10"/>`,
	"person":  `<circle cx="12" cy="8" r="4"/><path d="M4.500 20c1-5 14-5 15 0"/>`,
}

// icon draws one. It says nothing to those who hear the page: the word stands
// beside it.
func icon(name string) (template.HTML, error) {
	d, ok := icons[name]
	if !ok {
		return "", fmt.Errorf("there is no icon %q", name)
	}
	return template.HTML(
		`<svg class="icon" viewBox="0 0 24 24" fill="none" stroke="currentColor" ` +
			`stroke-width="2" stroke-linecap="round" stroke-linejoin="round" aria-hidden="true">` + d + `</svg>`,
	), nil
}

// signs are the states that have a sign of their own.
var signs = map[string]bool{"wet": true, "damp": true, "due": true, "done": true, "stopped": true, "waiting": true}

// sign is a state by sign, word and colour: {{sign "wet" "3 wet"}}.
func sign(state, word string) (template.HTML, error) {
	if !signs[state] {
		return template.HTML(`<span class="sign">` + template.HTMLEscapeString(word) + `</span>`), nil
	}
	drawn, err := icon(state)
	return template.HTML(`<span class="sign `+state+`">`) + drawn +
		template.HTML(template.HTMLEscapeString(word)+`</span>`), err
}
