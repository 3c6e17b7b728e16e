// Areas outlined over the picture: shown, drawn by finger, mouse or taps, and
// corrected by handles that also move by arrow keys.

import { make, say } from "./dom";
import type { Ring, Stage } from "./compare_stage";

/** An outlined area, in pixels of the before picture. */
export interface Shape {
	/** Names it to the bench; empty for one just drawn. */
	key: string;
	label: string;
	words: string;
	/** "kept", "proposed" or "drawn". */
	sort: string;
	rings: Ring[];
}

const svgNS = "http://www.w3.org/2000/svg";

function svg<K extends keyof SVGElementTagNameMap>(tag: K, attributes: Record<string, string>): SVGElementTagNameMap[K] {
	const e = document.createElementNS(svgNS, tag);
	for (const [name, value] of Object.entries(attributes)) e.setAttribute(name, value);
	return e;
}

/** Places of an outline that stay while it is drawn, a screen pixel apart at least. */
const coarse = 1.2;

export class Shapes {
	/** The buttons for drawing. */
	readonly bar = make("div", { class: "acts viewer-draw" });
	private readonly layer = svg("svg", { class: "viewer-shapes", "aria-hidden": "true" });
	private readonly group = svg("g", {});
	private readonly knobs = make("div", { class: "viewer-knobs" });
	private readonly pad = make("div", { class: "viewer-pad" });
	private readonly draw = make("button", { type: "button", class: "act" }, "Draw an area");
	private readonly done = make("button", { type: "button", class: "act" }, "Done");
	private readonly drop = make("button", { type: "button", class: "act second" }, "Discard");
	private readonly hint = make("p", { class: "viewer-hint" });
	private shapes: Shape[] = [];
	private chosen: Shape | undefined;
	private drawing: Ring | undefined;
	private knobAt: { ring: number; index: number }[] = [];
	private asking: number | undefined;

	constructor(
		private readonly picture: HTMLElement,
		private readonly stage: Stage,
		private readonly read: (shape: Shape | undefined) => void,
	) {
		this.layer.append(this.group);
		stage.view.append(this.layer, this.pad, this.knobs);
		this.pad.hidden = true;
		this.bar.append(this.draw, this.done, this.drop, this.hint);
		this.draw.addEventListener("click", () => this.begin());
		this.done.addEventListener("click", () => this.close());
		this.drop.addEventListener("click", () => this.letGo());
		this.buttons();
		this.hand();
		stage.tapped((x, y) => this.pick(x, y));
		stage.settled(() => this.layKnobs());
		picture.addEventListener("keydown", (event) => {
			if (event.key === "Escape" && (this.drawing || this.chosen)) this.letGo();
			if (event.key === "Enter" && this.drawing) this.close();
		});
	}

	show(shapes: Shape[]): void {
		this.shapes = shapes;
		this.paint();
	}

	/** Makes a shape the one that is read and can be corrected. */
	take(shape: Shape): void {
		this.stopDrawing();
		this.chosen = { ...shape, rings: shape.rings.map((r) => r.map((p) => [p[0], p[1]] as [number, number])) };
		this.paint();
		this.layKnobs();
		this.buttons();
		this.read(this.chosen);
	}

	/** The outline as the bench reads it. */
	written(shape: Shape): string {
		return shape.rings.map((r) => r.map((p) => `${Math.round(p[0] * 10) / 10},${Math.round(p[1] * 10) / 10}`).join(" ")).join(";");
	}

	/** Keeps the outlines over their places; cheap, since it runs with every move. */
	place(): void {
		const { x, y, scale } = this.stage.at();
		if (!Number.isFinite(scale) || scale <= 0) return;
		// (0, 0) of an outline is the middle of the first pixel.
		this.group.setAttribute("transform", `translate(${x + scale / 2} ${y + scale / 2}) scale(${scale})`);
		for (const t of this.group.querySelectorAll("text")) {
			// Numbers of small proposals would hide the picture: they come with zooming.
			t.style.visibility = Number(t.dataset["wide"]) * scale < 26 ? "hidden" : "";
			t.setAttribute("transform", `translate(${t.dataset["x"]} ${t.dataset["y"]}) scale(${1 / scale})`);
		}
		this.placeKnobs();
	}

	private paint(): void {
		this.group.replaceChildren();
		for (const s of this.shapes) if (s.key !== this.chosen?.key) this.path(s.rings, s.sort, s.label);
		if (this.chosen) this.path(this.chosen.rings, "chosen", "");
		if (this.drawing) this.path([this.drawing], "drawing", "");
		this.place();
	}

