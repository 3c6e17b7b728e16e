// The viewer of a face's two pictures, loaded by the results page alone: deep
// zoom, slider, blink, side by side, maps of change, and areas outlined by hand.
// Without it the page shows the two pictures side by side and takes an area by
// numbers.

import { all, make, say } from "./dom";
import { Shapes, type Shape } from "./compare_shapes";
import { Stage, type Layer } from "./compare_stage";

/** What the page says about its pictures. */
interface Config {
	before: Layer;
	/** Laid on the before picture when there are maps; null when there is none. */
	after: Layer | null;
	maps: Layer[];
	shapes: Shape[];
	/** The address that reads an area, to be completed by its outline. */
	read: string;
}

type Mode = "slider" | "blink" | "side" | "map";

/** What maps show, by the beginning of their names. */
const quantities = [
	["de00", "ΔE00"],
	["dl", "ΔL*"],
	["db", "Δb*"],
] as const;

const blinkEvery = 900; // ms: well under three flashes a second

export function startViewers(): void {
	for (const box of all<HTMLElement>("[data-viewer]")) new Viewer(box).start();
	for (const box of all<HTMLElement>("[data-progress]")) follow(box);
}

class Viewer {
	private readonly config: Config;
	private readonly stage: Stage;
	private readonly shapes: Shapes;
	private readonly calm = matchMedia("(prefers-reduced-motion: reduce)");
	private readonly range = make("input", { type: "range", min: "0", max: "100", step: "1", value: "50" });
	private readonly line = make("button", { type: "button", class: "viewer-line", tabindex: "-1", "aria-hidden": "true" });
	private readonly captions = [make("span", { class: "viewer-caption" }), make("span", { class: "viewer-caption" })] as const;
	private readonly modes = new Map<Mode, HTMLButtonElement>();
	private readonly blinkBox = make("div", { class: "acts viewer-blink" });
	private readonly mapBox = make("div", { class: "viewer-maps", role: "group", "aria-label": "Which change" });
	private readonly evenButton = make("button", { type: "button", "aria-pressed": "true" }, "Light evened");
	private mode: Mode = "slider";
	private quantity = "de00";
	private even = true;
	private flip = false;
	private blinking: number | undefined;
	private asked: AbortController | undefined;

	constructor(private readonly box: HTMLElement) {
		this.config = JSON.parse(box.dataset["viewer"] ?? "{}") as Config;
		const picture = make("div", { class: "viewer-picture" });
		box.append(picture); // the stage must know its size
		box.classList.add("live");
		this.stage = new Stage(picture, [this.config.before, ...(this.config.after ? [this.config.after] : []), ...this.config.maps], this.calm.matches);
		this.shapes = new Shapes(picture, this.stage, (shape) => void this.read(shape));
		picture.append(this.line, ...this.captions);
		const plain = all(".viewer-plain", box); // for paper
		box.replaceChildren(...plain, this.modeBar(), picture, this.rangeRow(), this.mapBox, this.blinkBox, this.handBar(), this.shapes.bar);
	}

	start(): void {
		const found = document.querySelector<HTMLDetailsElement>("details#found");
		// Proposals lie on the picture while their list is open.
		const show = () => this.shapes.show(this.config.shapes.filter((s) => s.sort !== "proposed" || found?.open));
		show();
		found?.addEventListener("toggle", show);
		this.range.addEventListener("input", () => this.draw());
		this.stage.moved = () => {
			this.shapes.place();
			if (this.mode === "slider") this.stage.split(Number(this.range.value) / 100);
		};
		this.dragLine();
		this.rectangle();
		for (const b of all<HTMLElement>("[data-shape]")) {
			b.addEventListener("click", (event) => {
				event.preventDefault(); // it is a link where this does not run
				this.go(b.dataset["shape"] ?? "");
			});
		}
		this.set("slider");
		if (location.hash.startsWith("#shape-")) this.go(location.hash.slice(7));
	}

	private modeBar(): HTMLElement {
		const bar = make("div", { class: "viewer-modes", role: "group", "aria-label": "How the two pictures are laid together" });
		const add = (mode: Mode, words: string) => {
			const b = make("button", { type: "button" }, words);
			b.addEventListener("click", () => this.set(mode));
			this.modes.set(mode, b);
			bar.append(b);
		};
		if (!this.config.after) {
			bar.hidden = true;
			return bar;
		}
		add("slider", "Slider");
		add("blink", "Blink");
		add("side", "Side by side");
		if (this.config.maps.length > 0) add("map", "Difference");
		for (const [name, words] of quantities) {
			const b = make("button", { type: "button", "data-quantity": name, "aria-pressed": String(name === this.quantity) }, words);
			b.addEventListener("click", () => this.choose(name, this.even));
			this.mapBox.append(b);
		}
		this.evenButton.addEventListener("click", () => this.choose(this.quantity, !this.even));
		this.mapBox.append(this.evenButton);
		return bar;
	}

