// The picture itself: layers of tiles in one place, moved and zoomed together.

import "./compare_notice";
import OpenSeadragon from "openseadragon";

/** A picture in tiles, or a map of the same size. */
export interface Layer {
	name: string;
	words: string;
	/** The address of its tiles, to be completed by "level-column-row". */
	tiles: string;
	width: number;
	height: number;
}

export type Ring = [number, number][];

const tileSize = 512;

// The library would add a style element, which the page's policy forbids, unless
// it finds its own already. What it would hold, that a tapped picture shows no
// outline, is in compare.css. An element of no known language stands in for it.
const stand = document.createElementNS("urn:benchleaf:none", "style");
stand.setAttribute("data-openseadragon-mobile-css", "");
document.head.append(stand);

export class Stage {
	/** Called whenever the picture has moved under the screen. */
	moved: () => void = () => {};
	private readonly main: OpenSeadragon.Viewer;
	private second: OpenSeadragon.Viewer | undefined;
	private readonly items: (OpenSeadragon.TiledImage | undefined)[] = [];
	private readonly secondBox = document.createElement("div");
	private opacity: Record<number, number> = {};
	private part: number | undefined;
	private following = false;
	private home = true;

	constructor(
		private readonly box: HTMLElement,
		private readonly layers: Layer[],
		private readonly calm: boolean,
	) {
		const first = document.createElement("div");
		first.className = "viewer-view";
		this.secondBox.className = "viewer-view";
		this.secondBox.hidden = true;
		box.append(first, this.secondBox);
		this.main = this.viewer(first, "The picture. Arrow keys move it, plus and minus zoom, nought shows the whole.");
		layers.forEach((l, i) => this.add(this.main, l, i));
		this.main.addHandler("update-viewport", () => {
			this.home = this.main.viewport.getZoom() <= this.main.viewport.getHomeZoom() * 1.02;
			this.sharpen(this.main);
			this.moved();
		});
		this.main.addHandler("resize", () => {
			// A tablet that is turned goes on showing the whole, if it did.
			if (this.home) this.main.viewport.goHome(true);
			this.moved();
		});
	}

	private viewer(element: HTMLElement, label: string): OpenSeadragon.Viewer {
		const v = OpenSeadragon({
			element,
			drawer: "canvas", // draws pixels as they are, on every tablet
			showNavigationControl: false,
			animationTime: this.calm ? 0 : 0.35,
			springStiffness: 9,
			visibilityRatio: 0.4,
			minZoomImageRatio: 0.7,
			maxZoomPixelRatio: 8,
			imageLoaderLimit: 8,
			maxImageCacheCount: 400,
			preserveViewport: true,
			gestureSettingsMouse: { clickToZoom: false, dblClickToZoom: true },
			gestureSettingsTouch: { dblClickToZoom: true, flickEnabled: !this.calm },
			gestureSettingsPen: { clickToZoom: false },
			placeholderFillStyle: "#777777",
		});
		// Keys that would turn or mirror the picture: areas lie on it as it is.
		v.addHandler("canvas-key", (event) => {
			const key = (event.originalEvent as KeyboardEvent).key.toLowerCase();
			if (key === "r" || key === "f") event.preventDefaultAction = true;
		});
		v.canvas.setAttribute("role", "application");
		v.canvas.setAttribute("aria-label", label);
		return v;
	}

	private add(viewer: OpenSeadragon.Viewer, layer: Layer, index: number): void {
		const side = Math.max(layer.width, layer.height);
		const top = Math.ceil(Math.log2(Math.max(1, side)));
		let low = top;
		while (low > 0 && Math.ceil(side / 2 ** (top - low)) > tileSize / 4) low--;
		viewer.addTiledImage({
			tileSource: {
				width: layer.width,
				height: layer.height,
				tileSize,
				minLevel: low,
				maxLevel: top,
				getTileUrl: (level: number, x: number, y: number) => `${layer.tiles}${level}-${x}-${y}`,
			},
			index,
			x: 0,
			y: 0,
			width: 1,
			opacity: viewer === this.main ? (this.opacity[index] ?? (index === 0 ? 1 : 0)) : 1,
			preload: index === 1, // the after picture is wanted at once
			success: (event: Event | { item?: OpenSeadragon.TiledImage }) => {
				const item = (event as { item?: OpenSeadragon.TiledImage }).item;
				if (!item) return;
				if (viewer !== this.main) {
					this.follow(this.main, viewer);
					return;
				}
				this.items[index] = item;
				if (index === 0) {
					this.home = true;
					viewer.forceResize();
					viewer.viewport.goHome(true);
				}
				item.setOpacity(this.opacity[index] ?? 0);
				if (this.part !== undefined) this.split(this.part);
				this.moved();
			},
		} as unknown as OpenSeadragon.TileSourceSpecifier);
	}

	/** From one screen pixel a picture pixel on, pixels are shown as they are. */
	private sharpen(viewer: OpenSeadragon.Viewer): void {
		const scale = this.scaleOf(viewer) * window.devicePixelRatio;
		viewer.drawer.setImageSmoothingEnabled(scale < 0.99);
	}

