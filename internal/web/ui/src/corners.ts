// Four corners on a photograph, moved by finger, mouse or arrow keys, with the
// places between them that will be read, and a loupe for the corner under the
// hand. Without this the corners are entered in pixels.

import { all, say } from "./dom";

interface Point {
	x: number;
	y: number;
}

const svg = "http://www.w3.org/2000/svg";

/** How wide a handle is to be touched, in pixels of the screen. */
const touch = 24;

export function startCorners(): void {
	for (const box of all<HTMLElement>("[data-corners]")) start(box);
}

function start(box: HTMLElement): void {
	const form = box.closest("form");
	const picture = box.querySelector<HTMLElement>(".corners-picture");
	const image = picture?.querySelector("img");
	const over = picture?.querySelector("svg");
	const loupe = box.querySelector<SVGSVGElement>(".loupe");
	if (!form || !picture || !image || !over || !loupe) return;
	const width = Number(image.getAttribute("width"));
	const height = Number(image.getAttribute("height"));
	const rows = Number(box.dataset["rows"]) || 1;
	const columns = Number(box.dataset["columns"]) || 1;
	const fields = [1, 2, 3, 4].map((n) => ["x", "y"].map((c) => form.elements.namedItem(c + n) as HTMLInputElement));
	const handles = all<SVGGElement>(".handle", over);
	const found = form.elements.namedItem("found") as HTMLInputElement | null;

	const at = (n: number): Point => {
		const read = (k: number) => Number((fields[n]![k]!.value || "0").replace(",", ".")) || 0;
		return { x: read(0), y: read(1) };
	};
	const put = (n: number, p: Point) => {
		const clamp = (v: number, most: number) => String(Math.round(10 * Math.min(most - 0.5, Math.max(-0.5, v))) / 10);
		fields[n]![0]!.value = clamp(p.x, width);
		fields[n]![1]!.value = clamp(p.y, height);
		if (found) found.value = "";
		draw();
		look(n);
	};

	/** Pixels of the photograph to one of the screen. */
	const zoom = () => width / Math.max(1, over.getBoundingClientRect().width);

	const draw = () => {
		const q = handles.map((_, n) => at(n));
		for (const outline of all<SVGPolygonElement>("polygon", over)) outline.setAttribute("points", q.map((p) => `${p.x},${p.y}`).join(" "));
		const scale = zoom();
		handles.forEach((g, n) => {
			const p = q[n]!;
			for (const c of all<SVGCircleElement>("circle", g)) {
				c.setAttribute("cx", String(p.x));
				c.setAttribute("cy", String(p.y));
			}
			g.querySelector(".touch")?.setAttribute("r", String(touch * scale));
			g.querySelector(".dot")?.setAttribute("r", String(5 * scale));
			const text = g.querySelector("text");
			// The number stands outside, so that it hides nothing of the chart.
			const m = { x: (q[0]!.x + q[2]!.x) / 2, y: (q[0]!.y + q[2]!.y) / 2 };
			const d = Math.hypot(p.x - m.x, p.y - m.y) || 1;
			text?.setAttribute("x", String(p.x + ((p.x - m.x) / d) * 15 * scale));
			text?.setAttribute("y", String(p.y + ((p.y - m.y) / d) * 15 * scale));
			text?.setAttribute("font-size", String(17 * scale));
		});
		const grid = over.querySelector(".grid");
		if (grid) drawCells(grid, q, rows, columns);
	};

	const look = (n: number) => {
		const p = at(n);
		const half = Math.max(24, 45 * zoom()) / 2;
		loupe.removeAttribute("hidden");
		loupe.setAttribute("viewBox", `${p.x - half} ${p.y - half} ${2 * half} ${2 * half}`);
		loupe.querySelector("polygon")?.setAttribute("points", handles.map((_, k) => `${at(k).x},${at(k).y}`).join(" "));
		loupe.querySelector(".cross")?.setAttribute("d", `M${p.x - half / 5} ${p.y}h${(2 * half) / 5}M${p.x} ${p.y - half / 5}v${(2 * half) / 5}`);
	};

	const where = (event: PointerEvent): Point => {
		const r = over.getBoundingClientRect();
		return { x: ((event.clientX - r.left) / r.width) * width - 0.5, y: ((event.clientY - r.top) / r.height) * height - 0.5 };
	};

	handles.forEach((g, n) => {
		const dot = document.createElementNS(svg, "circle");
		dot.setAttribute("class", "dot");
		g.append(dot);
		g.setAttribute("tabindex", "0");
		g.setAttribute("role", "button");
		g.setAttribute("aria-label", `Corner ${n + 1}. Arrow keys move it, with Shift further.`);
		let off: Point = { x: 0, y: 0 };
		g.addEventListener("pointerdown", (event) => {
			if (event.button !== 0) return;
			event.preventDefault();
			const p = where(event);
			off = { x: at(n).x - p.x, y: at(n).y - p.y };
			g.setPointerCapture(event.pointerId);
			g.focus({ preventScroll: true });
			look(n);
		});
		g.addEventListener("pointermove", (event) => {
			if (!g.hasPointerCapture(event.pointerId)) return;
			const p = where(event);
			put(n, { x: p.x + off.x, y: p.y + off.y });
		});
		g.addEventListener("focus", () => look(n));
		g.addEventListener("keydown", (event) => {
			const step = (event.shiftKey ? 10 : 1) * Math.max(1, zoom());
			const d = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
			if (!d) return;
			event.preventDefault();
			const p = at(n);
			put(n, { x: p.x + d[0]! * step, y: p.y + d[1]! * step });
			say(`Corner ${n + 1}: ${fields[n]![0]!.value} from the left, ${fields[n]![1]!.value} from the top.`);
		});
	});
	for (const pair of fields)
		for (const f of pair)
			f.addEventListener("input", () => {
				if (found) found.value = "";
				draw();
			});
	box.classList.add("live");
	new ResizeObserver(draw).observe(picture);
	draw();
	look(0);
}

