// Small helps with the page.

/** All elements that match, as a list that does not change under the hand. */
export function all<E extends Element>(selector: string, within: ParentNode = document): E[] {
	return Array.from(within.querySelectorAll<E>(selector));
}

/** A new element with attributes and children; text stays text. */
export function make<K extends keyof HTMLElementTagNameMap>(
	tag: K,
	attributes: Record<string, string> = {},
	...children: (Node | string)[]
): HTMLElementTagNameMap[K] {
	const e = document.createElement(tag);
	for (const [name, value] of Object.entries(attributes)) e.setAttribute(name, value);
	e.append(...children);
	return e;
}

/**
 * The place above the page where what concerns all of it is told. It lies in the page's
 * flow, so that it never covers what is typed into, and what comes into it does not
 * move the page under the hand.
 */
export function corner(): HTMLElement {
	let box = document.getElementById("corner");
	if (!box) {
		box = make("div", { id: "corner", class: "corner" });
		(document.querySelector(".skip") ?? document.body.firstElementChild)?.after(box);
	}
	return box;
}

let touched = 0;
for (const kind of ["pointerdown", "keydown", "input"]) addEventListener(kind, () => (touched = performance.now()), { passive: true, capture: true });

/** Does something to the page once no hand has been on it for a moment. */
export function calm(act: () => void): void {
	const wait = 700 - (performance.now() - touched);
	if (touched === 0 || wait <= 0) act();
	else setTimeout(() => calm(act), wait);
}

/** Changes what lies above without moving what is in sight, where the page is scrolled. */
export function inPlace(act: () => void): void {
	const main = document.getElementById("main");
	const before = main?.getBoundingClientRect().top ?? 0;
	act();
	if (scrollY > 0 && main) scrollBy({ top: main.getBoundingClientRect().top - before, behavior: "instant" });
}

/** Says a sentence to those who hear the page, without moving the focus. */
export function say(sentence: string): void {
	let region = document.getElementById("said");
	if (!region) {
		region = make("div", { id: "said", class: "heard", role: "status" });
		document.body.append(region);
	}
	region.textContent = sentence;
}

const alphabet = "0123456789abcdefghjkmnpqrstvwxyz";

/**
 * A key that no other form has, in the form of the record's identifiers: the
 * time in milliseconds in ten characters, then six drawn by lot. Works where
 * the page is not a secure context.
 */
export function newKey(): string {
	let key = "";
	// 48 bits of time and 2 of lot fill the first ten characters.
	let t = Date.now() * 4 + (crypto.getRandomValues(new Uint8Array(1))[0]! & 3);
	for (let i = 0; i < 10; i++) {
		key = alphabet[t % 32] + key;
		t = Math.floor(t / 32);
	}
	for (const b of crypto.getRandomValues(new Uint8Array(6))) key += alphabet[b & 31];
	return key;
}

/** A setting of this device. A browser that keeps nothing is no reason to fail. */
export function remembered(name: string): string | null {
	try {
		return localStorage.getItem(name);
	} catch {
		return null;
	}
}

export function remember(name: string, value: string): void {
	try {
		localStorage.setItem(name, value);
	} catch {
		// Private browsing: the setting lasts as long as the page.
	}
}
