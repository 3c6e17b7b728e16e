// The place of a sheet: sliders beside their numbers, and the answer that follows
// the hand. One question is under way at a time; a newer one takes its place.
// When the hand rests, the same is asked once more with all samples.

import { all, say } from "./dom";

/** How long a hand must be still to count as resting, ms. */
const rest = 350;

interface Answer {
	now?: string;
	answer?: string;
	says?: string;
	refused: { field: string; say: string }[];
}

export function startSheet(): void {
	const place = document.querySelector<HTMLElement>("[data-trial]");
	const form = place?.querySelector<HTMLFormElement>("form#trial");
	if (place && form) new Trial(place, form, place.dataset["trial"] ?? "").start();
}

class Trial {
	private asked: AbortController | undefined;
	private full = false;
	private again = false;
	private still: ReturnType<typeof setTimeout> | undefined;

	constructor(
		private readonly place: HTMLElement,
		private readonly form: HTMLFormElement,
		private readonly path: string,
	) {}

	start(): void {
		for (const box of all<HTMLElement>("[data-slide]", this.form)) this.couple(box);
		for (const kind of all<HTMLInputElement>("input[name='kind']", this.place)) kind.addEventListener("change", () => this.changeKind(kind));
		this.place.addEventListener("input", () => this.moved());
		this.place.addEventListener("change", () => this.moved());
		this.form.addEventListener("submit", (event) => {
			event.preventDefault();
			this.ask(true);
		});
		for (const other of all<HTMLFormElement>("form[data-carries]")) other.addEventListener("submit", () => this.carry(other));
		all<HTMLElement>(".go", this.form).forEach((button) => (button.hidden = true));
	}

	/** Makes the slider follow the number and the number the slider. */
	private couple(box: HTMLElement): void {
		const slider = box.querySelector<HTMLInputElement>("input[type='range']");
		const typed = box.querySelector<HTMLInputElement>("input[name]");
		if (!slider || !typed) return;
		slider.hidden = false;
		slider.addEventListener("input", () => (typed.value = slider.value));
		typed.addEventListener("input", () => {
			const v = Number(typed.value.replace(",", "."));
			if (typed.value.trim() !== "" && Number.isFinite(v)) slider.value = String(v);
		});
	}

	/** Gives the strength the unit, the span and the start of another kind. */
	private changeKind(kind: HTMLInputElement): void {
		const box = this.form.querySelector<HTMLElement>("[data-slide='strength']");
		const slider = box?.querySelector<HTMLInputElement>("input[type='range']");
		const typed = box?.querySelector<HTMLInputElement>("input[name='strength']");
		const of = this.form.querySelector<HTMLInputElement>("input[name='strength_of']");
		if (!box || !slider || !typed || !of) return;
		const { unit = "", min = "0", max = "1", step = "1", start = "0" } = kind.dataset;
		box.hidden = unit === "";
		[slider.min, slider.max, slider.step] = [min, max, step];
		slider.value = start;
		typed.value = start;
		of.value = kind.value;
		all<HTMLElement>(".unit", box).forEach((u) => (u.textContent = unit));
		const heard = box.querySelector<HTMLElement>("label .heard");
		if (heard) heard.textContent = ` in ${unit}`;
	}

	private moved(): void {
		clearTimeout(this.still);
		this.still = setTimeout(() => this.ask(true), rest);
		if (this.asked && this.full) {
			this.asked.abort(); // the long answer is to an older question
			this.asked = undefined;
		}
		if (this.asked) this.again = true;
		else this.ask(false);
	}

	private query(): URLSearchParams {
		const query = new URLSearchParams();
		for (const [name, value] of new FormData(this.form)) if (typeof value === "string" && value !== "") query.append(name, value);
		return query;
	}

	private ask(full: boolean): void {
		clearTimeout(this.still);
		this.asked?.abort();
		const mine = new AbortController();
		this.asked = mine;
		this.full = full;
		this.again = false;
		void this.fetch(mine, full);
		if (!full) this.still = setTimeout(() => this.ask(true), rest);
	}