/** Outlines what will be read of each patch: the inner half of its sides. */
function drawCells(grid: Element, q: Point[], rows: number, columns: number): void {
	grid.replaceChildren();
	if (rows * columns > 400) return;
	const map = plane(q);
	if (!map) return;
	let d = "";
	for (let r = 0; r < rows; r++)
		for (let c = 0; c < columns; c++) {
			const corners = [[0.25, 0.25], [0.75, 0.25], [0.75, 0.75], [0.25, 0.75]].map(([u, v]) => map((c + u!) / columns, (r + v!) / rows));
			d += "M" + corners.map((p) => `${p.x.toFixed(1)} ${p.y.toFixed(1)}`).join("L") + "Z";
		}
	for (const name of ["under", "line"]) {
		const path = document.createElementNS(svg, "path");
		path.setAttribute("class", name);
		path.setAttribute("d", d);
		grid.append(path);
	}
}

/**
 * The perspective map from the unit square to four corners (Heckbert,
 * Fundamentals of texture mapping and image warping, 1989, section 2.2.3).
 */
function plane(q: Point[]): ((u: number, v: number) => Point) | null {
	const [a, b, c, d] = q as [Point, Point, Point, Point];
	const sx = a.x - b.x + c.x - d.x;
	const sy = a.y - b.y + c.y - d.y;
	const x1 = b.x - c.x;
	const y1 = b.y - c.y;
	const x2 = d.x - c.x;
	const y2 = d.y - c.y;
	const det = x1 * y2 - x2 * y1;
	if (Math.abs(det) < 1e-9) return null;
	const g = (sx * y2 - x2 * sy) / det;
	const h = (x1 * sy - sx * y1) / det;
	return (u, v) => {
		const w = g * u + h * v + 1;
		return {
			x: ((b.x - a.x + g * b.x) * u + (d.x - a.x + h * d.x) * v + a.x) / w,
			y: ((b.y - a.y + g * b.y) * u + (d.y - a.y + h * d.y) * v + a.y) / w,
		};
	};
}
