// The map of a face: a finger, pen, mouse or keyboard draws where a damage is, in
// millimetres. What was drawn says what it can be; one touch more says which of
// these, and through which sheets. Loaded by the pages of faces alone; without it
// they show the face, and a damage is recorded in words and numbers.

import { all, make, newKey, say } from "./dom";
import { at, bounds, closedAlong, distance, drawnAs, length, pathData, simplified, snapped, type Drawn, type Point, type Shape } from "./map_shapes";

interface Kind {
	term: string;
	name: string;
	group: string;
	letter: string;
	colour: string;
	hatch: string;
	meaning: string;
	caution?: string;
	measure: "length" | "area" | "count" | "word";
	depth: "always" | "perhaps" | "never";
}

interface Finding {
	id: string;
	seq: number;
	no: number;
	kind: number;
	name: string;
	place: string;
	extent: string;
	severity: string;
	now?: string;
	open?: string[];
	through?: boolean;
	drawn: boolean;
	unsaid?: boolean;
	sheets: number[];
	shapes: Shape[];
	fields: Record<string, string[]>;
	page: string;
}

interface Config {
	seq: number;
	by: string;
	closed?: boolean;
	sheet: number;
	face: "outer" | "inner";
	pages: string[];
	size: [number, number];
	fold: number;
	snap: number;
	photo?: { small: string; medium: string; large: string };
	sheets: { n: number; name: string; size: [number, number] }[];
	kinds: Kind[];
	offers: Partial<Record<Drawn, number[]>>;
	findings: Finding[];
	levels: { value: string; words: string; meaning: string }[];
	save: string;
	data: string;
	undo: string;
	case: string;
}

const svg = "http://www.w3.org/2000/svg";

function draw(name: string, attributes: Record<string, string | number>, within: Element): SVGElement {
	const e = document.createElementNS(svg, name);
	for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, String(v));
	within.append(e);
	return e;
}

/** How far a touch may wander and still be a tap, in pixels of the screen. */
const tapPx = 7;

/** How near a touch must come to a mark to pick it, in pixels of the screen. */
const pickPx = 16;

type Grip = { shape: number; point: number };