	private path(rings: Ring[], sort: string, label: string): void {
		if (!rings.some((r) => r.length > 0)) return;
		const d = rings.map((r) => "M" + r.map((p) => `${p[0].toFixed(1)} ${p[1].toFixed(1)}`).join("L") + (sort === "drawing" ? "" : "Z")).join("");
		// Dark under light: seen on paper, on print and on the maps.
		this.group.append(svg("path", { d, class: `under ${sort}` }), svg("path", { d, class: `over ${sort}` }));
		if (!label) return;
		const top = rings.flat().reduce((a, b) => (b[1] < a[1] ? b : a), [0, Infinity] as [number, number]);
		const t = svg("text", { class: sort, dy: "-6" });
		const xs = rings.flat().map((p) => p[0]);
		t.dataset["wide"] = String(sort === "proposed" ? Math.max(...xs) - Math.min(...xs) : Infinity);
		t.dataset["x"] = String(top[0]);
		t.dataset["y"] = String(top[1]);
		t.textContent = label;
		this.group.append(t);
	}

	private buttons(): void {
		this.draw.hidden = !!this.drawing;
		this.draw.className = this.chosen ? "act second" : "act";
		this.draw.textContent = this.chosen ? "Draw another area" : "Draw an area";
		this.done.hidden = !this.drawing;
		this.drop.hidden = !this.drawing && !this.chosen;
		this.hint.textContent = this.drawing
			? "Draw round it with a finger, or tap corner by corner and press Done."
			: this.chosen
				? "Drag the round handles to correct the outline; arrow keys move the one that has the focus."
				: "";
	}

	private begin(): void {
		this.chosen = undefined;
		this.drawing = [];
		this.read(undefined);
		this.pad.hidden = false;
		this.picture.classList.add("drawing");
		this.stage.still(true);
		this.layKnobs();
		this.paint();
		this.buttons();
		say("Drawing. Without a pointer, enter the area by numbers below the picture.");
	}

	private stopDrawing(): void {
		this.drawing = undefined;
		this.pad.hidden = true;
		this.picture.classList.remove("drawing");
		this.stage.still(false);
	}

	private letGo(): void {
		this.stopDrawing();
		this.chosen = undefined;
		this.layKnobs();
		this.paint();
		this.buttons();
		this.read(undefined);
		this.draw.focus({ preventScroll: true });
	}

	private close(): void {
		const ring = this.drawing ?? [];
		if (ring.length < 3) {
			this.hint.textContent = "An area needs at least three corners.";
			return;
		}
		this.take({ key: "", label: "", words: "", sort: "drawn", rings: [simpler(ring, coarse / this.stage.at().scale)] });
	}

	/** A finger that is dragged draws; one that is tapped sets a corner. */
	private hand(): void {
		let from: [number, number] | undefined;
		let dragged = false;
		const spot = (event: PointerEvent): [number, number] => {
			const r = this.pad.getBoundingClientRect();
			const { x, y, scale } = this.stage.at();
			return [(event.clientX - r.left - x) / scale - 0.5, (event.clientY - r.top - y) / scale - 0.5];
		};
		this.pad.addEventListener("pointerdown", (event) => {
			if (!this.drawing || !event.isPrimary || event.button !== 0) return;
			event.preventDefault();
			this.pad.setPointerCapture(event.pointerId);
			from = [event.clientX, event.clientY];
			dragged = false;
			this.drawing.push(spot(event));
			this.paint();
		});
		this.pad.addEventListener("pointermove", (event) => {
			if (!this.drawing || !from || !this.pad.hasPointerCapture(event.pointerId)) return;
			if (Math.hypot(event.clientX - from[0], event.clientY - from[1]) > 6) dragged = true;
			if (!dragged) return;
			this.drawing.push(spot(event));
			this.paint();
		});
		this.pad.addEventListener("pointerup", () => {
			if (!this.drawing) return;
			const whole = dragged && this.drawing.length > 8;
			from = undefined;
			if (whole) this.close();
		});
	}

	/** A tap inside an outline takes it up. */
	private pick(x: number, y: number): void {
		if (this.drawing) return;
		const { x: x0, y: y0, scale } = this.stage.at();
		const p: [number, number] = [(x - x0) / scale - 0.5, (y - y0) / scale - 0.5];
		const found = this.shapes.filter((s) => inside(s.rings, p)).sort((a, b) => size(a.rings) - size(b.rings))[0];
		if (found && found.key !== this.chosen?.key) this.take(found);
	}

	/** Handles stand a finger's width apart: each moves its stretch of the outline. */
	private layKnobs(): void {
		this.knobAt = [];
		this.knobs.replaceChildren();
		const rings = this.chosen?.rings ?? [];
		const { scale } = this.stage.at();
		rings.forEach((ring, k) => {
			const length = around(ring) * scale;
			if (length < 150) return; // too small on the screen: zoom in first
			const count = Math.min(ring.length, 16, Math.floor(length / 60));
			for (const index of evenly(ring, count)) this.knobAt.push({ ring: k, index });
		});
		if (this.knobAt.length > 24) this.knobAt = [];
		this.knobAt.forEach((at, i) => this.knobs.append(this.knob(at, i)));
		this.placeKnobs();
	}

