// Clocks that count up from data-start and down to data-due (ISO times). What
// is shown is always a difference of two times, never a count of ticks: so
// nothing drifts, and after the tablet has slept the figure is right at once.
// Times are the server's: the difference between its clock and this device's
// is taken when the page comes, and again whenever it is seen anew.

import { all, make, remember, remembered, say } from "./dom";

interface Clock {
	box: HTMLElement;
	start: number | null;
	due: number | null;
	/** When a window opens; before it the time to its opening is told. */
	from: number | null;
	shown: HTMLElement;
	left: HTMLElement | null;
	bar: HTMLElement | null;
	rung: boolean;
}

let ahead = 0; // the server's clock minus this device's, in ms

let seen = { date: Date.now(), since: performance.now() };

/**
 * The bench's time. A device's clock that is set back while the page stands open is
 * made up for by the time that the page itself has counted.
 */
export function now(): number {
	const date = Date.now();
	const since = performance.now();
	if (date < seen.date - 2000) setAheadTo(ahead + (seen.date - date) + (since - seen.since));
	seen = { date, since };
	return date + ahead;
}

let clocks: Clock[] = [];

export function startClocks(): void {
	for (const toggle of all<HTMLButtonElement>("[data-sound]")) soundToggle(toggle);
	const served = Date.parse(document.documentElement.dataset["now"] ?? "");
	if (document.documentElement.dataset["kept"] !== undefined) {
		// A page that was kept tells when it left the server, not what time it is.
		ahead = Number(remembered("ahead") ?? 0) || 0;
	} else if (!Number.isNaN(served)) {
		// The page left the server when the browser asked for it, not when it was
		// shown: half the time between is a fair guess of the way.
		const nav = performance.getEntriesByType("navigation")[0] as PerformanceNavigationTiming | undefined;
		setAheadTo(served - (Date.now() - (nav ? performance.now() - nav.responseStart : 0)));
	}
	findClocks();
	const tick = () => {
		showAll();
		setTimeout(tick, 1000 - (now() % 1000));
	};
	tick();
	document.addEventListener("visibilitychange", () => {
		if (document.visibilityState === "visible") {
			showAll();
			void setAhead();
		}
	});
}

/** The clocks that the page has now: a part of it may have been taken anew. */
export function findClocks(): void {
	const rung = new Set(clocks.filter((c) => c.rung).map((c) => c.due));
	clocks = all<HTMLElement>("[data-clock]").map(read);
	for (const c of clocks) c.rung ||= rung.has(c.due);
	rankClocks();
}

function showAll(): void {
	for (const c of clocks) show(c);
	showCourses();
}

function setAheadTo(ms: number): void {
	ahead = ms;
	remember("ahead", String(Math.round(ms)));
}

/** Asks the server for its time; without a network the old difference stays. */
async function setAhead(): Promise<void> {
	try {
		const asked = Date.now();
		const reply = await fetch("/clock", { cache: "no-store" });
		const told = Date.parse(await reply.text());
		const answered = Date.now();
		if (reply.ok && !Number.isNaN(told) && answered - asked < 2000) setAheadTo(told - (asked + answered) / 2);
	} catch {
		// No network.
	}
}

function read(box: HTMLElement): Clock {
	const time = (name: string): number | null => {
		const t = Date.parse(box.dataset[name] ?? "");
		return Number.isNaN(t) ? null : t;
	};
	const due = time("due");
	const c: Clock = {
		box,
		start: time("start"),
		due,
		from: time("from"),
		shown: box.querySelector<HTMLElement>(".shown") ?? box,
		left: box.querySelector<HTMLElement>(".left"),
		bar: box.querySelector<HTMLElement>(".bar i"),
		// A time that had passed before the page came has rung already.
		rung: due !== null && due < now() - 60_000,
	};
	return c;
}

/** 75 s is 1:15, 3675 s is 1:01:15, two days and more are told in days. */
function spell(ms: number): string {
	const s = Math.floor(Math.abs(ms) / 1000);
	const two = (n: number) => String(n).padStart(2, "0");
	if (s >= 48 * 3600) return `${Math.floor(s / 86400)} d ${Math.floor((s % 86400) / 3600)} h`;
	if (s >= 3600) return `${Math.floor(s / 3600)}:${two(Math.floor(s / 60) % 60)}:${two(s % 60)}`;
	return `${Math.floor(s / 60)}:${two(s % 60)}`;
}

function show(c: Clock): void {
	const t = now();
	const over = c.due !== null && t >= c.due;
	const what = c.box.dataset["what"] ?? "";
	if (c.start !== null && c.left) {
		// The large figure is what a hand works by: how long it has been in.
		c.shown.textContent = spell(t - c.start);
		if (c.from !== null && t < c.from) c.left.textContent = `too wet to mend: opens in ${spell(c.from - t)} at the earliest`;
		else if (c.due !== null) {
			const brief = c.box.dataset["brief"] ?? what;
			c.left.textContent = over ? `${spell(t - c.due)} over: ${brief || "due"}` : `${spell(c.due - t)} to go${brief ? `: ${brief}` : ""}`;
		}
	} else if (c.due !== null) {
		c.shown.textContent = over ? `${spell(t - c.due)} over` : spell(c.due - t);
	} else if (c.start !== null) {
		c.shown.textContent = spell(t - c.start);
	}
	if (c.bar && c.start !== null && c.due !== null) {
		const part = Math.min(1, Math.max(0, (t - c.start) / (c.due - c.start)));
		c.bar.style.transform = `scaleX(${part})`;
	}
	const turned = over !== c.box.classList.contains("over");
	c.box.classList.toggle("over", over);
	c.box.closest(".run")?.classList.toggle("is-over", over);
	const alarm = c.box.dataset["alarm"];
	if (over && alarm !== undefined) sound(alarm, what, t - (c.due ?? t));
	if (over && !c.rung) {
		c.rung = true;
		// The same time may stand in the top line and on the page: it rings once.
		if (!rang.has(c.due ?? 0)) ring(what);
		rang.add(c.due ?? 0);
	}
	if (turned) rankClocks();
}

