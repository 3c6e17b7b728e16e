// What every form shares: one send for a double tap, the focus on what was
// refused, the time of the press, and choosing all or none of a row of chips.

import { all } from "./dom";

export function startForms(): void {
	for (const form of all<HTMLFormElement>("form[method='post']")) guard(form);
	for (const summary of all<HTMLElement>("[data-takes-focus]")) summary.focus();
	for (const link of all<HTMLAnchorElement>(".refusals a[href^='#']")) aim(link);
	for (const set of all<HTMLElement>("[data-all-or-none]")) allOrNone(set);
	for (const opener of all<HTMLElement>("[data-opens]")) {
		opener.addEventListener("click", () => {
			(document.getElementById(opener.dataset["opens"] ?? "") as HTMLDialogElement | null)?.showModal();
		});
	}
}

/** Lets a form go once, and notes when it was pressed. */
function guard(form: HTMLFormElement): void {
	let gone = false;
	form.addEventListener("submit", (event) => {
		if (gone) {
			event.preventDefault();
			event.stopImmediatePropagation();
			return;
		}
		stampPress(form);
		// After the handlers that may keep the form on the page (the outbox).
		queueMicrotask(() => {
			if (event.defaultPrevented) return;
			gone = true;
			for (const b of all<HTMLButtonElement>("button", form)) b.setAttribute("aria-disabled", "true");
		});
	});
	// Coming back to this page by the browser's own way makes it usable again.
	addEventListener("pageshow", (event) => {
		if (!event.persisted) return;
		gone = false;
		for (const b of all<HTMLButtonElement>("button", form)) b.removeAttribute("aria-disabled");
	});
}

/** The time of the press counts where a form says "now", also when it is sent later. */
export function stampPress(form: HTMLFormElement): void {
	const pressed = form.querySelector<HTMLInputElement>("input[name='pressed']");
	if (pressed && !pressed.value) pressed.value = new Date().toISOString();
}

/** A link in the summary goes to its field: the control, not the box round it. */
function aim(link: HTMLAnchorElement): void {
	const id = decodeURIComponent(link.hash.slice(1));
	const target = document.getElementById(id);
	if (!target) {
		link.replaceWith(...Array.from(link.childNodes));
		return;
	}
	link.addEventListener("click", (event) => {
		event.preventDefault();
		const control = target.matches("input, select, textarea, button")
			? target
			: target.querySelector<HTMLElement>("input, select, textarea, button");
		(control ?? target).focus();
		target.scrollIntoView({ block: "center" });
	});
}

function allOrNone(set: HTMLElement): void {
	const boxes = () => all<HTMLInputElement>("input[type='checkbox']:not(:disabled)", set);
	for (const button of all<HTMLButtonElement>("[data-choose]", set)) {
		button.hidden = false;
		button.addEventListener("click", () => {
			for (const box of boxes()) box.checked = button.dataset["choose"] === "all";
			set.dispatchEvent(new Event("change", { bubbles: true }));
		});
	}
}
