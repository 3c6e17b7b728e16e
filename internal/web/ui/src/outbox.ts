// The outbox: a bench that loses its network goes on logging. A form marked
// data-outbox is sent by this code. When the server does not answer, the form
// is kept in this device's own database and sent, in order, when the server is
// back. Each form carries a key by which the server acts on it once, so that
// sending one again never does harm.

import { aloneWords, isKept, keepsPages, keptAt, moment } from "./alone";
import { all, calm, corner, inPlace, make, newKey, say } from "./dom";
import { stampPress } from "./forms";

interface Waiting {
	id?: number;
	url: string;
	fields: [string, string][];
	label: string;
	at: string;
	/** Why the server refused it; then it waits for a person. */
	refused?: string;
}

interface Sent {
	kind: "sent";
	to: string;
	first: number;
	last: number;
}

type Answer = Sent | { kind: "away" } | { kind: "refused"; say: string };

/** How long an answer may take before the network counts as away. */
const patience = 10_000;
/** How often it is tried again. */
const interval = 8_000;

let away = false;
let sentNow = 0;

export function startOutbox(): void {
	away = keptAt() !== null;
	calm(() => void draw());
	for (const form of all<HTMLFormElement>("form[data-outbox]")) watch(form);
	document.addEventListener("taken-anew", () => {
		for (const form of all<HTMLFormElement>("#now form[data-outbox]")) watch(form);
	});
	document.addEventListener("click", stay, true);
	document.addEventListener("submit", hold, true);
	addEventListener("online", () => void flush());
	document.addEventListener("visibilitychange", () => {
		if (document.visibilityState === "visible") void flush();
	});
	setInterval(() => void flush(), interval);
	void dropTaken().then(() => flush());
}

/** Refused forms that a person has mended and sent since need not wait here. */
async function dropTaken(): Promise<void> {
	try {
		for (const w of await waiting()) {
			if (w.refused && (await fetch(`/taken/${value(w.fields, "key")}`, { cache: "no-store" })).status === 204) await drop(w.id ?? 0);
		}
	} catch {
		// No network, or nothing kept.
	}
}

// ---- The device's own database ----

function open(): Promise<IDBDatabase> {
	return new Promise((done, failed) => {
		const request = indexedDB.open("benchleaf", 1);
		request.onupgradeneeded = () => request.result.createObjectStore("outbox", { keyPath: "id", autoIncrement: true });
		request.onsuccess = () => done(request.result);
		request.onerror = () => failed(request.error);
	});
}

async function within<T>(mode: IDBTransactionMode, act: (box: IDBObjectStore) => IDBRequest<T>): Promise<T> {
	const db = await open();
	try {
		return await new Promise<T>((done, failed) => {
			const tx = db.transaction("outbox", mode);
			const request = act(tx.objectStore("outbox"));
			// Kept means kept: the answer comes when the transaction is complete.
			tx.oncomplete = () => done(request.result);
			tx.onerror = tx.onabort = () => failed(tx.error);
		});
	} finally {
		db.close();
	}
}

const waiting = (): Promise<Waiting[]> => within("readonly", (box) => box.getAll() as IDBRequest<Waiting[]>);
const keep = (w: Waiting) => within("readwrite", (box) => box.put(w));
const drop = (id: number) => within("readwrite", (box) => box.delete(id));

// ---- Sending ----

async function post(url: string, fields: [string, string][]): Promise<Answer> {
	const stop = new AbortController();
	const late = setTimeout(() => stop.abort(), patience);
	try {
		const reply = await fetch(url, {
			method: "POST",
			body: new URLSearchParams(fields),
			headers: { "X-Outbox": "1", Accept: "application/json" },
			signal: stop.signal,
			redirect: "error",
		});
		if (reply.status === 502 || reply.status === 503 || reply.status === 504) return { kind: "away" };
		const said = await reply.text();
		away = false;
		if (reply.ok) return { ...(JSON.parse(said) as Omit<Sent, "kind">), kind: "sent" };
		return { kind: "refused", say: refusal(said) };
	} catch {
		// No answer: the network is away, or the server is.
		return { kind: "away" };
	} finally {
		clearTimeout(late);
	}
}

function refusal(said: string): string {
	try {
		return (JSON.parse(said) as { refused: string[] }).refused.join(" ");
	} catch {
		return said.length < 300 ? said.trim() : "The bench did not take it.";
	}
}

