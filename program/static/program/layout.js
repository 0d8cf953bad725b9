// A fault's place is chosen in the text, so that it can be mended at once.
"use strict";
document.addEventListener("click", (event) => {
  const link = event.target.closest("[data-line]");
  const box = document.getElementById("id_text");
  if (!link || !box) return;
  event.preventDefault();
  const lines = box.value.split("\n");
  const number = Number(link.dataset.line) - 1;
  const start = lines.slice(0, number).join("\n").length + (number ? 1 : 0);
  box.focus();
  box.setSelectionRange(
    start + Number(link.dataset.column) - 1,
    start + (lines[number] || "").length,
  );
  box.scrollTop = Math.max(0, number - 4) * (box.scrollHeight / Math.max(1, lines.length));
});
