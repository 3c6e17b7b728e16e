// Finds what a person would point at. Evaluated in the page by the harness.
(() => {
	// Chips are inputs without a look of their own, so opacity does not count.
	const seen = (e) => e.isConnected && !e.closest("[hidden], [aria-hidden='true']") &&
		e.checkVisibility({ visibilityProperty: true, contentVisibilityAuto: true }) && e.getClientRects().length > 0;
	const tidy = (s) => (s || "").replace(/\s+/g, " ").trim();
	const textOf = (e) => {
		if (e.nodeType === Node.TEXT_NODE) return e.textContent;
		if (e.nodeType !== Node.ELEMENT_NODE || e.getAttribute("aria-hidden") === "true" || e.hidden) return "";
		return Array.from(e.childNodes, textOf).join(" ");
	};
	const nameOf = (e) => {
		const by = e.getAttribute("aria-labelledby");
		if (by) return tidy(by.split(/\s+/).map((id) => textOf(document.getElementById(id) || new Text(""))).join(" "));
		return tidy(e.getAttribute("aria-label") || (e.labels && e.labels.length ? Array.from(e.labels, textOf).join(" ") : textOf(e)));
	};
	// The word "needed" behind a label is no part of what a person calls it,
	// unless the name itself ends so.
	const plain = (s) => tidy(s.replace(/ needed$/, ""));
	const match = (list, name) => {
		const visible = list.filter(seen);
		return visible.find((e) => [nameOf(e), plain(nameOf(e))].includes(name)) ||
			visible.find((e) => plain(nameOf(e)).startsWith(name)) || null;
	};
	const all = (selector, root) => Array.from((root || document).querySelectorAll(selector));
	const fieldset = (label) => all("fieldset").find((f) => f.querySelector("legend") && plain(textOf(f.querySelector("legend"))) === label);

	window.__find = {
		field: (label) => match(all("input:not([type=hidden]), select, textarea"), label),
		choice: (label, words) => {
			const set = fieldset(label);
			return set ? match(all("input", set), words) : null;
		},
		act: (name) => match(all("button, a[href], summary, [role=button], input[type=submit]"), name),
		names: (selector) => all(selector).filter(seen).map((e) => plain(nameOf(e))).filter(Boolean),
		text: () => tidy(document.body.innerText),
	};
})();