	private rangeRow(): HTMLElement {
		return make("div", { class: "viewer-range" }, this.range);
	}

	/** Buttons for what fingers do: zoom and move (WCAG 2.5.7, 2.5.1). */
	private handBar(): HTMLElement {
		const bar = make("div", { class: "viewer-hand", role: "group", "aria-label": "Zoom and move" });
		const add = (label: string, sign: string, act: () => void) => {
			const b = make("button", { type: "button", "aria-label": label, title: label }, sign);
			b.addEventListener("click", act);
			bar.append(b);
		};
		add("Zoom out", "−", () => this.stage.zoom(1 / 1.5));
		add("Zoom in", "+", () => this.stage.zoom(1.5));
		add("Whole picture", "⤢", () => this.stage.whole());
		add("1:1, one pixel of the picture on one of the screen", "1:1", () => this.stage.full());
		add("Move left", "←", () => this.stage.pan(-0.2, 0));
		add("Move up", "↑", () => this.stage.pan(0, -0.2));
		add("Move down", "↓", () => this.stage.pan(0, 0.2));
		add("Move right", "→", () => this.stage.pan(0.2, 0));
		return bar;
	}

	private set(mode: Mode): void {
		this.mode = mode;
		this.flip = false;
		this.stop();
		for (const [m, b] of this.modes) b.setAttribute("aria-pressed", String(m === mode));
		this.stage.beside(mode === "side");
		this.box.dataset["mode"] = mode;
		this.mapBox.hidden = mode !== "map";
		this.range.parentElement!.hidden = !this.config.after || (mode !== "slider" && mode !== "map");
		this.blinkBox.hidden = mode !== "blink";
		if (mode === "map") this.range.value = "100";
		if (mode === "slider") this.range.value = "50";
		if (mode === "blink") this.blinkButtons();
		for (const l of all<HTMLElement>("[data-legend]")) l.hidden = mode !== "map" || l.dataset["legend"] !== this.config.maps[this.map]?.name;
		this.draw();
		// Reduced motion: the pictures change places only when asked to.
		if (mode === "blink" && !this.calm.matches) this.startBlink();
	}

	private choose(quantity: string, even: boolean): void {
		this.quantity = quantity;
		this.even = even;
		for (const b of all<HTMLElement>("[data-quantity]", this.mapBox)) b.setAttribute("aria-pressed", String(b.dataset["quantity"] === quantity));
		this.evenButton.setAttribute("aria-pressed", String(even));
		const part = this.range.value;
		this.set("map");
		this.range.value = part;
		this.draw();
	}

	/** The map that is chosen, as its place among the maps. */
	private get map(): number {
		const name = this.quantity + (this.even ? "-even" : "");
		return this.config.maps.findIndex((m) => m.name === name);
	}

	/** Brings the picture into the state that the controls say. */
	private draw(): void {
		const part = Number(this.range.value);
		const shown: Record<number, number> = {};
		const [left, right] = this.captions;
		left.textContent = this.config.before.words;
		right.textContent = this.config.after?.words ?? "";
		left.hidden = false;
		right.hidden = !this.config.after;
		this.line.hidden = this.mode !== "slider" || !this.config.after;
		this.stage.unsplit();
		switch (this.mode) {
			case "slider":
				shown[0] = shown[1] = 1;
				this.line.style.left = `${part}%`;
				this.label("Before and after", `${part} % before, ${100 - part} % after`);
				break;
			case "blink":
				shown[0] = 1;
				shown[1] = this.flip ? 1 : 0;
				left.hidden = this.flip;
				right.hidden = !this.flip;
				break;
			case "side":
				shown[0] = 1;
				break;
			case "map":
				shown[0] = 1;
				shown[2 + this.map] = part / 100;
				right.textContent = this.config.maps[this.map]?.words ?? "";
				left.hidden = part === 100;
				this.label("How much of the map shows over the before picture", `${part} %`);
				break;
		}
		this.stage.show(shown);
		if (this.mode === "slider") this.stage.split(part / 100);
	}

	private label(name: string, value: string): void {
		this.range.setAttribute("aria-label", name);
		this.range.setAttribute("aria-valuetext", value);
	}

	private blinkButtons(): void {
		const step = make("button", { type: "button", class: "act second" }, "Show the other");
		step.addEventListener("click", () => {
			this.stop();
			this.turn();
		});
		const go = make("button", { type: "button", class: "act second" }, this.blinking === undefined ? "Start blinking" : "Stop blinking");
		go.addEventListener("click", () => (this.blinking === undefined ? this.startBlink() : this.stop()));
		this.blinkBox.replaceChildren(go, step);
	}