/** What became of what waited, by its number. */
type Went = Map<number, Answer>;

let flushing: Promise<Went> | null = null;

/** Sends what waits, in order, until the network is away. */
function flush(): Promise<Went> {
	flushing ??= (async () => {
		const went: Went = new Map();
		try {
			const list = (await waiting()).filter((w) => !w.refused);
			if (away && list.length === 0) away = !(await answers());
			for (const w of list) {
				const answer = await post(w.url, w.fields);
				went.set(w.id ?? 0, answer);
				if (answer.kind === "away") {
					away = true;
					break;
				}
				if (answer.kind === "refused") {
					await keep({ ...w, refused: answer.say });
					continue;
				}
				await drop(w.id ?? 0);
				if (!own.has(w.id ?? 0)) sentNow++;
				await advance(w, answer, list);
			}
		} catch {
			// A browser that keeps nothing has nothing waiting.
		} finally {
			flushing = null;
			await draw();
		}
		return went;
	})();
	return flushing;
}

/** The forms that are being sent from this page: they did not wait for the network. */
const own = new Set<number>();

/**
 * What this device sent itself is no news to it: forms that knew the same last
 * entry as the one just sent know the new ones too, unless others wrote.
 */
async function advance(sent: Waiting, answer: Sent, list: Waiting[]): Promise<void> {
	const seq = value(sent.fields, "seq");
	if (answer.first !== Number(seq) + 1) return;
	const of = journal(sent.url);
	for (const w of list) {
		if ((w.id ?? 0) <= (sent.id ?? 0) || journal(w.url) !== of || value(w.fields, "seq") !== seq) continue;
		w.fields = w.fields.map(([n, v]) => (n === "seq" ? [n, String(answer.last)] : [n, v]));
		await keep(w);
	}
	for (const form of all<HTMLFormElement>("form")) {
		const known = form.querySelector<HTMLInputElement>("input[name='seq']");
		if (known?.value === seq && journal(form.action) === of) known.value = String(answer.last);
	}
}

const value = (fields: [string, string][], name: string) => fields.find(([n]) => n === name)?.[1] ?? "";
const journal = (url: string) => new URL(url, location.href).pathname.split("/").slice(0, 3).join("/");

// ---- Forms ----

function watch(form: HTMLFormElement): void {
	let busy = false;
	form.addEventListener("submit", (event) => {
		event.preventDefault();
		if (busy) return;
		busy = true;
		void send(form, event.submitter).finally(() => (busy = false));
	});
}

/**
 * Sends a form. It is kept on the device first: whatever becomes of the page, or of the
 * answer, it is not lost.
 */
async function send(form: HTMLFormElement, submitter: HTMLElement | null): Promise<void> {
	stampPress(form);
	const w: Waiting = { url: target(form, submitter), fields: fieldsOf(form, submitter), label: labelOf(form, submitter), at: moment() };
	let answer: Answer | undefined;
	try {
		await flushing;
		const id = Number(await keep(w));
		own.add(id);
		answer = (await flush()).get(id) ?? { kind: "away" };
		if (answer.kind === "refused") await drop(id);
		own.delete(id);
	} catch {
		answer = await post(w.url, w.fields); // this browser keeps nothing
		if (answer.kind === "away") {
			away = true;
			say("There is no network, and this browser keeps nothing: leave this page open and press again later.");
			await draw("There is no network, and this browser keeps nothing. Leave this page open and press again later.");
			return;
		}
	}
	if (answer.kind === "sent") return goTo(answer.to);
	if (answer.kind === "refused") return sendPlainly(form, submitter);
	renew(form);
	say("Kept on this device. It is sent when the network is back.");
	const bench = benchOf();
	if (keepsPages() && bench && (await isKept(bench))) return location.assign(bench);
	note(form, w);
	await draw();
}

/** The bench to go back to from the page of one act; none where the page is a place itself. */
function benchOf(): string {
	const m = /^(\/cases\/[0-9a-z]+)\/(runs\/|mend)/.exec(location.pathname);
	return m ? `${m[1]}/bench` : "";
}

/** Says beside the form what became of it: there the hand is, and nothing is covered. */
function note(form: HTMLFormElement, w: Waiting): void {
	form.parentElement?.querySelector(".keptnote")?.remove();
	form.after(make("p", { class: "keptnote", role: "status" }, make("b", {}, "Kept on this device, not sent yet. "), w.label));
}

