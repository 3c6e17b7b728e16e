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
 * Takes the answer over. The answer may ask for other fields; what stands in
 * those that stay, typed since or not, and the place of the cursor are kept.
 */
function take(form: HTMLFormElement, page: Document, id: string): void {
	const answer = page.getElementById(id);
	if (answer) document.getElementById(id)?.replaceWith(answer);
	const fresh = page.querySelector<HTMLFormElement>(`form[data-live='${id}']`);
	if (!fresh) return;
	const before = controls(form);
	const hand = before.find((c) => c === document.activeElement);
	const open = all<HTMLDetailsElement>("details", form).map((d) => d.open);
	form.replaceChildren(...Array.from(fresh.childNodes));
	all<HTMLDetailsElement>("details", form).forEach((d, i) => (d.open ||= open[i] ?? false));
	const after = controls(form);
	for (const old of before) {
		const now = after.find((c) => c.id === old.id);
		if (now && now.id) keep(old, now, old === hand);
	}
}

type Control = HTMLInputElement | HTMLSelectElement | HTMLButtonElement;

function controls(form: HTMLFormElement): Control[] {
	return all<Control>("input, select, button", form);
}

function keep(old: Control, now: Control, held: boolean): void {
	if (old instanceof HTMLInputElement && now instanceof HTMLInputElement) {
		now.checked = old.checked;
		if (old.type === "text") now.value = old.value;
	}
	if (old instanceof HTMLSelectElement && now instanceof HTMLSelectElement && Array.from(now.options).some((o) => o.value === old.value)) now.value = old.value;
	if (!held) return;
	now.focus();
	if (old instanceof HTMLInputElement && now instanceof HTMLInputElement && old.type === "text") now.setSelectionRange(old.selectionStart, old.selectionEnd);
}
