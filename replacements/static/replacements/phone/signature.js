// Signing on the phone: strokes are kept as they are drawn, and become one picture with its words.
import { el } from "./asked.js";

const WIDE = 1200,
  PAD_HIGH = 420;

// A pad to sign on; `kept.strokes` holds what was drawn, each stroke as pairs from 0 to 1.
export function pad(kept, save) {
  const canvas = el("canvas", {
    class: "signature",
    width: WIDE,
    height: PAD_HIGH,
    role: "img",
    "aria-label": "Sign here with a finger or a pen",
  });
  kept.strokes ??= [];
  let drawing = null;
  const place = (e) => {
    const box = canvas.getBoundingClientRect();
    return [(e.clientX - box.left) / box.width, (e.clientY - box.top) / box.height];
  };
  const draw = () => {
    const pen = canvas.getContext("2d");
    pen.fillStyle = "#fff";
    pen.fillRect(0, 0, WIDE, PAD_HIGH);
    pen.strokeStyle = "#9a948a";
    pen.lineWidth = 2;
    pen.strokeRect(60, PAD_HIGH - 80, WIDE - 120, 0);
    ink(pen, kept.strokes, 0);
  };
  canvas.addEventListener("pointerdown", (e) => {
    e.preventDefault();
    canvas.setPointerCapture(e.pointerId);
    drawing = [place(e)];
    kept.strokes.push(drawing);
    draw();
  });
  canvas.addEventListener("pointermove", (e) => {
    if (drawing) {
      drawing.push(place(e));
      draw();
    }
  });
  for (const end of ["pointerup", "pointercancel"])
    canvas.addEventListener(end, () => {
      if (drawing) {
        drawing = null;
        save();
      }
    });
  draw();
  const clear = el(
    "button",
    {
      type: "button",
      class: "second",
      onclick: () => {
        kept.strokes.length = 0;
        draw();
        save();
      },
    },
    "Clear the signature",
  );
  return [canvas, clear];
}

function ink(pen, strokes, top) {
  pen.strokeStyle = "#12343b";
  pen.lineWidth = 5;
  pen.lineJoin = pen.lineCap = "round";
  for (const stroke of strokes) {
    pen.beginPath();
    for (const [x, y] of stroke) pen.lineTo(x * WIDE, top + y * PAD_HIGH);
    if (stroke.length === 1) pen.lineTo(stroke[0][0] * WIDE + 1, top + stroke[0][1] * PAD_HIGH);
    pen.stroke();
  }
}

// True where somebody drew more than a dot.
export const isSigned = (strokes) =>
  (strokes ?? []).reduce((sum, stroke) => sum + stroke.length, 0) > 5;

// The signed paper as one picture: what was agreed to, by whom, when, for which address, and the ink.
export async function paper(lines, strokes) {
  const canvas = el("canvas", { width: WIDE, height: 10 });
  let pen = canvas.getContext("2d");
  const size = 32,
    margin = 60;
  pen.font = `${size}px sans-serif`;
  const rows = lines.flatMap((line) => wrapped(pen, line, WIDE - 2 * margin));
  const top = margin + rows.length * size * 1.4 + 20;
  canvas.height = top + PAD_HIGH + margin;
  pen = canvas.getContext("2d");
  pen.fillStyle = "#fff";
  pen.fillRect(0, 0, WIDE, canvas.height);
  pen.fillStyle = "#111";
  pen.font = `${size}px sans-serif`;
  for (const [n, row] of rows.entries()) pen.fillText(row, margin, margin + size + n * size * 1.4);
  ink(pen, strokes, top);
  return new Promise((resolve) => canvas.toBlob(resolve, "image/png"));
}

function wrapped(pen, text, wide) {
  const rows = [];
  let row = "";
  for (const word of text.split(" ")) {
    const longer = row ? `${row} ${word}` : word;
    if (row && pen.measureText(longer).width > wide) {
      rows.push(row);
      row = word;
    } else row = longer;
  }
  return [...rows, row];
}