/** What is over its time goes before what is not; among those what harms goes first. */
function rankClocks(): void {
	const box = document.querySelector<HTMLElement>(".clocks");
	if (!box || box.contains(document.activeElement)) return; // not under the hand
	const rank = (run: HTMLElement) => (run.classList.contains("is-over") ? (run.dataset["acts"] !== undefined ? 0 : 1) : 2);
	const runs = all<HTMLElement>(".run", box);
	const sorted = runs.slice().sort((a, b) => rank(a) - rank(b));
	if (sorted.some((run, i) => run !== runs[i])) box.append(...sorted);
}

// ---- A liquid that harms, over its time: over everything, until it is ended ----

const alarmEvery = 20_000;
let alarmed = 0;

function sound(end: string, what: string, over: number): void {
	let bar = all<HTMLElement>("[data-alarm-of]").find((b) => b.dataset["alarmOf"] === end);
	if (!bar) {
		bar = make("div", { class: "alarm", "data-alarm-of": end, role: "alert" }, make("p", {}), make("div", { class: "acts" }, make("a", { class: "act", href: end }, "End it")));
		// The link that skips to the page stays the first thing on it.
		const skip = document.querySelector(".skip");
		if (skip) skip.after(bar);
		else document.body.prepend(bar);
	}
	const p = bar.querySelector("p");
	if (p && bar.dataset["live"] === undefined) {
		bar.dataset["live"] = "";
		p.replaceChildren(make("b", {}, "Take it out and rinse"), ` ${what} `, make("span", { class: "figures", "aria-hidden": "true" }, ""));
	}
	const figure = p?.querySelector("span");
	if (figure) figure.textContent = `${spell(over)} over`;
	// It goes on until it is ended: nobody may be near when it begins.
	if (now() - alarmed < alarmEvery) return;
	if (alarmed > 0) strokes([880, 660, 880, 660]);
	alarmed = now();
}

// ---- What was expected of a bath, at this minute ----

function showCourses(): void {
	for (const fig of all<HTMLElement>("[data-course]")) {
		const min = (now() - Date.parse(fig.dataset["start"] ?? "")) / 60_000;
		const end = Number(fig.dataset["end"]);
		const words = (fig.dataset["words"] ?? "").split("|");
		const said = fig.querySelector(".now");
		if (said) said.textContent = min > end ? "past its time" : (words[Math.max(0, Math.floor(min))] ?? "");
		const at = fig.querySelector("line.at");
		const x = String(4 + Math.min(1, Math.max(0, min / end)) * 272);
		at?.setAttribute("x1", x);
		at?.setAttribute("x2", x);
	}
	for (const best of all<HTMLElement>("[data-best]")) {
		const due = now() >= Date.parse(best.dataset["from"] ?? "");
		if (due && !best.classList.contains("due")) {
			best.classList.add("due");
			best.querySelector("span")?.replaceChildren("Read now");
		}
	}
}

const rang = new Set<number>();

let audio: AudioContext | null = null;

function ring(what: string): void {
	say(`Due now: ${what}`);
	navigator.vibrate?.([300, 150, 300, 150, 600]);
	// Three soft strokes, a fifth apart: heard over a tap, no alarm.
	strokes([660, 990, 660]);
}

function strokes(tones: number[]): void {
	if (remembered("sound") === "off" || !audio) return;
	const at = audio.currentTime;
	for (const [i, hertz] of tones.entries()) {
		const tone = audio.createOscillator();
		const loud = audio.createGain();
		tone.frequency.value = hertz;
		loud.gain.setValueAtTime(0.0001, at + i * 0.5);
		loud.gain.exponentialRampToValueAtTime(0.35, at + i * 0.5 + 0.02);
		loud.gain.exponentialRampToValueAtTime(0.0001, at + i * 0.5 + 0.45);
		tone.connect(loud).connect(audio.destination);
		tone.start(at + i * 0.5);
		tone.stop(at + i * 0.5 + 0.5);
	}
}

// A browser gives sound only after a touch; the first one on the page will do.
function wakeSound(): void {
	if (remembered("sound") === "off") return;
	audio ??= new AudioContext();
	void audio.resume();
}
addEventListener("pointerdown", wakeSound, { passive: true });
addEventListener("keydown", wakeSound);

function soundToggle(toggle: HTMLButtonElement): void {
	const draw = () => {
		const on = remembered("sound") !== "off";
		toggle.setAttribute("aria-pressed", String(on));
		toggle.replaceChildren(make("span", {}, on ? "Sound is on" : "Sound is off"));
	};
	draw();
	toggle.hidden = false;
	toggle.addEventListener("click", () => {
		remember("sound", remembered("sound") === "off" ? "on" : "off");
		draw();
		wakeSound();
		if (remembered("sound") !== "off") ring("this is how it sounds");
	});
}
