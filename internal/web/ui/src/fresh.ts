// Several devices stand at one bench: the phone photographs, the tablet logs.
// When others have written in the case that a page shows, the page says so and
// offers to be loaded anew. It never does so by itself, under somebody's hands.

import { corner, make, say } from "./dom";

const interval = 10_000;

interface News {
	entries: number;
	by: string[];
}

export function startFresh(): void {
	const main = document.querySelector<HTMLElement>("main[data-case]");
	const id = main?.dataset["case"];
	const seq = main?.dataset["seq"];
	if (!id || !seq) return;
	let told = 0;
	const ask = async () => {
		if (document.visibilityState !== "visible") return;
		try {
			const reply = await fetch(`/cases/${id}/since/${seq}`, { cache: "no-store" });
			if (!reply.ok) return;
			const news = (await reply.json()) as News;
			if (news.entries > told) show(news);
			told = news.entries;
		} catch {
			// No network: the outbox says so where it matters.
		}
	};
	setInterval(() => void ask(), interval);
	document.addEventListener("visibilitychange", () => void ask());
}

function show(news: News): void {
	const what = news.entries === 1 ? "1 entry" : `${news.entries} entries`;
	const sentence = `${news.by.join(" and ")} wrote ${what} since this page came.`;
	document.getElementById("fresh")?.remove();
	const button = make("button", { type: "button", class: "act second" }, "Show them");
	button.addEventListener("click", () => location.reload());
	corner().prepend(make("section", { id: "fresh", class: "fresh", "aria-label": "News" }, make("p", {}, sentence), button));
	say(sentence);
}
