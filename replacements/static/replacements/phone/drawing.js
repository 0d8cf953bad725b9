// The string to scale, as the program drew it, with the part in question lit.
import { el } from "./asked.js";
import { say } from "./words.js";

const SVG = "http://www.w3.org/2000/svg";

export function lit(drawing, kinds = []) {
  if (!drawing) return null;
  const parsed = new DOMParser().parseFromString(drawing.svg, "image/svg+xml").documentElement;
  if (parsed.nodeName !== "svg") return null;
  const svg = document.importNode(parsed, true);
  const boxes = drawing.parts.filter((part) => kinds.includes(part.kind)).map((part) => part.box);
  for (const label of svg.querySelectorAll("text")) label.textContent = say(label.textContent);
  for (const [x, y, width, height] of boxes) {
    const box = document.createElementNS(SVG, "rect");
    const around = { x: x - 5, y: y - 9, width: width + 10, height: height + 18, rx: 8 };
    for (const [name, value] of Object.entries(around)) box.setAttribute(name, value);
    box.setAttribute("class", "lit");
    svg.append(box);
  }
  return el("div", { class: kinds.length && boxes.length ? "drawing has-lit" : "drawing" }, svg);
}
