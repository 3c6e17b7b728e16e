// The service worker: where the certificate is trusted, every screen of the case that
// is open is kept on the device, so that a bench without its network goes on showing
// it, links included. A page that is kept says when it left the server (data-kept);
// what is written on it goes through the outbox as always. Nothing is decided here.

interface Work extends Event {
	waitUntil(p: Promise<unknown>): void;
}
interface Asked extends Work {
	request: Request;
	respondWith(p: Promise<Response>): void;
}
interface Told extends Work {
	data: { case: string; seq: string; from: string[] } | undefined;
}
interface Worker {
	skipWaiting(): Promise<void>;
	clients: { claim(): Promise<void> };
	addEventListener(name: "install" | "activate", act: (e: Work) => void): void;
	addEventListener(name: "fetch", act: (e: Asked) => void): void;
	addEventListener(name: "message", act: (e: Told) => void): void;
}
const worker = self as unknown as Worker;

const pages = "pages-1";
const files = "files-1";
const alone = "/alone";

/** How long a page may take before the machine is asked whether it is there at all. */
const patience = 3_000;
/** The most pages, and the most files, that a device keeps. */
const mostPages = 600;
const mostFiles = 800;

worker.addEventListener("install", (e) => e.waitUntil(fetchAndKeep(alone).then(() => worker.skipWaiting())));
worker.addEventListener("activate", (e) => e.waitUntil(worker.clients.claim()));

worker.addEventListener("fetch", (e) => {
	const url = new URL(e.request.url);
	if (e.request.method !== "GET" || url.origin !== location.origin) return;
	if (isFile(url)) e.respondWith(file(e.request));
	else if (e.request.mode === "navigate" && !url.pathname.startsWith("/pair")) e.respondWith(page(url));
});

const isFile = (url: URL) => url.pathname.startsWith("/assets/") || /^\/photos\/[0-9a-f]+\/small$/.test(url.pathname);

/** Files are named by what they hold: one that is kept is the one that is asked for. */
async function file(request: Request): Promise<Response> {
	const cache = await caches.open(files);
	const kept = await cache.match(request.url);
	if (kept) return kept;
	const fresh = await fetch(request);
	if (fresh.ok) {
		await cache.put(request.url, fresh.clone());
		await trim(cache, mostFiles);
	}
	return fresh;
}

async function page(url: URL): Promise<Response> {
	// A redirect is the browser's own to follow: it then asks for the next page.
	const asked = fetch(url.href, { redirect: "manual", credentials: "same-origin" });
	const answered = asked.then(
		(reply) => {
			if (reply.ok && isPage(reply)) void keep(url, reply.clone());
			return [502, 503, 504].includes(reply.status) ? null : reply;
		},
		() => null,
	);
	const reply = await Promise.race([answered, away()]);
	if (reply) return reply;
	const cache = await caches.open(pages);
	return (await cache.match(key(url))) ?? (await cache.match(alone)) ?? Response.error();
}

/** Null once the bench machine does not even tell its time; a page may take long. */
async function away(): Promise<null> {
	for (;;) {
		await new Promise((go) => setTimeout(go, patience));
		const stop = new AbortController();
		const late = setTimeout(() => stop.abort(), patience);
		try {
			await fetch("/clock", { cache: "no-store", signal: stop.signal });
		} catch {
			return null;
		} finally {
			clearTimeout(late);
		}
	}
}

const isPage = (r: Response) => (r.headers.get("Content-Type") ?? "").startsWith("text/html");
const key = (url: URL) => url.pathname + url.search;

/** Keeps a page with the time at which it was shown. */
async function keep(url: URL, reply: Response): Promise<string> {
	const text = (await reply.text()).replace('<html lang="en"', `<html lang="en" data-kept="${new Date().toISOString()}"`);
	const cache = await caches.open(pages);
	await cache.put(key(url), new Response(text, { headers: { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": policy(reply) } }));
	return text;
}

const policy = (r: Response) => r.headers.get("Content-Security-Policy") ?? "default-src 'self'";

async function fetchAndKeep(path: string): Promise<string> {
	const reply = await fetch(path, { headers: { "X-Keep": "1" }, credentials: "same-origin" });
	if (reply.redirected && new URL(reply.url).pathname.startsWith("/pair")) {
		await caches.delete(pages); // this device is taken out: it keeps nothing of the bench
		throw new Error("not paired");
	}
	return reply.ok && !reply.redirected && isPage(reply) ? keep(new URL(path, location.origin), reply) : "";
}

async function trim(cache: Cache, most: number): Promise<void> {
	const all = await cache.keys();
	for (const old of all.slice(0, Math.max(0, all.length - most))) await cache.delete(old);
}

// ---- Keeping all of the case that is open ----

/** What asks for sums that take long is kept once, slowly, and what is done at the bench anew after each act. */
const slow = /\/(sheets|results|area|photos|papers|charts?)(\/|\?|$)/;
const never = /withdraw|correct=|\.pdf|\.zip|\/answer|\/comparison|\/photos\/[0-9a-f]{20}|\/export|\/since\/|\/events|[?&]back=/;

let round = 0;

const pause = (ms: number) => new Promise((go) => setTimeout(go, ms));

worker.addEventListener("message", (e) => {
	if (e.data) e.waitUntil(keepCase(e.data.case, e.data.seq, e.data.from));
});

/** The last entry with which a case was kept whole. */
const whole = new Map<string, string>();

async function keepCase(id: string, seq: string, from: string[]): Promise<void> {
	const mine = ++round;
	await pause(3_000); // acts follow each other: the last one counts
	if (mine !== round) return;
	const cache = await caches.open(pages);
	const known = whole.get(id) === seq; // then only what is not kept yet
	const todo = from.filter((u) => !never.test(u));
	const later: string[] = [];
	const seen = new Set(todo);
	const links = new RegExp(`href="(/cases/${id}[^"#]*)`, "g");
	const find = (text: string) => {
		for (const m of text.matchAll(links)) {
			const u = m[1]!.replaceAll("&amp;", "&");
			if (seen.has(u) || never.test(u)) continue;
			seen.add(u);
			(slow.test(u) ? later : todo).push(u);
		}
	};
	try {
		for (let u = todo.shift(); u !== undefined && mine === round && seen.size < mostPages; u = todo.shift()) {
			const kept = known ? await cache.match(u) : undefined;
			find(kept ? await kept.text() : await fetchAndKeep(u));
		}
		if (mine === round) whole.set(id, seq);
		if (later.length > 0) await pause(20_000);
		for (let u = later.shift(); u !== undefined && mine === round && seen.size < mostPages; u = later.shift()) {
			const kept = await cache.match(u);
			const began = Date.now();
			find(kept ? await kept.text() : await fetchAndKeep(u));
			if (!kept) await pause(100 + 2 * (Date.now() - began));
		}
		await trim(cache, mostPages);
	} catch {
		// The network went: what is kept is kept.
	}
}