const target = (form: HTMLFormElement, submitter: HTMLElement | null): string =>
	submitter?.getAttribute("formaction") ?? form.getAttribute("action") ?? location.pathname;

function fieldsOf(form: HTMLFormElement, submitter: HTMLElement | null): [string, string][] {
	const fields: [string, string][] = [];
	for (const [name, v] of new FormData(form)) if (typeof v === "string") fields.push([name, v]);
	const name = submitter?.getAttribute("name");
	if (name) fields.push([name, submitter?.getAttribute("value") ?? ""]);
	return fields;
}

/** What a person needs to know the form again by: its name and what was typed. */
function labelOf(form: HTMLFormElement, submitter: HTMLElement | null): string {
	const name = form.dataset["outbox"] || submitter?.textContent?.trim() || "Entry";
	const typed: string[] = [];
	for (const e of Array.from(form.elements)) {
		if (!(e instanceof HTMLInputElement || e instanceof HTMLSelectElement || e instanceof HTMLTextAreaElement)) continue;
		if (e.type === "hidden" || e.type === "datetime-local" || !e.value) continue;
		if (e instanceof HTMLInputElement && (e.type === "radio" || e.type === "checkbox")) {
			if (e.checked) typed.push(e.labels?.[0]?.textContent?.trim() ?? e.value);
		} else if (e instanceof HTMLSelectElement) {
			typed.push(e.selectedOptions[0]?.text ?? e.value);
		} else {
			typed.push(e.value);
		}
	}
	const line = [name, typed.join(", ")].filter(Boolean).join(": ");
	return line.length > 140 ? `${line.slice(0, 139)}…` : line;
}

/** The form on the page is another one now, by the same writer. */
function renew(form: HTMLFormElement): void {
	const by = form.querySelector<HTMLInputElement>("input[name='by']");
	const initials = by?.value ?? "";
	form.reset();
	if (by) by.value = initials;
	const key = form.querySelector<HTMLInputElement>("input[name='key']");
	if (key) key.value = newKey();
	const pressed = form.querySelector<HTMLInputElement>("input[name='pressed']");
	if (pressed) pressed.value = "";
}

function goTo(to: string): void {
	const next = new URL(to, location.href);
	const same = next.pathname === location.pathname && next.search === location.search;
	if (same) {
		history.replaceState(null, "", next.href);
		location.reload();
	} else {
		location.assign(next.href);
	}
}

/** The server says no: it shows the page again with what was typed. */
function sendPlainly(form: HTMLFormElement, submitter: HTMLElement | null): void {
	const name = submitter?.getAttribute("name");
	if (name) form.append(make("input", { type: "hidden", name, value: submitter?.getAttribute("value") ?? "" }));
	if (submitter?.hasAttribute("formaction")) form.action = target(form, submitter);
	HTMLFormElement.prototype.submit.call(form);
}

// ---- Staying on the page while there is no network ----

async function answers(): Promise<boolean> {
	const stop = new AbortController();
	const late = setTimeout(() => stop.abort(), 3000);
	try {
		return (await fetch("/clock", { cache: "no-store", signal: stop.signal })).ok;
	} catch {
		return false;
	} finally {
		clearTimeout(late);
	}
}

/** A link that leads to a browser's error page would lose this page: it waits. */
function stay(event: MouseEvent): void {
	if (!away || keepsPages() || event.defaultPrevented || event.button !== 0) return;
	const link = (event.target as Element | null)?.closest?.<HTMLAnchorElement>("a[href]");
	if (!link || link.origin !== location.origin || link.hash) return;
	event.preventDefault();
	void answers().then((ok) => {
		if (ok) {
			away = false;
			location.assign(link.href);
			return;
		}
		say("No network: this page stays.");
		void draw("No network: this page stays, so that you can go on logging.");
	});
}

/** A form that cannot wait must not be lost in an error page either. */
function hold(event: SubmitEvent): void {
	const form = event.target as HTMLFormElement;
	if (!away || form.dataset["outbox"] !== undefined || form.method === "dialog") return;
	event.preventDefault();
	event.stopImmediatePropagation();
	void answers().then((ok) => {
		if (ok) {
			away = false;
			form.requestSubmit(event.submitter);
			return;
		}
		say("No network: this was not sent. Press again when it is back.");
		void draw("No network: this was not sent. What you typed stays here; press again when the network is back.");
	});
}

