// Forms whose answer is in the address (recipes, plain sums): a change works
// the answer out anew, without losing the place on the page. The button does
// the same where this code does not run.

import { all } from "./dom";

export function startLive(): void {
	for (const form of all<HTMLFormElement>("form[data-live]")) watch(form, form.dataset["live"] ?? "");
}

/** Swaps the element with this id for what the server answers to the form. */
function watch(form: HTMLFormElement, id: string): void {
	let asked: AbortController | undefined;
	const ask = async () => {
		asked?.abort();
		const mine = new AbortController();
		asked = mine;
		const query = new URLSearchParams();
		for (const [name, value] of new FormData(form)) if (typeof value === "string") query.append(name, value);
		const address = `${form.getAttribute("action") ?? location.pathname}?${query.toString()}`;
		document.getElementById(id)?.classList.add("stale");
		try {
			const reply = await fetch(address, { signal: mine.signal, headers: { Accept: "text/html" } });
			if (!reply.ok) throw new Error(String(reply.status));
			const page = new DOMParser().parseFromString(await reply.text(), "text/html");
			if (mine.signal.aborted) return;
			take(form, page, id);
			history.replaceState(null, "", address);
		} catch {
			if (!mine.signal.aborted) document.getElementById(id)?.classList.remove("stale");
			// Without the network the old answer stays, and the button says why.
		}
	};
	form.addEventListener("change", () => void ask());
}

/**
 * Takes the answer over. The form's own fields are replaced only where the
 * answer asks for others; the field under the hand keeps the focus.
 */
function take(form: HTMLFormElement, page: Document, id: string): void {
	const answer = page.getElementById(id);
	const old = document.getElementById(id);
	if (answer && old) old.replaceWith(answer);
	const fresh = page.querySelector<HTMLFormElement>(`form[data-live='${id}']`);
	if (!fresh) return;
	const focused = document.activeElement instanceof HTMLElement && form.contains(document.activeElement) ? document.activeElement.id : "";
	const open = all<HTMLDetailsElement>("details", form).map((d) => d.open);
	form.replaceChildren(...Array.from(fresh.childNodes));
	all<HTMLDetailsElement>("details", form).forEach((d, i) => (d.open ||= open[i] ?? false));
	if (focused) document.getElementById(focused)?.focus();
}
