// What every form shares: one send for a double tap, the focus on what was
// refused, the time of the press, and choosing all or none of a row of chips.

import { now } from "./clock";
import { all } from "./dom";

export function startForms(): void {
	for (const form of all<HTMLFormElement>("form[method='post']")) guard(form);
	for (const summary of all<HTMLElement>("[data-takes-focus]")) summary.focus();
	focusNext();
	for (const link of all<HTMLAnchorElement>(".refusals a[href^='#']")) aim(link);
	for (const set of all<HTMLElement>("[data-all-or-none]")) allOrNone(set);
	for (const set of all<HTMLElement>("[data-may-stay-open]")) takenBack(set);
	for (const opener of all<HTMLElement>("[data-opens]")) {
		opener.addEventListener("click", () => {
			(document.getElementById(opener.dataset["opens"] ?? "") as HTMLDialogElement | null)?.showModal();
		});
	}
}

/**
 * After an act the hand stands at the next one: a keyboard and those who hear the page
 * go on from there, and need not come down from the top.
 */
function focusNext(): void {
	if (!document.querySelector(".flash") || document.activeElement !== document.body) return;
	const next = document.querySelector<HTMLElement>("[data-next]");
	next?.setAttribute("aria-describedby", "flash");
	next?.focus({ preventScroll: true });
}

/**
 * Lets a form go once, and notes when it was pressed. The outbox sees to its own
 * forms, which may stay on the page.
 */
function guard(form: HTMLFormElement): void {
	if (form.dataset["outbox"] !== undefined) return;
	let gone = false;
	const free = () => {
		gone = false;
		for (const b of all<HTMLButtonElement>("button", form)) b.removeAttribute("aria-disabled");
	};
	form.addEventListener("submit", (event) => {
		if (gone) {
			event.preventDefault();
			return;
		}
		gone = true;
		stampPress(form);
		for (const b of all<HTMLButtonElement>("button", form)) b.setAttribute("aria-disabled", "true");
		// Whatever became of it, this page can be used again after a while.
		setTimeout(free, 15_000);
	});
	addEventListener("pageshow", (event) => {
		if (event.persisted) free();
	});
}

/** The time of the press counts where a form says "now", also when it is sent later. */
export function stampPress(form: HTMLFormElement): void {
	const pressed = form.querySelector<HTMLInputElement>("input[name='pressed']");
	if (pressed && !pressed.value) pressed.value = new Date(now()).toISOString();
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

/** A judgement that may stay open is taken back by choosing it again. */
function takenBack(set: HTMLElement): void {
	let chosen = set.querySelector<HTMLInputElement>("input:checked");
	for (const radio of all<HTMLInputElement>("input[type='radio']", set)) {
		radio.addEventListener("click", () => {
			if (radio === chosen) {
				radio.checked = false;
				set.dispatchEvent(new Event("change", { bubbles: true }));
			}
			chosen = radio.checked ? radio : null;
		});
	}
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
