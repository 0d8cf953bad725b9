// Held rows as a spreadsheet: what is pasted fills downward, arrows go from row to row.
"use strict";
const sheet = document.querySelector("[data-mend]");
if (sheet) {
  const rows = [...sheet.querySelectorAll("tbody tr")].map((row) => [
    ...row.querySelectorAll("td input"),
  ]);
  const told = sheet.querySelector("[data-pasted]");
  const placeOf = (field) => {
    const row = rows.findIndex((cells) => cells.includes(field));
    return [row, row < 0 ? -1 : rows[row].indexOf(field)];
  };
  let sending = false;
  const differs = (field) => field.value !== field.defaultValue;
  const mark = (field) =>
    field.classList.toggle("typed", differs(field) || field.dataset.kept === "yes");
  for (const field of rows.flat())
    if (field.classList.contains("typed")) field.dataset.kept = "yes";
  sheet.addEventListener("paste", (event) => {
    const text = event.clipboardData
      .getData("text/plain")
      .replace(/\r\n?/g, "\n")
      .replace(/\n$/, "");
    const [row, column] = placeOf(event.target);
    if (row < 0 || !/[\n\t]/.test(text)) return;
    event.preventDefault();
    const lines = text.split("\n").map((line) => line.split("\t"));
    let cells = 0;
    lines.forEach((values, down) => {
      values.forEach((value, right) => {
        const field = rows[row + down]?.[column + right];
        if (!field) return;
        field.value = value.trim();
        mark(field);
        cells += 1;
      });
    });
    const over = Math.max(0, row + lines.length - rows.length);
    const left = over ? ` ${over} lines more than rows on this page were left out.` : "";
    told.textContent = `${cells} cells filled.${left}`;
  });
  sheet.addEventListener("keydown", (event) => {
    const step = { ArrowDown: 1, ArrowUp: -1, Enter: 1 }[event.key];
    const [row, column] = placeOf(event.target);
    if (!step || row < 0) return;
    event.preventDefault();
    rows[row + step]?.[column].select();
  });
  sheet.addEventListener("input", (event) => mark(event.target));
  sheet.addEventListener("submit", () => {
    sending = true;
  });
  window.addEventListener("pageshow", () => {
    sending = false;
  });
  window.addEventListener("beforeunload", (event) => {
    if (!sending && rows.flat().some(differs)) event.preventDefault();
  });
}
