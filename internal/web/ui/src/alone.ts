// Whether the bench machine answers, and what this device can do without it. Where the
// address has no trusted certificate no page can be kept: then the open page and its
// queue are all there is, and that is said.

import { all, make, newKey, remember, remembered } from "./dom";
import { now } from "./clock";

interface Registered {
	active: { postMessage(m: unknown): void } | null;
}

/** Whether pages of this bench can be kept on this device. */
let keeps = false;

export const keepsPages = () => keeps;

/** When this page left the server, where it is one that was kept; else null. */
export function keptAt(): Date | null {
	const at = document.documentElement.dataset["kept"];
	return at === undefined ? null : new Date(at);
}

export async function startAlone(): Promise<void> {
	if (keptAt()) {
		// Its forms were on the page before: another press is another form.
		for (const key of all<HTMLInputElement>("input[name='key']")) key.value = newKey();
		for (const flash of all(".flash")) flash.remove();
	}
	listKept();
	document.querySelector("[data-again]")?.addEventListener("click", () => location.reload());
	const main = document.querySelector<HTMLElement>("main[data-case]");
	const number = document.querySelector(".spine-case .number")?.textContent;
	if (main && number) remember(`number-${main.dataset["case"]}`, number);
	if (!("serviceWorker" in navigator)) return;
	try {
		await navigator.serviceWorker.register("/sw.js");
		const ready = (await navigator.serviceWorker.ready) as unknown as Registered;
		keeps = true;
		if (!keptAt()) keepThisCase(ready);
	} catch {
		// No trusted certificate: the browser refuses.
	}
}

function keepThisCase(to: Registered): void {
	const main = document.querySelector<HTMLElement>("main[data-case]");
	const id = main?.dataset["case"];
	if (!id) {
		to.active?.postMessage({ case: "none", seq: "", from: [here(), "/"] });
		return;
	}
	const links = all<HTMLAnchorElement>(`a[href^="/cases/${id}"]`).map((a) => a.getAttribute("href")!.replace(/#.*/, ""));
	to.active?.postMessage({ case: id, seq: main.dataset["seq"] ?? "", from: Array.from(new Set([here(), ...links.filter((u) => u.includes("/bench")), ...links])) });
}

const here = () => location.pathname + location.search;

/** Whether a page of this bench is kept on this device. */
export async function isKept(path: string): Promise<boolean> {
	try {
		return (await (await caches.open("pages-1")).match(path)) !== undefined;
	} catch {
		return false;
	}
}

/** The page that stands for one that was never opened says which can be shown. */
async function kept(): Promise<string[]> {
	try {
		return (await (await caches.open("pages-1")).keys()).map((r) => new URL(r.url).pathname).filter((p) => /^\/cases\/[0-9a-z]+\/[a-z-]+$/.test(p));
	} catch {
		return [];
	}
}

function listKept(): void {
	const list = document.querySelector<HTMLElement>("[data-kept-pages]");
	if (!list) return;
	void kept().then((paths) => {
		for (const path of paths) {
			const [, , , place] = path.split("/");
			const number = remembered(`number-${path.split("/")[2]}`) ?? "";
			list.append(make("li", {}, make("a", { href: path }, `${number} ${place}`.trim())));
		}
		if (paths.length === 0) list.append(make("li", {}, "none: no case was open on this device"));
	});
}

/** One sentence on what this device can do while it is alone. */
export function aloneWords(): string {
	const at = keptAt();
	const hour = (d: Date) => `${String(d.getHours()).padStart(2, "0")}:${String(d.getMinutes()).padStart(2, "0")}`;
	if (at) return `No network: this page is as it was at ${hour(at)}, its clocks run on. What you write is kept on this device and sent when the network is back.`;
	if (keeps) return "No network: the screens of this case go on from what this device kept. What you write is kept too, and sent when the network is back.";
	return "No network, and this address has no trusted certificate: no other page can be shown. What you write on this page is kept and sent later; leave it open.";
}

/** The present by the bench's clock, for the press of a form. */
export const moment = () => new Date(now()).toISOString();
