// Plane geometry under the hand, in millimetres from the left edge and the head of a
// face. What goes into the record is checked and measured by the bench again.

export type Point = [number, number];

export interface Shape {
	form: "spot" | "line" | "strip" | "outline" | "box";
	w?: number;
	p: Point[];
}

/** What was drawn and where, as condition.Drawn has it. */
export type Drawn =
	| "point"
	| "point at the fold"
	| "line"
	| "line from an edge"
	| "line from edge to edge"
	| "line along the fold"
	| "strip"
	| "area"
	| "area at an edge"
	| "area at a corner";

export const at = (p: Point): string => `${Math.round(p[0] * 100) / 100} ${Math.round(p[1] * 100) / 100}`;

/** The way of a pen along a shape. */
export function path(s: Shape): Point[] {
	if (s.form === "box" && s.p.length === 2) {
		const [a, b] = s.p as [Point, Point];
		return [a, [b[0], a[1]], b, [a[0], b[1]]];
	}
	return s.p;
}

export function pathData(s: Shape): string {
	if (s.form === "spot") {
		const [x, y] = s.p[0]!;
		return `M${x - 2} ${y}a2 2 0 1 0 4 0a2 2 0 1 0 -4 0`;
	}
	return "M" + path(s).map(at).join("L") + (s.form === "outline" || s.form === "box" ? "Z" : "");
}

export function bounds(p: Point[]): { low: Point; high: Point } {
	let [lx, ly, hx, hy] = [Infinity, Infinity, -Infinity, -Infinity];
	for (const [x, y] of p) [lx, ly, hx, hy] = [Math.min(lx, x), Math.min(ly, y), Math.max(hx, x), Math.max(hy, y)];
	return { low: [lx, ly], high: [hx, hy] };
}

export function length(p: Point[]): number {
	let sum = 0;
	for (let i = 1; i < p.length; i++) sum += Math.hypot(p[i]![0] - p[i - 1]![0], p[i]![1] - p[i - 1]![1]);
	return sum;
}

function toSegment(q: Point, a: Point, b: Point): number {
	const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
	const l = dx * dx + dy * dy;
	const t = l === 0 ? 0 : Math.min(1, Math.max(0, ((q[0] - a[0]) * dx + (q[1] - a[1]) * dy) / l));
	return Math.hypot(q[0] - a[0] - t * dx, q[1] - a[1] - t * dy);
}

/** How far a place is from a shape; 0 within an area. */
export function distance(q: Point, s: Shape): number {
	const way = path(s);
	if (way.length === 1) return Math.hypot(q[0] - way[0]![0], q[1] - way[0]![1]);
	const closed = s.form === "outline" || s.form === "box";
	let least = Infinity;
	let inside = false;
	for (let i = closed ? 0 : 1; i < way.length; i++) {
		const a = way[(i + way.length - 1) % way.length]!;
		const b = way[i]!;
		least = Math.min(least, toSegment(q, a, b));
		if (closed && a[1] > q[1] !== b[1] > q[1] && q[0] < a[0] + ((q[1] - a[1]) / (b[1] - a[1])) * (b[0] - a[0])) inside = !inside;
	}
	if (inside) return 0;
	return s.form === "strip" ? Math.max(0, least - (s.w ?? 0) / 2) : least;
}

/** A place laid on an edge or the fold that it is near to. */
export function snapped(p: Point, width: number, height: number, fold: number, reach: number): Point {
	let [x, y] = p;
	for (const edge of [0, width, fold]) if (Math.abs(x - edge) <= reach) x = edge;
	for (const edge of [0, height]) if (Math.abs(y - edge) <= reach) y = edge;
	return [x, y];
}

/**
 * Fewer points that stay within tol of the way: Douglas and Peucker, Algorithms for
 * the reduction of the number of points required to represent a digitized line,
 * Cartographica 10, 1973.
 */
export function simplified(way: Point[], tol: number): Point[] {
	const keep = new Uint8Array(way.length);
	keep[0] = keep[way.length - 1] = 1;
	const stack: [number, number][] = [[0, way.length - 1]];
	for (let part = stack.pop(); part; part = stack.pop()) {
		const [i, k] = part;
		let far = -1;
		let most = tol;
		for (let m = i + 1; m < k; m++) {
			const d = toSegment(way[m]!, way[i]!, way[k]!);
			if (d > most) [far, most] = [m, d];
		}
		if (far < 0) continue;
		keep[far] = 1;
		stack.push([i, far], [far, k]);
	}
	return way.filter((_, i) => keep[i]);
}

