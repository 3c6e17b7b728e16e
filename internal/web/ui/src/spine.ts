// On a narrow screen the places of a case are a strip that scrolls: the one
// that the page is at must be in sight.

export function startSpine(): void {
	const here = document.querySelector<HTMLElement>(".spine-places [aria-current]");
	const strip = here?.closest<HTMLElement>(".spine-places");
	if (!here || !strip) return;
	const bring = () => {
		if (strip.scrollWidth <= strip.clientWidth) return;
		const to = here.getBoundingClientRect().left - strip.getBoundingClientRect().left + strip.scrollLeft;
		strip.scrollLeft = to - (strip.clientWidth - here.clientWidth) / 2;
	};
	bring();
	// Letters change width when the fonts arrive.
	document.fonts?.ready.then(bring);
}
