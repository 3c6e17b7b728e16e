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
	shown: HTMLElement;
	left: HTMLElement | null;
	bar: HTMLElement | null;
	rung: boolean;
}

let ahead = 0; // the server's clock minus this device's, in ms

function now(): number {
	return Date.now() + ahead;
}

export function startClocks(): void {
	const clocks = all<HTMLElement>("[data-clock]").map(read);
	const toggles = all<HTMLButtonElement>("[data-sound]");
	for (const toggle of toggles) soundToggle(toggle);
	if (clocks.length === 0) return;

	const served = Date.parse(document.documentElement.dataset["now"] ?? "");
	// The page left the server when the browser asked for it, not when it was
	// shown: half the time between is a fair guess of the way.
	const nav = performance.getEntriesByType("navigation")[0] as PerformanceNavigationTiming | undefined;
	const wentBy = nav ? performance.now() - nav.responseStart : 0;
	if (!Number.isNaN(served)) ahead = served - (Date.now() - wentBy);

	const tick = () => {
		for (const c of clocks) show(c);
		setTimeout(tick, 1000 - (now() % 1000));
	};
	tick();
	document.addEventListener("visibilitychange", () => {
		if (document.visibilityState === "visible") {
			for (const c of clocks) show(c);
			void setAhead();
		}
	});
}

/** Asks the server for its time; without a network the old difference stays. */
async function setAhead(): Promise<void> {
	try {
		const asked = Date.now();
		const reply = await fetch("/clock", { cache: "no-store" });
		const told = Date.parse(await reply.text());
		const answered = Date.now();
		if (reply.ok && !Number.isNaN(told) && answered - asked < 2000) ahead = told - (asked + answered) / 2;
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
		shown: box.querySelector<HTMLElement>(".shown") ?? box,
		left: box.querySelector<HTMLElement>(".left"),
		bar: box.querySelector<HTMLElement>(".bar i"),
		// A time that had passed before the page came has rung already.
		rung: due !== null && due < Date.now() - 60_000,
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
		if (c.due !== null) c.left.textContent = over ? `${spell(t - c.due)} over: ${what || "due"}` : `${spell(c.due - t)} to go${what ? `: ${what}` : ""}`;
	} else if (c.due !== null) {
		c.shown.textContent = over ? `${spell(t - c.due)} over` : spell(c.due - t);
	} else if (c.start !== null) {
		c.shown.textContent = spell(t - c.start);
	}
	if (c.bar && c.start !== null && c.due !== null) {
		const part = Math.min(1, Math.max(0, (t - c.start) / (c.due - c.start)));
		c.bar.style.transform = `scaleX(${part})`;
	}
	c.box.classList.toggle("over", over);
	c.box.closest(".run")?.classList.toggle("is-over", over);
	if (over && !c.rung) {
		c.rung = true;
		// The same time may stand in the top line and on the page: it rings once.
		if (!rang.has(c.due ?? 0)) ring(what);
		rang.add(c.due ?? 0);
	}
}

const rang = new Set<number>();

let audio: AudioContext | null = null;

function ring(what: string): void {
	say(`Due now: ${what}`);
	navigator.vibrate?.([300, 150, 300, 150, 600]);
	if (remembered("sound") === "off" || !audio) return;
	// Three soft strokes, a fifth apart: heard over a tap, no alarm.
	const at = audio.currentTime;
	for (const [i, hertz] of [660, 990, 660].entries()) {
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
