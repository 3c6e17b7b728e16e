// Photographs go one by one, with their progress, and can be stopped: those
// that have arrived stay in the record. Without this the form sends them all
// at once.

import { all, make, say } from "./dom";

interface Answer {
	ok: boolean;
	said: string;
	to: string;
}

export function startUploads(): void {
	for (const form of all<HTMLFormElement>("form[data-upload]")) {
		start(form, all<HTMLInputElement>("input[type='file']", form));
	}
}

function start(form: HTMLFormElement, files: HTMLInputElement[]): void {
	form.addEventListener("submit", (event) => {
		const list = files.flatMap((f) => Array.from(f.files ?? []));
		if (list.length === 0) return; // the server says what is missing
		event.preventDefault();
		void sendAll(form, files, list);
	});
}

async function sendAll(form: HTMLFormElement, files: HTMLInputElement[], list: File[]): Promise<void> {
	const work = form.querySelector<HTMLElement>("[data-upload-work]");
	const bar = work?.querySelector<HTMLProgressElement>("progress");
	const line = work?.querySelector<HTMLElement>("[data-upload-said]");
	const stop = work?.querySelector<HTMLButtonElement>("[data-upload-stop]");
	if (!work || !bar || !line || !stop) {
		form.submit();
		return;
	}
	const buttons = all<HTMLButtonElement>("button", form).filter((b) => b !== stop);
	for (const b of buttons) b.disabled = true;
	work.hidden = false;
	let stopped = false;
	let request: XMLHttpRequest | null = null;
	stop.onclick = () => {
		stopped = true;
		request?.abort();
	};

	const total = list.reduce((n, f) => n + f.size, 0) || 1;
	let sent = 0;
	let arrived = 0;
	const failed: string[] = [];
	let to = "";
	for (const file of list) {
		if (stopped) break;
		const n = arrived + failed.length + 1;
		line.textContent = `${n} of ${list.length}: ${file.name}`;
		const answer = await send(form, files, file, (r) => (request = r), (loaded) => {
			bar.value = (100 * (sent + Math.min(loaded, file.size))) / total;
		});
		if (stopped) break;
		sent += file.size;
		if (answer.ok) {
			arrived++;
			to = answer.to;
		} else failed.push(`${file.name}: ${answer.said}`);
	}
	for (const b of buttons) b.disabled = false;
	if (failed.length === 0 && !stopped && to) {
		location.assign(to);
		return;
	}
	finish(form, files, work, stopped, arrived, failed, to);
}

/** Says what arrived and what did not, and leaves the form ready for more. */
function finish(form: HTMLFormElement, files: HTMLInputElement[], work: HTMLElement, stopped: boolean, arrived: number, failed: string[], to: string): void {
	work.hidden = true;
	for (const f of files) f.value = "";
	form.querySelector(".refusals")?.remove();
	const box = make("div", { class: "refusals", tabindex: "-1", role: "group", "aria-label": "Not all photographs were taken" });
	box.append(make("h2", {}, stopped ? "Stopped" : "Not all photographs were taken"));
	const items = make("ul");
	if (arrived > 0) items.append(make("li", {}, `${arrived} ${arrived === 1 ? "photograph is" : "photographs are"} in the record.`));
	for (const f of failed) items.append(make("li", {}, f));
	box.append(items);
	if (to) box.append(make("p", {}, make("a", { href: to }, "Go on")));
	form.prepend(box);
	box.focus();
	say(box.textContent ?? "");
}

const letters = "0123456789abcdefghjkmnpqrstvwxyz";

/** A key of its own for each photograph: it keeps the time of the form's. */
function keyLike(key: string): string {
	const raw = crypto.getRandomValues(new Uint8Array(7));
	return key.slice(0, 9) + Array.from(raw, (b) => letters[b & 31]).join("");
}

function send(form: HTMLFormElement, files: HTMLInputElement[], file: File, started: (r: XMLHttpRequest) => void, progress: (loaded: number) => void): Promise<Answer> {
	const data = new FormData(form);
	for (const f of files) data.delete(f.name);
	data.set("key", keyLike(String(data.get("key") ?? "")));
	data.set("pressed", new Date().toISOString());
	data.append("photo", file, file.name);
	return new Promise((resolve) => {
		const r = new XMLHttpRequest();
		started(r);
		r.open("POST", form.action);
		r.setRequestHeader("X-Outbox", "upload");
		r.upload.onprogress = (e) => progress(e.loaded);
		r.onerror = r.onabort = () => resolve({ ok: false, said: "the connection was lost: send it again.", to: "" });
		r.onload = () => resolve(read(r, file.name));
		r.send(data);
	});
}

function read(r: XMLHttpRequest, name: string): Answer {
	if (r.status === 200) {
		try {
			const answer = JSON.parse(r.responseText) as { to: string; said: string };
			return { ok: true, said: answer.said, to: answer.to };
		} catch {
			// Not what was expected: told below.
		}
	}
	// A refused form comes back as its page, with the sentence in it.
	const page = new DOMParser().parseFromString(r.responseText, "text/html");
	const said = page.querySelector(".refusals li, .refusal div div")?.textContent ?? page.querySelector("main p")?.textContent ?? "";
	return { ok: false, said: said.replace(`${name}: `, "").trim() || `the bench answered ${r.status}.`, to: "" };
}