// ---- What is shown ----

let panel: HTMLElement | null = null;
let drawn = "";

async function draw(notice = ""): Promise<void> {
	const list = await waiting().catch(() => [] as Waiting[]);
	const state = JSON.stringify([list.map((w) => [w.id, w.refused]), sentNow, away, notice, keepsPages()]);
	if (state === drawn) return;
	drawn = state;
	mark(list);
	inPlace(() => lay(list, notice));
}

function lay(list: Waiting[], notice: string): void {
	if (list.length === 0 && !notice && !away && sentNow === 0) {
		panel?.remove();
		panel = null;
		return;
	}
	panel ??= make("section", { class: "outbox", "aria-labelledby": "outbox-head" });
	const held = list.filter((w) => !w.refused).length;
	const parts: Node[] = [make("h2", { id: "outbox-head" }, heading(list.length, held))];
	if (notice) parts.push(make("p", {}, notice));
	if (away) parts.push(make("p", {}, aloneWords()));
	else if (held > 0) parts.push(make("p", {}, "Being sent."));
	if (list.length > 0) {
		const fold = make("details", {}, make("summary", {}, list.length === 1 ? "What waits" : `The ${list.length} that wait`), make("ol", {}, ...list.map(row)));
		fold.open = list.some((w) => w.refused) || (panel.querySelector("details")?.open ?? false);
		parts.push(fold);
	}
	const acts = make("div", { class: "acts" });
	if (held > 0) acts.append(button("Send now", "act second", () => void flush()));
	if ((sentNow > 0 || keptAt()) && held === 0 && !away) acts.append(button("Show the page as it is now", "act", () => location.reload()));
	if ((list.length === 0 && !away) || notice) acts.append(button("Close", "act plain", close));
	if (acts.childElementCount > 0) parts.push(acts);
	panel.replaceChildren(...parts);
	if (!panel.isConnected) corner().append(panel);
}

/** A clock whose end waits here says so: the page itself cannot know. */
function mark(list: Waiting[]): void {
	for (const old of all(".run .keptnote")) old.remove();
	for (const w of list) {
		const run = /\/runs\/([0-9a-z]+)\/(end|reading|absorbent)$/.exec(w.url);
		const card = run && document.querySelector(`[data-run="${run[1]}"]`);
		card?.append(make("p", { class: "keptnote" }, make("b", {}, `${hour(w.at)}, not sent yet: `), w.label));
	}
}

const hour = (iso: string) => {
	const at = new Date(iso);
	return `${String(at.getHours()).padStart(2, "0")}:${String(at.getMinutes()).padStart(2, "0")}`;
};

function heading(all: number, held: number): string {
	if (held > 0) return `${held} waiting to be sent`;
	if (all > 0) return `${all} not taken`;
	if (sentNow > 0) return sentNow === 1 ? "Sent: 1 entry that waited" : `Sent: ${sentNow} entries that waited`;
	return "No network";
}

function row(w: Waiting): HTMLLIElement {
	const time = make("time", { datetime: w.at }, hour(w.at));
	const li = make("li", {}, time, w.label);
	if (w.refused) {
		li.append(make("span", { class: "refusal" }, w.refused));
		const acts = make("div", { class: "acts" });
		acts.append(
			button("Look at it", "act second", () => showAgain(w)),
			button("Throw it away", "act plain", (b) => throwAway(b, w)),
		);
		li.append(acts);
	}
	return li;
}

function button(words: string, kind: string, act: (b: HTMLButtonElement) => void): HTMLButtonElement {
	const b = make("button", { type: "button", class: kind }, words);
	b.addEventListener("click", () => act(b));
	return b;
}

function close(): void {
	sentNow = 0;
	void draw();
}

/**
 * Sends a refused form as a page would, so that the server shows it with what
 * was typed. It stays here until the server has taken a form with its key.
 */
function showAgain(w: Waiting): void {
	const form = make("form", { method: "post", action: w.url, hidden: "" });
	for (const [name, v] of w.fields) form.append(make("input", { type: "hidden", name, value: v }));
	document.body.append(form);
	form.submit();
}

function throwAway(b: HTMLButtonElement, w: Waiting): void {
	if (b.dataset["sure"]) {
		void drop(w.id ?? 0).then(() => draw());
		return;
	}
	b.dataset["sure"] = "yes";
	b.textContent = "Press again to throw it away for good";
}
