// A photo as the phone sends it: smaller, with what the camera wrote of place and time; and what can
// be told of it: too dark, like another. Whether it shows what it should is left to a person.
import * as store from "./store.js";

const SIDE = 1600;
const QUALITY = 0.85;
const DARK = 45; // of 255, mean; own judgment
const ALIKE = 6; // of 64 bits of the likeness that may differ; own judgment
const SHADES = 16; // of 255, between the brightest spot and the darkest; as in the program
const KEPT = 400;
const HEIC = /^ftyp(heic|heix|mif1)$/; // as the program tells it by the first bytes

// Returns the photo smaller, its likeness, and whether it is dark; as it is where only the program
// can read it (HEIC), and null where it is no photo, or one that is damaged.
export async function prepared(file) {
  const bytes = await file.arrayBuffer();
  const asIs = { blob: new Blob([bytes], { type: file.type }), likeness: "", dark: false };
  let image;
  try {
    image = await createImageBitmap(new Blob([bytes], { type: file.type }));
  } catch {
    return HEIC.test(String.fromCharCode(...new Uint8Array(bytes.slice(4, 12)))) ? asIs : null;
  }
  const seen = { likeness: likeness(image), dark: brightness(image) < DARK };
  const share = Math.min(1, SIDE / Math.max(image.width, image.height));
  const small = await drawn(image, image.width * share, image.height * share);
  image.close();
  if (!small || small.size >= bytes.byteLength) return { ...asIs, ...seen };
  const kept = cameraSaid(new Uint8Array(bytes));
  return { blob: kept ? withSegment(await small.arrayBuffer(), kept) : small, ...seen };
}

function canvasOf(image, width, height) {
  const canvas = document.createElement("canvas");
  [canvas.width, canvas.height] = [Math.max(1, Math.round(width)), Math.max(1, Math.round(height))];
  const pen = canvas.getContext("2d", { willReadFrequently: true });
  pen.drawImage(image, 0, 0, canvas.width, canvas.height);
  return [canvas, pen];
}

function drawn(image, width, height) {
  const [canvas] = canvasOf(image, width, height);
  return new Promise((done) => canvas.toBlob(done, "image/jpeg", QUALITY));
}

function grays(image, width, height) {
  const [, pen] = canvasOf(image, width, height);
  const { data } = pen.getImageData(0, 0, width, height);
  return Array.from(
    { length: width * height },
    (_, n) => 0.299 * data[4 * n] + 0.587 * data[4 * n + 1] + 0.114 * data[4 * n + 2],
  );
}

function brightness(image) {
  const tones = grays(image, 32, 32);
  return tones.reduce((sum, tone) => sum + tone, 0) / tones.length;
}

// 64 bits: whether each spot of 9 x 8 is brighter than the one at its right. A picture without light
// and shade is like no other.
function likeness(image) {
  const tones = grays(image, 9, 8);
  if (Math.max(...tones) - Math.min(...tones) < SHADES) return "";
  let bits = "";
  for (let y = 0; y < 8; y++)
    for (let x = 0; x < 8; x++) bits += tones[9 * y + x] > tones[9 * y + x + 1] ? "1" : "0";
  return bits;
}

const apart = (a, b) => [...a].filter((bit, n) => bit !== b[n]).length;

// The photo before it that looks the same: of this record, or of any that this phone took.
export async function alike(photo, others, order) {
  if (!photo.likeness) return null;
  const own = others.find(
    (o) => o !== photo && o.likeness && apart(o.likeness, photo.likeness) <= ALIKE,
  );
  if (own) return { kind: own.kind, number: "" };
  const taken = (await store.get("kept", "likenesses"))?.list ?? [];
  return taken.find((t) => t.order !== order && apart(t.likeness, photo.likeness) <= ALIKE) ?? null;
}

export async function remember(photo, order) {
  if (!photo.likeness) return;
  const list = (await store.get("kept", "likenesses"))?.list ?? [];
  const { likeness: bits, kind } = photo;
  list.unshift({ likeness: bits, kind, order: order.id, number: order.number });
  await store.put("kept", { key: "likenesses", list: list.slice(0, KEPT) });
}

// The segment in which a camera writes place and time, turned upright as the smaller picture is.
function cameraSaid(bytes) {
  let at = 2;
  while (at + 4 < bytes.length && bytes[at] === 0xff && bytes[at + 1] !== 0xda) {
    const size = 2 + bytes[at + 2] * 256 + bytes[at + 3];
    const isExif =
      bytes[at + 1] === 0xe1 && String.fromCharCode(...bytes.slice(at + 4, at + 8)) === "Exif";
    if (isExif) return upright(bytes.slice(at, at + size));
    at += size;
  }
  return null;
}

function upright(segment) {
  const view = new DataView(segment.buffer);
  const tiff = 10;
  const little = view.getUint16(tiff) === 0x4949;
  try {
    const table = tiff + view.getUint32(tiff + 4, little);
    const count = view.getUint16(table, little);
    for (let n = 0; n < count; n++)
      if (view.getUint16(table + 2 + 12 * n, little) === 0x0112)
        view.setUint16(table + 10 + 12 * n, 1, little);
  } catch {
    return null;
  }
  return segment;
}

const withSegment = (jpeg, segment) =>
  new Blob([jpeg.slice(0, 2), segment, jpeg.slice(2)], { type: "image/jpeg" });
