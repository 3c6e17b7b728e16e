// Two pictures of the same face under one slider. Without this they stand side
// by side. The range input is the control: arrows, Home and End move it, and a
// finger may drag anywhere on the picture.

import { all, make } from "./dom";

export function startSliders(): void {
	for (const box of all<HTMLElement>("[data-slider]")) start(box);
}

function start(box: HTMLElement): void {
	const faces = box.querySelector<HTMLElement>(".faces");
	const figures = all<HTMLElement>("figure", box);
	const [before, after] = figures;
	if (!faces || !before || !after || figures.length !== 2) return;

	const label = box.dataset["slider"] || "Before and after";
	const range = make("input", { type: "range", min: "0", max: "100", step: "1", value: "50", "aria-label": label });
	const line = make("div", { class: "line" });
	box.classList.add("live");
	faces.append(line);
	box.append(range);

	const draw = () => {
		const part = Number(range.value);
		before.style.clipPath = `inset(0 ${100 - part}% 0 0)`;
		after.style.clipPath = `inset(0 0 0 ${part}%)`;
		line.style.left = `${part}%`;
		range.setAttribute("aria-valuetext", `${part} % before, ${100 - part} % after`);
	};
	range.addEventListener("input", draw);

	const follow = (event: PointerEvent) => {
		const r = faces.getBoundingClientRect();
		range.value = String(Math.round((100 * (event.clientX - r.left)) / r.width));
		draw();
	};
	faces.addEventListener("pointerdown", (event) => {
		if (event.button !== 0) return;
		event.preventDefault();
		faces.setPointerCapture(event.pointerId);
		follow(event);
		range.focus({ preventScroll: true });
	});
	faces.addEventListener("pointermove", (event) => {
		if (faces.hasPointerCapture(event.pointerId)) follow(event);
	});
	draw();
}
