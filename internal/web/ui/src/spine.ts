// On a narrow screen the places of a case, and tabs, are strips that scroll: the
// one that the page is at must be in sight.

export function startSpine(): void {
	document.querySelectorAll<HTMLElement>(".spine-places, .tabs").forEach(startStrip);
}

function startStrip(strip: HTMLElement): void {
	const here = strip.querySelector<HTMLElement>("[aria-current]");
	if (!here) return;
	const bring = () => {
		if (strip.scrollWidth <= strip.clientWidth) return;
		const to = here.getBoundingClientRect().left - strip.getBoundingClientRect().left + strip.scrollLeft;
		strip.scrollLeft = to - (strip.clientWidth - here.clientWidth) / 2;
	};
	bring();
	// Letters change width when the fonts arrive.
	document.fonts?.ready.then(bring);
}