function start(box: HTMLElement): void {
	let config = JSON.parse(box.dataset["map"] ?? "{}") as Config;
	const stage = box.querySelector<HTMLElement>(".map-stage")!;
	const face = stage.querySelector<SVGSVGElement>("svg.face")!;
	const behind = box.querySelector<SVGSVGElement>(".map-behind svg.face")!;
	const [width, height] = config.size;
	box.classList.add("live");
	face.removeAttribute("role");
	face.setAttribute("tabindex", "0");
	face.setAttribute("role", "application");
	face.setAttribute("aria-roledescription", "face to draw on");
	face.setAttribute("aria-describedby", "map-keys");
	const keys = make(
		"p",
		{ id: "map-keys", class: "heard" },
		"Arrow keys move the cross, with Shift by a tenth. Enter sets a point, Enter at the last point ends the line, C closes an area, Backspace takes the last point back, Escape drops it.",
	);
	stage.append(keys);

	// Marks are redrawn here from the data, so that they can be picked and moved.
	for (const g of all("g.mark", face)) g.remove();
	const here = new Set(config.findings.map((f) => String(f.no)));
	// What lies on the face behind alone keeps its place there.
	const keptBehind = all<SVGElement>("g.mark", behind).filter((g) => !here.has(g.dataset["no"] ?? ""));
	for (const g of all("g.mark", behind)) g.remove();
	const marks = draw("g", { class: "marks" }, face);
	const hand = draw("g", { class: "hand" }, face);
	const marksBehind = draw("g", { class: "marks" }, behind);
	const handBehind = draw("path", { class: "drawing", d: "" }, behind);
	const stroke = draw("path", { class: "drawing", d: "" }, hand);
	const cross = draw("path", { class: "cross", d: "", visibility: "hidden" }, hand);
	const handles = draw("g", { class: "handles" }, hand);

	const panel = make("div", { class: "map-panel", role: "region", "aria-label": "What was drawn" });
	const bar = make("div", { class: "map-bar", role: "group", "aria-label": "View" });
	face.style.aspectRatio = String((width + 12) / (height + 12));
	box.querySelector(".map-behind")!.append(bar);
	box.append(panel);

	// ---- The view: which part of the face is seen, in mm ----

	let view = { x: 0, y: 0, w: width, h: height };
	let pxPerMm = 1;
	const margin = 6; // mm round the sheet, so that an edge can be reached
	const shown = () => {
		face.setAttribute("viewBox", `${view.x} ${view.y} ${view.w} ${view.h}`);
		measureView();
	};
	const measureView = () => {
		const r = face.getBoundingClientRect();
		frame = r;
		pxPerMm = Math.min(r.width / view.w, r.height / view.h) || 1;
		face.style.setProperty("--mm", String(1 / pxPerMm));
		sharper();
	};
	let frame = face.getBoundingClientRect();
	const fit = () => {
		view = { x: -margin, y: -margin, w: width + 2 * margin, h: height + 2 * margin };
		shown();
	};
	const zoomBy = (factor: number, x: number, y: number) => {
		const most = width + 2 * margin;
		const w = Math.min(most, Math.max(25, view.w / factor));
		const k = w / view.w;
		view = { x: x - (x - view.x) * k, y: y - (y - view.y) * k, w, h: view.h * k };
		clampView();
		shown();
	};
	const clampView = () => {
		view.x = Math.min(width + margin - view.w, Math.max(-margin, view.x));
		view.y = Math.min(height + margin - view.h, Math.max(-margin, view.y));
		if (view.w >= width + 2 * margin) view.x = (width - view.w) / 2;
		if (view.h >= height + 2 * margin) view.y = (height - view.h) / 2;
	};
	/** Loads the larger picture when the smaller would show its pixels. */
	const sharper = () => {
		const image = face.querySelector("image");
		if (image && config.photo && pxPerMm * width * devicePixelRatio > 1500 && image.getAttribute("href") !== config.photo.large) {
			image.setAttribute("href", config.photo.large);
		}
	};
	const toMm = (e: { clientX: number; clientY: number }): Point => {
		// preserveAspectRatio: the smaller scale, in the middle.
		const scale = Math.min(frame.width / view.w, frame.height / view.h);
		const left = frame.left + (frame.width - view.w * scale) / 2;
		const top = frame.top + (frame.height - view.h * scale) / 2;
		return [view.x + (e.clientX - left) / scale, view.y + (e.clientY - top) / scale];
	};
	const within = (p: Point): Point => [Math.min(width, Math.max(0, p[0])), Math.min(height, Math.max(0, p[1]))];
	const snap = (p: Point) => snapped(within(p), width, height, config.fold, Math.min(config.snap, 10 / pxPerMm));

	// ---- What the hand holds ----

	let drawn: Point[] = []; // the stroke under the hand, or the points that keys have set
	let pending: Shape[] = []; // drawn, and not yet recorded
	let picked: Finding | null = null;
	let moved: Shape[] | null = null; // the picked finding's shapes while they move
	let grip: Grip | null = null;
	let from: Point = [0, 0];
	let startPx = { x: 0, y: 0 };
	let tapped = true;
	const undoable: { first: number; last: number; what: string }[] = [];
	const mirrored = (p: Point): Point => [width - p[0], p[1]];

	const showStroke = () => {
		const parts = pending.map((s) => pathData(s));
		if (drawn.length > 1) parts.push("M" + drawn.map(at).join("L"));
		else if (drawn.length === 1) parts.push(dotData(drawn[0]!));
		stroke.setAttribute("d", parts.join(""));
		const back = pending.map((s) => pathData({ ...s, p: s.p.map(mirrored) }));
		if (drawn.length > 1) back.push("M" + drawn.map((p) => at(mirrored(p))).join("L"));
		handBehind.setAttribute("d", back.join(""));
	};
	const dotData = (p: Point) => `M${at([p[0] - 1, p[1]])}L${at([p[0] + 1, p[1]])}M${at([p[0], p[1] - 1])}L${at([p[0], p[1] + 1])}`;

	// ---- Marks ----

	const byNo = new Map<number, SVGElement[]>();
	const drawMarks = () => {
		marks.replaceChildren();
		marksBehind.replaceChildren();
		byNo.clear();
		for (const f of config.findings) {
			const kind = config.kinds[f.kind];
			const groups = [draw("g", { class: "mark" + (f.unsaid ? " unsaid" : ""), "data-colour": kind?.colour ?? "", "data-no": f.no }, marks)];
			for (const s of f.shapes) drawShape(s, kind, groups[0]!);
			if (f.through || f.unsaid) {
				const g = draw("g", { class: "mark" + (f.unsaid ? " unsaid" : ""), "data-colour": kind?.colour ?? "" }, marksBehind);
				for (const s of f.shapes) drawShape(f.unsaid ? s : { ...s, p: s.p.map(mirrored) }, kind, g);
				groups.push(g);
			}
			label(f, kind, groups[0]!);
			byNo.set(f.no, groups);
		}
		marksBehind.append(...keptBehind);
	};
	const drawShape = (s: Shape, kind: Kind | undefined, g: Element) => {
		const d = pathData(s);
		if (s.form === "spot") {
			draw("circle", { class: "halo", cx: s.p[0]![0], cy: s.p[0]![1], r: 2.4 }, g);
			draw("circle", { cx: s.p[0]![0], cy: s.p[0]![1], r: 2 }, g);
			return;
		}
		if (s.form === "strip") draw("path", { class: "strip", d, "stroke-width": s.w ?? 1 }, g);
		else if (s.form !== "line" && kind) draw("path", { class: "area", d, fill: `url(#${hatchId(kind.hatch)})` }, g);
		else draw("path", { class: "halo", d }, g);
		draw("path", { class: "line", d }, g);
	};
	const hatchId = (h: string) => "hatch-" + h.replace(/ /g, "-").replace("-/", "-up").replace("-\\", "-down").replace("-|", "-v").replace(/--$/, "-h");
	const label = (f: Finding, kind: Kind | undefined, g: Element) => {
		const first = f.shapes[0];
		if (!first || !kind) return;
		const b = bounds(first.p);
		const right = b.high[0] > 0.85 * width;
		const x = right ? b.low[0] + 0.6 * (b.high[0] - b.low[0]) : b.high[0] + 1.5;
		const t = draw("text", { class: "mark-label", x, y: Math.max(6, b.low[1] - 1) }, g);
		t.textContent = `${kind.letter} ${f.no}`;
	};

	// ---- Picking, moving, reshaping ----

	const pick = (f: Finding | null) => {
		for (const groups of byNo.values()) for (const g of groups) g.classList.remove("picked");
		picked = f;
		moved = null;
		handles.replaceChildren();
		if (f) {
			for (const g of byNo.get(f.no) ?? []) g.classList.add("picked");
			if (f.drawn && !config.closed) showHandles(f.shapes);
		}
		showPanel();
	};
	const mostHandles = 60;
	const showHandles = (shapes: Shape[]) => {
		handles.replaceChildren();
		shapes.forEach((s, i) => {
			if (s.p.length > mostHandles) return;
			s.p.forEach((p, k) => draw("circle", { class: "grip", cx: p[0], cy: p[1], r: 1, "data-shape": i, "data-point": k }, handles));
		});
	};
	const nearest = (p: Point): Finding | null => {
		let best: Finding | null = null;
		let least = pickPx / pxPerMm;
		for (const f of config.findings) {
			for (const s of f.shapes) {
				const d = distance(p, s);
				if (d < least) [best, least] = [f, d];
			}
		}
		return best;
	};
	const gripAt = (p: Point): Grip | null => {
		if (!picked?.drawn || config.closed) return null;
		let best: Grip | null = null;
		let least = pickPx / pxPerMm;
		picked.shapes.forEach((s, i) =>
			s.p.forEach((q, k) => {
				const d = Math.hypot(q[0] - p[0], q[1] - p[1]);
				if (s.p.length <= mostHandles && d < least) [best, least] = [{ shape: i, point: k }, d];
			}),
		);
		if (best) return best;
		const i = picked.shapes.findIndex((s) => distance(p, s) < pickPx / pxPerMm);
		return i < 0 ? null : { shape: i, point: -1 };
	};
	/** The shapes of the picked finding with what the grip holds moved to a place. */
	const movedTo = (p: Point): Shape[] => {
		if (!picked || !grip) return [];
		const held = grip;
		return picked.shapes.map((s, i) => {
			if (held.point < 0) {
				if (i !== held.shape) return s;
				const b = bounds(s.p);
				const dx = Math.min(width - b.high[0], Math.max(-b.low[0], p[0] - from[0]));
				const dy = Math.min(height - b.high[1], Math.max(-b.low[1], p[1] - from[1]));
				return { ...s, p: s.p.map((q): Point => [q[0] + dx, q[1] + dy]) };
			}
			if (i !== held.shape) return s;
			return { ...s, p: s.p.map((q, k) => (k === held.point ? snap(p) : q)) };
		});
	};
	const showMoved = () => {
		if (!picked || !moved) return;
		const groups = byNo.get(picked.no) ?? [];
		groups.forEach((g, side) => {
			const shapes = side === 0 ? moved! : moved!.map((s) => ({ ...s, p: s.p.map(mirrored) }));
			const ways = all("path, circle", g);
			let at = 0;
			for (const s of shapes) {
				for (let k = 0; k < 2; k++) {
					const e = ways[at++];
					if (!e) continue;
					if (s.form === "spot") {
						e.setAttribute("cx", String(s.p[0]![0]));
						e.setAttribute("cy", String(s.p[0]![1]));
					} else e.setAttribute("d", pathData(s));
				}
			}
		});
	};

	// ---- Pointers ----

	const pointers = new Map<number, PointerEvent>();
	let pinch: { gap: number; x: number; y: number } | null = null;
	const pinchOf = () => {
		const [a, b] = Array.from(pointers.values());
		return { gap: Math.hypot(a!.clientX - b!.clientX, a!.clientY - b!.clientY), x: (a!.clientX + b!.clientX) / 2, y: (a!.clientY + b!.clientY) / 2 };
	};
	face.addEventListener("pointerdown", (e) => {
		if (e.button > 0) return;
		measureView();
		pointers.set(e.pointerId, e);
		try {
			face.setPointerCapture(e.pointerId);
		} catch {
			// A pointer that is gone already, or one of a test.
		}
		if (pointers.size === 2) {
			drawn = [];
			grip = null;
			if (moved) drawMarks();
			moved = null;
			showStroke();
			pinch = pinchOf();
			return;
		}
		if (pointers.size > 2) return;
		cross.setAttribute("visibility", "hidden");
		from = toMm(e);
		startPx = { x: e.clientX, y: e.clientY };
		tapped = true;
		grip = pending.length === 0 ? gripAt(from) : null;
		if (!grip && !config.closed) drawn = [snap(from)];
	});
	let latest: PointerEvent | null = null;
	let asked = 0;
	face.addEventListener("pointermove", (e) => {
		if (!pointers.has(e.pointerId)) return;
		pointers.set(e.pointerId, e);
		if (pinch && pointers.size === 2) {
			const now = pinchOf();
			const before = toMm({ clientX: pinch.x, clientY: pinch.y });
			zoomBy(now.gap / pinch.gap, before[0], before[1]);
			const after = toMm({ clientX: now.x, clientY: now.y });
			view.x += before[0] - after[0];
			view.y += before[1] - after[1];
			clampView();
			shown();
			pinch = now;
			return;
		}
		if (Math.hypot(e.clientX - startPx.x, e.clientY - startPx.y) > tapPx) tapped = false;
		if (tapped) return;
		if (!grip) for (const c of e.getCoalescedEvents?.() ?? [e]) drawn.push(within(toMm(c)));
		latest = e;
		asked ||= requestAnimationFrame(frameOf);
	});
	/** One drawing to a frame, however many moves come. */
	const frameOf = () => {
		asked = 0;
		if (!latest) return;
		if (grip) {
			moved = movedTo(within(toMm(latest)));
			showMoved();
		} else showStroke();
		latest = null;
	};
	const lift = (e: PointerEvent) => {
		if (!pointers.delete(e.pointerId)) return;
		if (pinch) {
			if (pointers.size < 2) pinch = null;
			drawn = [];
			return;
		}
		if (pointers.size > 0) return;
		if (asked) cancelAnimationFrame(asked);
		asked = 0;
		latest = null;
		if (e.type === "pointercancel") {
			drawn = [];
			grip = null;
			showStroke();
			return;
		}
		const p = toMm(e);
		if (grip && !tapped) {
			moved = movedTo(within(p));
			showMoved();
			void change({ shapes: moved });
			grip = null;
			return;
		}
		grip = null;
		if (tapped) return tap(p);
		drawn.push(snap(p));
		finish(drawn);
	};
	face.addEventListener("pointerup", lift);
	face.addEventListener("pointercancel", lift);
	face.addEventListener(
		"wheel",
		(e) => {
			if (!e.ctrlKey && !e.metaKey && !e.altKey) return; // the page scrolls
			e.preventDefault();
			measureView();
			const p = toMm(e);
			zoomBy(Math.exp(-e.deltaY / 300), p[0], p[1]);
		},
		{ passive: false },
	);

	const tap = (p: Point) => {
		drawn = [];
		const f = pending.length === 0 ? nearest(p) : null;
		if (f || config.closed) {
			showStroke();
			pick(f);
			return;
		}
		pending.push({ form: "spot", p: [round(snap(p))] });
		showStroke();
		pick(null);
	};
	const round = (p: Point): Point => [Math.round(p[0] * 10) / 10, Math.round(p[1] * 10) / 10];
	/** A stroke that ended becomes a line, or an area where it came back to its beginning. */
	const finish = (way: Point[]) => {
		const first = way[0]!;
		const last = way[way.length - 1]!;
		const all = length(way);
		drawn = [];
		if (all < 0.5) {
			showStroke();
			return;
		}
		const closes = Math.hypot(first[0] - last[0], first[1] - last[1]) < Math.min(12, 0.15 * all) && all > 12;
		const points = simplified(way, 0.4).map(round);
		if (closes && points.length > 3) points.pop();
		pending.push({ form: closes && points.length > 2 ? "outline" : "line", p: points });
		showStroke();
		pick(null);
	};

	// ---- Keys ----

	let cursor: Point = [width / 2, height / 2];
	let setByKeys: Point[] = [];
	const showCross = () => {
		const s = 8 / pxPerMm;
		cross.setAttribute("visibility", "visible");
		cross.setAttribute("d", `M${at([cursor[0] - s, cursor[1]])}H${cursor[0] + s}M${at([cursor[0], cursor[1] - s])}V${cursor[1] + s}`);
		drawn = setByKeys.length > 0 ? [...setByKeys, cursor] : [];
		showStroke();
	};
	const told = (p: Point) => `${p[0].toFixed(0)} mm from the left, ${p[1].toFixed(0)} mm from the head`;
	face.addEventListener("keydown", (e) => {
		const step = e.shiftKey ? 0.5 : 5;
		const arrows: Record<string, Point> = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
		const by = arrows[e.key];
		if (by && picked?.drawn && e.altKey) {
			e.preventDefault();
			from = [0, 0];
			grip = { shape: 0, point: -1 };
			const whole = movedTo(by);
			grip = null;
			void change({ shapes: whole });
		} else if (by) {
			e.preventDefault();
			cursor = within([cursor[0] + by[0], cursor[1] + by[1]]);
			measureView();
			showCross();
			say(told(cursor));
		} else if (e.key === "Enter" || e.key === " ") {
			e.preventDefault();
			if (config.closed) return;
			const p = snap(cursor);
			const last = setByKeys[setByKeys.length - 1];
			if (last && Math.hypot(last[0] - p[0], last[1] - p[1]) < 0.01) return endKeys("line");
			setByKeys.push(round(p));
			showCross();
			say(`Point ${setByKeys.length}, ${told(p)}`);
		} else if ((e.key === "c" || e.key === "C") && setByKeys.length > 2) {
			e.preventDefault();
			endKeys("outline");
		} else if (e.key === "Backspace") {
			e.preventDefault();
			setByKeys.pop();
			showCross();
		} else if (e.key === "Escape") {
			setByKeys = [];
			dropPending();
		} else if (e.key === "+" || e.key === "-") zoomBy(e.key === "+" ? 1.5 : 1 / 1.5, cursor[0], cursor[1]);
	});
	const endKeys = (form: "line" | "outline") => {
		const points = setByKeys;
		setByKeys = [];
		drawn = [];
		cross.setAttribute("visibility", "hidden");
		pending.push(points.length === 1 ? { form: "spot", p: points } : { form, p: points });
		showStroke();
		pick(null);
		// Not its first kind: the key that ends a line, held a moment longer, would record it.
		panel.tabIndex = -1;
		panel.focus();
	};
	const dropPending = () => {
		pending = [];
		drawn = [];
		showStroke();
		showPanel();
	};

	// ---- The panel: what it can be, through which sheets ----

	let more = "";
	let bandMm = "";
	const showPanel = () => {
		panel.replaceChildren();
		if (pending.length > 0) offer();
		else if (picked) tell(picked);
		else if (undoable.length > 0) panel.append(acts(undoButton()));
		panel.hidden = panel.childElementCount === 0;
	};
	const acts = (...list: (Node | string)[]) => make("div", { class: "acts" }, ...list);
	const button = (words: string, style: string, press: () => void, pressed?: boolean) => {
		const b = make("button", { type: "button", class: style }, words);
		if (pressed !== undefined) b.setAttribute("aria-pressed", String(pressed));
		b.addEventListener("click", press);
		return b;
	};
	const offer = () => {
		const last = pending[pending.length - 1]!;
		const as = drawnAs(last, width, height, config.fold, config.snap);
		const list = [...(config.offers[as] ?? [])];
		if (bandMm !== "") list.unshift(...(config.offers["strip"] ?? []).filter((k) => !list.includes(k)));
		const chosen = config.kinds.findIndex((k) => k.term === more);
		if (chosen >= 0) list.unshift(...[chosen].filter((k) => !list.includes(k)));
		const head = make("p", { class: "map-said" }, describe(as));
		const rows = make("div", { class: "offers" });
		for (const i of list) rows.append(row(config.kinds[i]!));
		const others = make("select", { "aria-label": "Another kind" }, make("option", { value: "" }, "Another kind"));
		for (const g of new Set(config.kinds.map((k) => k.group))) {
			const group = make("optgroup", { label: g });
			for (const k of config.kinds) if (k.group === g && k.measure !== "word") group.append(make("option", { value: k.term }, k.name));
			others.append(group);
		}
		others.value = more;
		others.addEventListener("change", () => {
			more = others.value;
			showPanel();
			panel.querySelector<HTMLElement>(".offer button")?.focus();
		});
		const tail = acts(others);
		if (last.form === "line") {
			const w = make("input", { type: "text", inputmode: "decimal", class: "band", "aria-label": "Width of the strip in mm", value: bandMm, placeholder: "width" });
			w.addEventListener("change", () => {
				bandMm = w.value.trim().replace(",", ".");
				showPanel();
			});
			tail.append(make("label", { class: "band-label" }, "As a strip ", w, " mm wide"));
		}
		tail.append(button("Drop it", "act plain", dropPending));
		panel.append(head, rows, tail);
	};
	const describe = (as: Drawn) => {
		const s = pending[pending.length - 1]!;
		const more = pending.length > 1 ? `${pending.length} shapes; the last: ` : "";
		const extent = s.form === "spot" ? "" : s.form === "outline" ? "" : `, ${length(s.p).toFixed(0)} mm`;
		return `${more}${as[0]!.toUpperCase()}${as.slice(1)}${extent}. What is it, and how deep? Draw on to add to it.`;
	};
	const row = (k: Kind) => {
		const spans = make("div", { class: "spans", role: "group", "aria-label": `${k.name}: through which sheets` });
		const add = (words: string, sheets: number[], through: boolean, label: string) => {
			const b = button(words, "act second span", () => void record(k, sheets, through));
			b.setAttribute("aria-label", `${k.name}, ${words}${label}`);
			spans.append(b);
		};
		const here = config.sheet;
		const name = (n: number) => (n === 0 ? "C" : String(n));
		if (k.depth !== "always") add("this face", [here], false, " only");
		if (k.depth !== "never") {
			add(k.depth === "always" ? (here === 0 ? "cover" : `sheet ${here}`) : "through", [here], true, ", both faces");
			const inwards: number[][] = [];
			const outwards: number[][] = [];
			const there = new Set(config.sheets.map((s) => s.n));
			for (let n = here + 1; there.has(n); n++) inwards.push([...(inwards[inwards.length - 1] ?? [here]), n]);
			for (let n = here - 1; there.has(n); n--) outwards.push([n, ...(outwards[outwards.length - 1] ?? [here])]);
			const lists = config.face === "outer" ? [inwards, outwards] : [outwards, inwards];
			for (const list of lists) {
				for (const span of list) add(`${name(span[0]!)}–${name(span[span.length - 1]!)}`, span, true, `: sheets ${span[0]} to ${span[span.length - 1]}`);
			}
		}
		const head = make("div", { class: "offer-kind" }, make("b", {}, k.name), make("span", {}, k.meaning));
		if (k.caution) head.append(make("span", { class: "offer-caution" }, k.caution));
		return make("div", { class: "offer" }, head, spans);
	};

	/** What is recorded of a kind: a stroke from edge to edge can be an area too. */
	const shapesFor = (k: Kind): Shape[] =>
		pending.map((s) => {
			const w = Number(bandMm);
			if (s.form === "line" && w > 0) return { form: "strip", p: s.p, w };
			if (s.form === "line" && k.measure === "area") {
				const closed = closedAlong(s.p, width, height);
				if (closed) return { form: "outline", p: closed.map(round) };
			}
			return s;
		});
	const written = (shapes: Shape[]) =>
		shapes.map((s) => [s.form, ...(s.form === "strip" ? [String(s.w ?? 1)] : []), ...s.p.map((p) => `${num(p[0])},${num(p[1])}`)].join(" ")).join("; ");
	const num = (v: number) => String(Math.round(v * 100) / 100);
	/** The shapes as they lie on the outermost sheet of a finding. */
	const onOutermost = (shapes: Shape[], sheets: number[]) => {
		const widthOf = (n: number) => config.sheets.find((s) => s.n === n)?.size[0] ?? width;
		const by = (widthOf(sheets[0]!) - width) / 2;
		return by === 0 ? shapes : shapes.map((s) => ({ ...s, p: s.p.map((p): Point => [p[0] + by, p[1]]) }));
	};

	const record = async (k: Kind, sheets: number[], through: boolean) => {
		const fields: [string, string][] = [
			["term", k.term],
			["face", config.face],
			["shapes", written(onOutermost(shapesFor(k), sheets))],
			...sheets.map((n): [string, string] => ["sheets", String(n)]),
		];
		if (through) fields.push(["through", "yes"]);
		const was = pending;
		pending = [];
		more = "";
		bandMm = "";
		const done = await send(fields, k.name);
		if (!done) {
			pending = was;
			showStroke();
			showPanel();
			return;
		}
		showStroke();
		await reload();
		const newest = config.findings.reduce<Finding | null>((a, f) => (f.seq >= done.first && f.seq <= done.last ? f : a), null);
		pick(newest);
	};

	// ---- A finding that was picked ----

	const tell = (f: Finding) => {
		const kind = config.kinds[f.kind];
		const open = f.open?.length ? `Open: ${f.open.join(", ")}.` : "";
		panel.append(
			make("p", { class: "map-said" }, make("b", {}, `No. ${f.no} ${f.name} ${f.extent}`), ` ${f.place}. ${open}`),
		);
		if (config.closed) return;
		const levels = make("div", { class: "spans", role: "group", "aria-label": "Severity" });
		for (const l of config.levels) {
			const b = button(l.words, "act second span", () => void change({ severity: l.value }), f.severity === l.value);
			b.title = l.meaning;
			levels.append(b);
		}
		panel.append(levels);
		if (f.drawn && kind && f.shapes.length > 0) {
			const text = make("textarea", { rows: "2", "aria-label": "Drawn, in mm", spellcheck: "false" });
			text.value = f.fields["shapes"]?.[0] ?? "";
			const byNumbers = make("details", { class: "more" }, make("summary", {}, "By numbers"), text);
			byNumbers.append(acts(button("Save the numbers", "act second", () => void change({ numbers: text.value }))));
			panel.append(byNumbers);
		}
		const list: (Node | string)[] = [make("a", { class: "act plain", href: f.page }, "All of it: cause, light, split, merge")];
		if (undoable.length > 0) list.unshift(undoButton());
		panel.append(acts(...list));
		if (!f.drawn && !f.unsaid) panel.append(make("p", { class: "muted" }, `Drawn on ${f.sheets[0] === 0 ? "the cover" : `sheet ${f.sheets[0]}`}, and seen here through the paper. It is moved where it was drawn.`));
	};
	const undoButton = () => {
		const u = undoable[undoable.length - 1]!;
		return button(`Undo: ${u.what}`, "act plain", () => void undo());
	};
	const change = async (to: { shapes?: Shape[]; severity?: string; numbers?: string }) => {
		const f = picked;
		if (!f) return;
		const fields: [string, string][] = [];
		for (const [name, values] of Object.entries(f.fields)) for (const v of values) fields.push([name, v]);
		const set = (name: string, value: string) => {
			const i = fields.findIndex((x) => x[0] === name);
			if (i >= 0) fields[i] = [name, value];
			else fields.push([name, value]);
		};
		set("corrects", String(f.seq));
		if (to.severity !== undefined) set("severity", to.severity);
		if (to.numbers !== undefined) set("shapes", to.numbers);
		if (to.shapes) set("shapes", written(onOutermost(to.shapes, f.sheets)));
		const done = await send(fields, to.severity === undefined ? `move of no. ${f.no}` : `severity of no. ${f.no}`);
		await reload();
		if (done || to.shapes) pick(config.findings.find((x) => x.no === f.no) ?? null);
	};

	// ---- To the bench and back ----

	interface Done {
		first: number;
		last: number;
	}
	const send = async (fields: [string, string][], what: string): Promise<Done | null> => {
		const body = new URLSearchParams([["key", newKey()], ["seq", String(config.seq)], ["by", config.by], ["pressed", new Date().toISOString()], ...fields]);
		try {
			const reply = await fetch(config.save, { method: "POST", body, headers: { "X-Outbox": "1", Accept: "application/json" }, redirect: "error" });
			const text = await reply.text();
			if (reply.ok) {
				const done = JSON.parse(text) as Done;
				undoable.push({ ...done, what });
				say(`${what}: recorded.`);
				return done;
			}
			let sentence = "The bench did not take it.";
			try {
				sentence = (JSON.parse(text) as { refused: string[] }).refused.join(" ");
			} catch {
				if (text.length < 300) sentence = text.trim();
			}
			refuse(sentence);
		} catch {
			refuse("The bench does not answer. What you drew stays here: press again when the network is back.");
		}
		return null;
	};
	const refuse = (sentence: string) => {
		stage.querySelector(".map-refused")?.remove();
		const notice = make("div", { class: "notice bad map-refused", role: "alert" }, make("p", {}, sentence));
		stage.append(notice);
		setTimeout(() => notice.remove(), 12_000);
	};
	const reload = async () => {
		try {
			const reply = await fetch(config.data, { cache: "no-store" });
			if (reply.ok) config = (await reply.json()) as Config;
		} catch {
			// The next act tells that the network is away.
		}
		document.querySelector<HTMLElement>("main[data-seq]")?.setAttribute("data-seq", String(config.seq));
		drawMarks();
		list();
	};
	const undo = async () => {
		const u = undoable.pop();
		if (!u) return;
		const body = new URLSearchParams([["key", newKey()], ["seq", String(config.seq)], ["by", config.by], ["case", config.case], ["first", String(u.first)], ["last", String(u.last)], ["back", location.pathname]]);
		try {
			await fetch(config.undo, { method: "POST", body, headers: { "X-Outbox": "1" }, redirect: "error" });
		} catch {
			refuse("The bench does not answer: nothing was undone.");
			undoable.push(u);
		}
		await reload();
		pick(null);
		say(`Undone: ${u.what}.`);
	};

	/** The findings below the face: what is on it now. */
	const list = () => {
		const ol = document.querySelector<HTMLOListElement>("#on-face .findings");
		if (!ol) return;
		ol.replaceChildren(
			...config.findings.map((f) => {
				const kind = config.kinds[f.kind];
				const letter = make("span", { class: "letter", "data-colour": kind?.colour ?? "" }, `${f.no} ${kind?.letter ?? ""}`);
				const judged = make("span", { class: "judged" }, f.open?.length ? `open: ${f.open.join(", ")}` : f.severity);
				const words = make("span", { class: "finding" }, make("b", {}, `${f.name} ${f.extent}`), make("span", { class: "where" }, f.place), judged);
				const a = make("a", { href: f.page }, letter, words);
				a.addEventListener("click", (e) => {
					e.preventDefault();
					pick(f);
					face.scrollIntoView({ block: "nearest" });
				});
				return make("li", {}, a);
			}),
		);
	};

	bar.append(
		button("+", "act second", () => zoomBy(1.6, view.x + view.w / 2, view.y + view.h / 2)),
		button("−", "act second", () => zoomBy(1 / 1.6, view.x + view.w / 2, view.y + view.h / 2)),
		button("Whole", "act second", fit),
	);
	bar.querySelectorAll("button")[0]!.setAttribute("aria-label", "Nearer");
	bar.querySelectorAll("button")[1]!.setAttribute("aria-label", "Farther");
	addEventListener("resize", measureView);
	fit();
	drawMarks();
	list();
	showPanel();
}

for (const box of all<HTMLElement>("[data-map]")) start(box);