	private turn(): void {
		this.flip = !this.flip;
		this.draw();
	}

	private startBlink(): void {
		this.stop();
		this.blinking = window.setInterval(() => this.turn(), blinkEvery);
		this.blinkWords();
	}

	private stop(): void {
		window.clearInterval(this.blinking);
		this.blinking = undefined;
		this.blinkWords();
	}

	private blinkWords(): void {
		const b = this.blinkBox.firstElementChild;
		if (b) b.textContent = this.blinking === undefined ? "Start blinking" : "Stop blinking";
	}

	/** A finger on the line moves it; everywhere else it moves the picture. */
	private dragLine(): void {
		const line = this.line;
		line.addEventListener("pointerdown", (event) => {
			event.preventDefault();
			line.setPointerCapture(event.pointerId);
		});
		line.addEventListener("pointermove", (event) => {
			if (!line.hasPointerCapture(event.pointerId)) return;
			const r = line.parentElement!.getBoundingClientRect();
			this.range.value = String(Math.round((100 * (event.clientX - r.left)) / r.width));
			this.draw();
		});
	}

	/** The form that takes an area by numbers works here without leaving the page. */
	private rectangle(): void {
		const form = document.querySelector<HTMLFormElement>("form[data-rectangle]");
		form?.addEventListener("submit", (event) => {
			const data = new FormData(form);
			const [x, y, w, h] = ["left", "top", "width", "height"].map((n) => parseFloat(String(data.get(n) ?? "").replace(",", "."))) as [number, number, number, number];
			if (![x, y, w, h].every(Number.isFinite)) return; // the server says what is wrong
			event.preventDefault();
			this.shapes.take({ key: "", label: "", words: "", sort: "drawn", rings: [[[x, y], [x + w, y], [x + w, y + h], [x, y + h]]] });
		});
	}

	private go(key: string): void {
		const shape = this.config.shapes.find((s) => s.key === key);
		if (!shape) return;
		this.shapes.take(shape);
		this.stage.lookAt(shape.rings);
		this.box.scrollIntoView({ block: "start", behavior: this.calm.matches ? "auto" : "smooth" });
	}

	/** Asks the bench what lies under an outline, and shows its answer. */
	private async read(shape: Shape | undefined): Promise<void> {
		const panel = document.getElementById("area-read");
		if (!panel) return;
		this.asked?.abort();
		if (!shape) {
			panel.replaceChildren();
			return;
		}
		const mine = new AbortController();
		this.asked = mine;
		panel.classList.add("stale");
		const query = new URLSearchParams({ outline: this.shapes.written(shape), shape: shape.key, source: shape.sort, fast: "1" });
		try {
			const found = await ask(`${this.config.read}&${query.toString()}`, mine.signal);
			panel.replaceChildren(...Array.from(found.childNodes));
			panel.classList.remove("stale");
			say(panel.querySelector(".area-said")?.textContent ?? "");
			const around = panel.querySelector<HTMLElement>("[data-around]");
			if (!around) return;
			// The paper round the area takes longer to read: it comes after.
			const whole = await ask(around.dataset["around"] ?? "", mine.signal);
			around.replaceWith(...all<HTMLElement>("[data-round]", whole));
		} catch {
			if (mine.signal.aborted) return;
			panel.classList.remove("stale");
			panel.replaceChildren(make("p", { class: "muted" }, "The bench did not answer. Try again when the network is there."));
		}
	}
}

/** The part of a page that reads an area. */
async function ask(address: string, signal: AbortSignal): Promise<Element> {
	const reply = await fetch(address, { signal, headers: { Accept: "text/html" } });
	const page = new DOMParser().parseFromString(await reply.text(), "text/html");
	return page.getElementById("area-read") ?? page.querySelector("main") ?? page.body;
}

/** Shows how far a long piece of work is, and the page anew when it is done. */
function follow(box: HTMLElement): void {
	const bar = box.querySelector("progress");
	const said = box.querySelector(".said");
	let typed = false;
	document.addEventListener("input", () => (typed = true), { once: true });
	const look = async () => {
		try {
			const reply = await fetch(box.dataset["progress"] ?? "", { cache: "no-store" });
			const now = (await reply.json()) as { under: boolean; share: number; doing: string };
			if (now.under) {
				if (bar) bar.value = now.share;
				if (said && said.textContent !== now.doing) said.textContent = now.doing;
			} else if (typed) {
				box.replaceChildren(make("p", {}, "It is ready. "), make("a", { class: "act", href: location.href }, "Show it"));
				return;
			} else {
				location.reload();
				return;
			}
		} catch {
			// The network is away: look again later.
		}
		setTimeout(() => void look(), 700);
	};
	setTimeout(() => void look(), 400);
}

startViewers();
