// Reading a label by the camera, or from a picture where the address has no trusted
// certificate and the browser gives no camera to it. The picture is read on this device.

/*! jsQR 1.4.0, Apache License 2.0, https://github.com/cozmo/jsQR */
import jsQR from "jsqr";
import { say } from "./dom";

/** Widths at which a picture is tried: a large code is found in a small one first. */
const widths = [700, 1200, 2000];

function start(box: HTMLElement): void {
	const told = box.querySelector<HTMLElement>("[data-scan-says]");
	const tell = (sentence: string) => {
		if (!told) return;
		told.hidden = false;
		told.textContent = sentence;
		say(sentence);
	};
	const found = (text: string) => {
		const to = new URL(box.dataset["add"] ?? "/scan", location.href);
		to.searchParams.set("code", text);
		location.assign(to.href);
	};
	const picture = box.querySelector<HTMLInputElement>("input[type='file']");
	picture?.addEventListener("change", () => {
		const file = picture.files?.[0];
		if (!file) return;
		void readPicture(file).then(
			(text) => (text ? found(text) : tell("No code was found in this picture: come nearer, hold the label flat and out of the glare.")),
			() => tell("This file is no picture that the browser can read: take one of the label."),
		);
	});
	const camera = box.querySelector<HTMLButtonElement>("[data-scan-camera]");
	if (!isSecureContext || !navigator.mediaDevices?.getUserMedia) {
		tell("This address has no trusted certificate, so the browser gives it no live camera: take a picture of the label instead.");
		return;
	}
	if (!camera) return;
	camera.hidden = false;
	camera.addEventListener("click", () => {
		camera.hidden = true;
		void watch(box.querySelector("video")!, found).catch(() => tell("The camera is not to be had: take a picture of the label instead."));
	});
}

async function readPicture(file: File): Promise<string | null> {
	const image = await createImageBitmap(file);
	for (const width of widths) {
		const text = read(image, image.width, image.height, Math.min(width, image.width));
		if (text !== null) return text;
		if (width >= image.width) break;
	}
	return null;
}

const canvas = document.createElement("canvas");

function read(source: CanvasImageSource, w: number, h: number, width: number): string | null {
	const height = Math.max(1, Math.round((h / w) * width));
	canvas.width = width;
	canvas.height = height;
	const on = canvas.getContext("2d", { willReadFrequently: true });
	if (!on) return null;
	on.drawImage(source, 0, 0, width, height);
	return jsQR(on.getImageData(0, 0, width, height).data, width, height)?.data ?? null;
}

async function watch(video: HTMLVideoElement, found: (text: string) => void): Promise<void> {
	const stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
	video.srcObject = stream;
	video.hidden = false;
	await video.play();
	const look = () => {
		const text = video.videoWidth > 0 ? read(video, video.videoWidth, video.videoHeight, 640) : null;
		if (text === null) return setTimeout(look, 120);
		for (const track of stream.getTracks()) track.stop();
		found(text);
		return 0;
	};
	look();
}

for (const box of Array.from(document.querySelectorAll<HTMLElement>("[data-scan]"))) start(box);
