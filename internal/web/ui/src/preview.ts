// A form that shows what it would make before it is saved: what is typed is sent to
// the address in data-preview, and the piece of a page that comes back is put in.
// Its button does the same where this code does not run.

import { all } from "./dom";

const pause = 200; // ms after the last key

export function startPreview(): void {
	for (const form of all<HTMLFormElement>("form[data-preview]")) start(form);
}

function start(form: HTMLFormElement): void {
	const into = form.querySelector<HTMLElement>("[data-preview-into]");
	if (!into) return;
	for (const b of all<HTMLButtonElement>("[data-previews]", form)) b.hidden = true;
	let waits = 0;
	let asked = 0;
	const look = async () => {
		const q = new URLSearchParams();
		for (const [name, value] of new FormData(form)) {
			if (typeof value === "string" && value !== "") q.append(name, value);
		}
		q.delete("key");
		q.delete("by");
		if (!q.has("pages") && !q.has("inner_sheets")) return into.replaceChildren();
		const mine = ++asked;
		try {
			const answer = await fetch(`${form.dataset.preview}?${q}`);
			if (!answer.ok || mine !== asked) return;
			const piece = new DOMParser().parseFromString(await answer.text(), "text/html");
			into.replaceChildren(...piece.body.childNodes);
		} catch {
			// The network is away: the form goes on without.
		}
	};
	const soon = () => {
		window.clearTimeout(waits);
		waits = window.setTimeout(look, pause);
	};
	form.addEventListener("input", soon);
	form.addEventListener("change", soon);
}