	private async fetch(mine: AbortController, full: boolean): Promise<void> {
		const query = this.query();
		const address = query.toString();
		if (!full) query.append("quick", "yes");
		try {
			const reply = await fetch(`${this.path}/answer?${query.toString()}`, { signal: mine.signal, headers: { Accept: "application/json" } });
			if (!reply.ok) throw new Error(String(reply.status));
			const answer = (await reply.json()) as Answer;
			if (mine.signal.aborted) return;
			this.take(answer, full);
			if (full) {
				history.replaceState(null, "", `?${address}`);
				this.link(address);
			}
		} catch {
			// Without the network the last answer stays, and looks old.
			if (!mine.signal.aborted) this.stale(true);
		} finally {
			if (this.asked === mine) {
				this.asked = undefined;
				if (this.again) this.ask(false);
			}
		}
	}

	private take(answer: Answer, full: boolean): void {
		this.refuse(answer.refused);
		this.stale(answer.refused.length > 0);
		if (!answer.now || !answer.answer) return;
		put("sheet-now", answer.now);
		put("sheet-answer", answer.answer);
		document.getElementById("sheet-answer")?.setAttribute("data-samples", full ? "full" : "quick");
		if (full && answer.says) say(answer.says);
	}

	private stale(old: boolean): void {
		const word = document.getElementById("sheet-old");
		if (word) word.hidden = !old;
	}

	/** Puts each sentence at its field, and takes the old ones away. */
	private refuse(list: Answer["refused"]): void {
		this.form.querySelector(".refusals")?.remove();
		for (const field of all<HTMLElement>(".field", this.place)) {
			const control = field.querySelector<HTMLInputElement>("input[name], select");
			if (!control) continue;
			const mine = list.filter((r) => r.field === control.name);
			field.classList.toggle("wrong", mine.length > 0);
			field.querySelector(".refusal")?.remove();
			if (mine.length === 0) {
				control.removeAttribute("aria-invalid");
				if (control.getAttribute("aria-describedby")?.endsWith("-refusal")) control.removeAttribute("aria-describedby");
				continue;
			}
			const words = document.createElement("div");
			words.className = "refusal";
			words.id = `${control.id}-refusal`;
			words.textContent = mine.map((r) => r.say).join(" ");
			field.append(words);
			control.setAttribute("aria-invalid", "true");
			control.setAttribute("aria-describedby", words.id);
			const folded = field.closest("details");
			if (folded) folded.open = true;
		}
		const others = list.filter((r) => r.field === "").map((r) => r.say);
		const word = document.getElementById("sheet-old");
		if (word) word.textContent = [...others, "What stands below is of the bath before."].join(" ");
	}

	/** Lets the tabs and the other sheets go on with this bath. */
	private link(address: string): void {
		for (const a of all<HTMLAnchorElement>("[data-trial-links] a, .sheet-others a")) {
			if (a.search) a.search = `?${address}`;
		}
	}

	/** Gives another form what stands in this one. */
	private carry(other: HTMLFormElement): void {
		const names = new Set(all<HTMLInputElement>("[name]", this.place).map((e) => e.name));
		for (const old of all<HTMLInputElement>("input[type='hidden']", other)) if (names.has(old.name)) old.remove();
		for (const [name, value] of this.query()) {
			const e = document.createElement("input");
			e.type = "hidden";
			e.name = name;
			e.value = value;
			other.append(e);
		}
	}
}

/** Swaps the content of an element; what was folded open stays open. */
function put(id: string, html: string): void {
	const box = document.getElementById(id);
	if (!box) return;
	const open = all<HTMLDetailsElement>("details", box).map((d) => d.open);
	const fresh = new DOMParser().parseFromString(html, "text/html");
	box.replaceChildren(...Array.from(fresh.body.childNodes));
	all<HTMLDetailsElement>("details", box).forEach((d, i) => (d.open = open[i] ?? false));
}
