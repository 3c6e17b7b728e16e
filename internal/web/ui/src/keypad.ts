// A number entered by large keys on the page, for gloved hands: the tablet's
// own keyboard stays away. The field stays a plain field for a real keyboard.

import { all, make } from "./dom";

const keys = ["7", "8", "9", "4", "5", "6", "1", "2", "3", ".", "0", "back"] as const;

export function startKeypads(): void {
	for (const box of all<HTMLElement>("[data-keypad]")) {
		const input = box.querySelector<HTMLInputElement>("input");
		if (input) fit(box, input);
	}
}

function fit(box: HTMLElement, input: HTMLInputElement): void {
	const name = box.querySelector("label")?.textContent?.trim() ?? "number";
	const pad = make("div", { class: "keypad", role: "group", "aria-label": `Keys for ${name}` });
	for (const key of keys) {
		const button = make("button", { type: "button" });
		if (key === "back") {
			button.setAttribute("aria-label", "Delete the last figure");
			button.innerHTML = '<svg viewBox="0 0 28 28" fill="none" stroke="currentColor" stroke-width="2" aria-hidden="true"><path d="M9 6h14v16H9l-6-8z M13 11l6 6 M19 11l-6 6"/></svg>';
		} else {
			button.textContent = key;
			if (key === ".") button.setAttribute("aria-label", "decimal point");
		}
		// The field keeps the focus, so that a keyboard goes on working.
		button.addEventListener("pointerdown", (event) => event.preventDefault());
		button.addEventListener("click", () => press(input, key));
		pad.append(button);
	}
	box.append(pad);
	// Only where a finger would bring up a keyboard over half the screen.
	if (matchMedia("(pointer: coarse)").matches) input.inputMode = "none";
}

/** What pressing a key makes of a text. */
function pressed(text: string, key: string): string {
	if (key === "back") return text.slice(0, -1);
	if (key === ".") {
		if (text.includes(".") || text.includes(",")) return text;
		return text === "" ? "0." : text + ".";
	}
	return text === "0" ? key : text + key;
}

function press(input: HTMLInputElement, key: string): void {
	const whole = input.selectionStart === 0 && input.selectionEnd === input.value.length && input.value !== "";
	input.value = pressed(whole ? "" : input.value, key);
	input.setSelectionRange(input.value.length, input.value.length);
	input.dispatchEvent(new Event("input", { bubbles: true }));
}