type Edge = "left" | "right" | "head" | "tail";

function edgesAt(p: Point, width: number, height: number, reach: number): Edge[] {
	const list: Edge[] = [];
	if (p[0] <= reach) list.push("left");
	if (width - p[0] <= reach) list.push("right");
	if (p[1] <= reach) list.push("head");
	if (height - p[1] <= reach) list.push("tail");
	return list;
}

/** What a shape is by where it lies. */
export function drawnAs(s: Shape, width: number, height: number, fold: number, reach: number): Drawn {
	const first = s.p[0]!;
	const last = s.p[s.p.length - 1]!;
	const b = bounds(s.p);
	if (s.form === "spot") return Math.abs(first[0] - fold) <= reach ? "point at the fold" : "point";
	if (s.form === "strip") return "strip";
	if (s.form === "outline" || s.form === "box") return areaAt(s, width, height, reach);
	if (Math.abs(b.low[0] - fold) <= reach && Math.abs(b.high[0] - fold) <= reach) return "line along the fold";
	const ends = [edgesAt(first, width, height, reach), edgesAt(last, width, height, reach)];
	if (ends[0]!.length > 0 && ends[1]!.length > 0) {
		// A bow that begins and ends at one edge, or round a corner, cuts a piece off.
		const straight = Math.hypot(last[0] - first[0], last[1] - first[1]);
		const opposite = ends[0]!.some((e) => ends[1]!.some((f) => [e, f].sort().join() === "left,right" || [e, f].sort().join() === "head,tail"));
		if (!opposite && (length(s.p) > 1.08 * straight || straight < 0.2 * width)) {
			return ends[0]!.some((e) => ends[1]!.includes(e)) ? "area at an edge" : "area at a corner";
		}
		return "line from edge to edge";
	}
	return ends[0]!.length + ends[1]!.length > 0 ? "line from an edge" : "line";
}

function areaAt(s: Shape, width: number, height: number, reach: number): Drawn {
	const b = bounds(s.p);
	const across = b.low[0] <= reach || width - b.high[0] <= reach;
	const down = b.low[1] <= reach || height - b.high[1] <= reach;
	if (across && down) return "area at a corner";
	return across || down ? "area at an edge" : "area";
}

/**
 * An area that a line cuts off, from edge to edge: closed along the edges by the
 * corners between its ends, on the side where the smaller piece lies. Null where an
 * end lies at no edge.
 */
export function closedAlong(way: Point[], width: number, height: number): Point[] | null {
	const ends = [way[0]!, way[way.length - 1]!].map((p) => roundThe(p, width, height));
	if (ends[0] === null || ends[1] === null) return null;
	const [a, b] = ends as [number, number];
	const corners: [number, Point][] = [
		[0, [0, 0]],
		[width, [width, 0]],
		[width + height, [width, height]],
		[2 * width + height, [0, height]],
	];
	const whole = 2 * (width + height);
	const along = (from: number, to: number): Point[] => {
		const span = (to - from + whole) % whole;
		return corners
			.map(([d, p]): [number, Point] => [(d - from + whole) % whole, p])
			.filter(([d]) => d > 1e-6 && d < span - 1e-6)
			.sort((x, y) => x[0] - y[0])
			.map(([, p]) => p);
	};
	const one = [...way, ...along(b, a)];
	const other = [...way, ...along(a, b).reverse()];
	return areaOf(one) <= areaOf(other) ? one : other;
}

/** How far round the sheet from its upper left corner, clockwise, an edge's place is. */
function roundThe([x, y]: Point, width: number, height: number): number | null {
	const reach = 0.01;
	if (y <= reach) return x;
	if (width - x <= reach) return width + y;
	if (height - y <= reach) return width + height + (width - x);
	if (x <= reach) return 2 * width + height + (height - y);
	return null;
}

function areaOf(p: Point[]): number {
	let twice = 0;
	p.forEach(([x, y], i) => {
		const [u, v] = p[(i + 1) % p.length]!;
		twice += x * v - y * u;
	});
	return Math.abs(twice) / 2;
}