	private knob(at: { ring: number; index: number }, i: number): HTMLElement {
		const b = make("button", { type: "button", class: "viewer-knob", "aria-label": `Handle ${i + 1} of ${this.knobAt.length}: arrow keys move it` });
		let last: [number, number] = [0, 0]; // movementX is nought under fingers in some browsers
		b.addEventListener("pointerdown", (event) => {
			event.preventDefault();
			event.stopPropagation();
			b.setPointerCapture(event.pointerId);
			b.focus({ preventScroll: true });
			last = [event.clientX, event.clientY];
		});
		b.addEventListener("pointermove", (event) => {
			if (!b.hasPointerCapture(event.pointerId)) return;
			event.stopPropagation();
			this.shift(at, event.clientX - last[0], event.clientY - last[1]);
			last = [event.clientX, event.clientY];
		});
		b.addEventListener("keydown", (event) => {
			const step = event.shiftKey ? 20 : 4;
			const by: Record<string, [number, number]> = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
			const d = by[event.key];
			if (!d) return;
			event.preventDefault();
			event.stopPropagation();
			this.shift(at, d[0], d[1]);
		});
		return b;
	}

	/** Moves a handle by screen pixels, and less and less what lies between it and the next ones. */
	private shift(at: { ring: number; index: number }, dx: number, dy: number): void {
		const ring = this.chosen?.rings[at.ring];
		if (!ring) return;
		const { scale } = this.stage.at();
		const n = ring.length;
		const mine = this.knobAt.filter((k) => k.ring === at.ring).map((k) => k.index);
		const before = Math.min(...mine.filter((k) => k !== at.index).map((k) => (at.index - k + n) % n), n);
		const after = Math.min(...mine.filter((k) => k !== at.index).map((k) => (k - at.index + n) % n), n);
		for (let k = -before + 1; k < after; k++) {
			const p = ring[(at.index + k + n) % n]!;
			const weight = 1 - Math.abs(k) / (k < 0 ? before : after);
			p[0] += (weight * dx) / scale;
			p[1] += (weight * dy) / scale;
		}
		if (this.chosen!.sort === "proposed") this.chosen!.sort = "drawn";
		this.paint();
		window.clearTimeout(this.asking);
		this.asking = window.setTimeout(() => this.read(this.chosen), 250);
	}

	private placeKnobs(): void {
		const { x, y, scale } = this.stage.at();
		this.knobAt.forEach((at, i) => {
			const p = this.chosen?.rings[at.ring]?.[at.index];
			const b = this.knobs.children[i] as HTMLElement | undefined;
			if (!p || !b) return;
			b.style.left = `${x + (p[0] + 0.5) * scale}px`;
			b.style.top = `${y + (p[1] + 0.5) * scale}px`;
		});
	}
}

function around(ring: Ring): number {
	let sum = 0;
	ring.forEach((p, i) => {
		const q = ring[(i + 1) % ring.length]!;
		sum += Math.hypot(q[0] - p[0], q[1] - p[1]);
	});
	return sum;
}

/** Corners of a ring about as far from each other along it. */
function evenly(ring: Ring, count: number): number[] {
	if (count >= ring.length) return ring.map((_, i) => i);
	const list: number[] = [];
	const whole = around(ring);
	let gone = 0;
	ring.forEach((p, i) => {
		if (gone >= (list.length * whole) / count) list.push(i);
		const q = ring[(i + 1) % ring.length]!;
		gone += Math.hypot(q[0] - p[0], q[1] - p[1]);
	});
	return list;
}

function inside(rings: Ring[], p: [number, number]): boolean {
	let odd = false;
	for (const r of rings) {
		r.forEach((a, i) => {
			const b = r[(i + 1) % r.length]!;
			if (a[1] > p[1] !== b[1] > p[1] && p[0] < ((b[0] - a[0]) * (p[1] - a[1])) / (b[1] - a[1]) + a[0]) odd = !odd;
		});
	}
	return odd;
}

function size(rings: Ring[]): number {
	let sum = 0;
	for (const r of rings)
		r.forEach((a, i) => {
			const b = r[(i + 1) % r.length]!;
			sum += a[0] * b[1] - b[0] * a[1];
		});
	return Math.abs(sum);
}

/** Leaves out what lies within reach of a straight line (Douglas and Peucker 1973). */
function simpler(ring: Ring, reach: number): Ring {
	const keep = new Uint8Array(ring.length);
	keep[0] = keep[ring.length - 1] = 1;
	const todo: [number, number][] = [[0, ring.length - 1]];
	for (let span = todo.pop(); span; span = todo.pop()) {
		const [i, j] = span;
		const a = ring[i]!;
		const b = ring[j]!;
		const length = Math.hypot(b[0] - a[0], b[1] - a[1]);
		let worst = reach;
		let at = -1;
		for (let k = i + 1; k < j; k++) {
			const p = ring[k]!;
			const d = length > 0 ? Math.abs((b[0] - a[0]) * (a[1] - p[1]) - (a[0] - p[0]) * (b[1] - a[1])) / length : Math.hypot(p[0] - a[0], p[1] - a[1]);
			if (d > worst) [worst, at] = [d, k];
		}
		if (at < 0) continue;
		keep[at] = 1;
		todo.push([i, at], [at, j]);
	}
	const out = ring.filter((_, i) => keep[i] === 1);
	return out.length >= 3 ? out : ring;
}
