// Several devices stand at one bench: the phone photographs, the tablet logs. What
// others write in the case that a page shows comes by a channel, within a second. The
// bench takes its own part anew then, once no hand is on it; other pages say that there
// is news and offer to be loaded, and never do so by themselves.

import { findClocks } from "./clock";
import { calm, corner, inPlace, make, say } from "./dom";

const interval = 10_000;

interface News {
	entries: number;
	by: string[];
	said: string;
}

export function startFresh(): void {
	const main = document.querySelector<HTMLElement>("main[data-case]");
	const id = main?.dataset["case"];
	const seq = main?.dataset["seq"];
	if (!id || !seq || seq === "0" || document.documentElement.dataset["kept"] !== undefined) return;
	let told = 0;
	const hear = (news: News) => {
		if (news.entries > told) calm(() => void show(news));
		told = news.entries;
	};
	let channel: EventSource | null = null;
	const open = () => {
		channel = new EventSource(`/cases/${id}/events/${seq}`);
		channel.onmessage = (e) => hear(JSON.parse(e.data as string) as News);
	};
	open();
	// A page that nobody sees holds no channel; where there is none it asks.
	document.addEventListener("visibilitychange", () => {
		channel?.close();
		if (document.visibilityState === "visible") open();
	});
	addEventListener("pagehide", () => channel?.close());
	setInterval(() => {
		if (document.visibilityState !== "visible" || channel?.readyState === EventSource.OPEN) return;
		void ask(`/cases/${id}/since/${seq}`).then((news) => news && hear(news));
	}, interval);
}

async function ask(path: string): Promise<News | null> {
	try {
		const reply = await fetch(path, { cache: "no-store" });
		return reply.ok ? ((await reply.json()) as News) : null;
	} catch {
		return null; // No network: the outbox says so where it matters.
	}
}

async function show(news: News): Promise<void> {
	const what = news.entries === 1 ? "1 entry" : `${news.entries} entries`;
	const sentence = `${news.by.join(" and ")} wrote ${what} since this page came: ${news.said}.`;
	const taken = await takeAnew();
	document.getElementById("fresh")?.remove();
	const box = make("section", { id: "fresh", class: "fresh", "aria-label": "News" }, make("p", {}, sentence));
	if (!taken) {
		const button = make("button", { type: "button", class: "act second" }, "Show them");
		button.addEventListener("click", () => location.reload());
		box.append(button);
	}
	inPlace(() => corner().prepend(box));
	say(sentence);
}

/** The parts of the bench that no hand types into, as they are now. */
async function takeAnew(): Promise<boolean> {
	const now = document.getElementById("now");
	if (!now || now.contains(document.activeElement)) return false;
	try {
		const reply = await fetch(location.pathname + location.search, { headers: { "X-Keep": "1" } });
		if (!reply.ok) return false;
		const page = new DOMParser().parseFromString(await reply.text(), "text/html");
		const parts = ["#now", "#log > ol", "#sheets > table", ".spine-places"];
		for (const part of parts) {
			const fresh = page.querySelector(part);
			if (fresh) document.querySelector(part)?.replaceWith(fresh);
		}
		findClocks();
		document.dispatchEvent(new Event("taken-anew"));
		return true;
	} catch {
		return false;
	}
}