	private scaleOf(viewer: OpenSeadragon.Viewer): number {
		const first = this.layers[0]!;
		return (viewer.viewport.getZoom(true) * viewer.viewport.getContainerSize().x) / first.width;
	}

	/** Where the first picture's corner lies on the screen, and screen pixels along one of its own. */
	at(): { x: number; y: number; scale: number } {
		const p = this.main.viewport.viewportToViewerElementCoordinates(new OpenSeadragon.Point(0, 0));
		const q = this.main.viewport.viewportToViewerElementCoordinates(new OpenSeadragon.Point(1, 0));
		const now = this.main.viewport;
		const a = now.pixelFromPoint(new OpenSeadragon.Point(0, 0), true);
		const b = now.pixelFromPoint(new OpenSeadragon.Point(1, 0), true);
		const width = this.layers[0]!.width;
		return Number.isFinite(a.x + b.x) ? { x: a.x, y: a.y, scale: (b.x - a.x) / width } : { x: p.x, y: p.y, scale: (q.x - p.x) / width };
	}

	/** The element that shapes are laid over. */
	get view(): HTMLElement {
		return this.main.element;
	}

	show(opacity: Record<number, number>): void {
		this.opacity = opacity;
		this.items.forEach((item, i) => item?.setOpacity(opacity[i] ?? 0));
	}

	/** Leaves of the after picture only what lies right of a share of the screen. */
	split(part: number): void {
		this.part = part;
		const item = this.items[1];
		const layer = this.layers[1];
		if (!item || !layer) return;
		const { x, scale } = this.at();
		const after = (scale * this.layers[0]!.width) / layer.width;
		const from = Math.min(layer.width, Math.max(0, (part * this.main.viewport.getContainerSize().x - x) / after));
		if (from >= layer.width) {
			item.setOpacity(0);
			return;
		}
		item.setClip(new OpenSeadragon.Rect(from, 0, layer.width - from, layer.height));
		item.setOpacity(this.opacity[1] ?? 0);
	}

	unsplit(): void {
		this.part = undefined;
		this.items[1]?.setClip(null);
	}

	/** Shows the after picture in a view of its own beside the first, both moving as one. */
	beside(on: boolean): void {
		if (on !== this.secondBox.hidden) return;
		const whole = this.home;
		this.secondBox.hidden = !on;
		this.box.classList.toggle("beside", on);
		if (on && !this.second) {
			const after = this.layers[1];
			if (!after) return;
			this.second = this.viewer(this.secondBox, "The after picture. It moves with the other.");
			this.add(this.second, after, 0);
			this.second.addHandler("update-viewport", () => this.sharpen(this.second!));
			this.second.addHandler("viewport-change", () => this.follow(this.second!, this.main));
			this.main.addHandler("viewport-change", () => this.follow(this.main, this.second!));
		}
		// The view has another width now: what showed the whole goes on doing so.
		this.main.forceResize();
		this.second?.forceResize();
		if (whole) this.main.viewport.goHome(true);
		if (on && this.second) this.follow(this.main, this.second);
	}

	private follow(from: OpenSeadragon.Viewer, to: OpenSeadragon.Viewer): void {
		if (this.following || this.secondBox.hidden) return;
		this.following = true;
		to.viewport.zoomTo(from.viewport.getZoom(true), undefined, true);
		to.viewport.panTo(from.viewport.getCenter(true), true);
		this.following = false;
	}

	zoom(by: number): void {
		this.main.viewport.zoomBy(by);
		this.main.viewport.applyConstraints();
	}

	pan(x: number, y: number): void {
		const b = this.main.viewport.getBounds();
		this.main.viewport.panBy(new OpenSeadragon.Point(x * b.width, y * b.height));
		this.main.viewport.applyConstraints();
	}

	whole(): void {
		this.main.viewport.goHome();
	}

	full(): void {
		const size = this.main.viewport.getContainerSize().x;
		this.main.viewport.zoomTo(this.layers[0]!.width / size / window.devicePixelRatio);
		this.main.viewport.applyConstraints();
	}

	/** Brings an outline into the middle, with its surroundings. */
	lookAt(rings: Ring[]): void {
		const xs = rings.flat().map((p) => p[0]);
		const ys = rings.flat().map((p) => p[1]);
		const width = this.layers[0]!.width;
		const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
		const edge = Math.max(60, 0.4 * Math.max(x1 - x0, y1 - y0));
		this.main.viewport.fitBounds(new OpenSeadragon.Rect((x0 - edge) / width, (y0 - edge) / width, (x1 - x0 + 2 * edge) / width, (y1 - y0 + 2 * edge) / width));
	}

	/** Lets the hand draw instead of moving the picture. */
	still(on: boolean): void {
		this.main.setMouseNavEnabled(!on);
	}

	/** Calls back with a place on the screen that was tapped, not dragged. */
	tapped(act: (x: number, y: number) => void): void {
		this.main.addHandler("canvas-click", (event) => {
			if (event.quick) act(event.position.x, event.position.y);
		});
	}

	settled(act: () => void): void {
		this.main.addHandler("animation-finish", act);
	}
}
