// What a table lets people do by hand. A table that stands whole on its page is sorted by its
// headings, a third time back to the order it came in.
//
// Which columns of a wide table are shown: chosen by ticks under it, and kept in this browser. The
// first column tells what a row is, and stays.
"use strict";
const FEWEST = 6;
const page = window.location.pathname.replace(/\d+/g, "N");
document.querySelectorAll("main .table-box table").forEach((table, number) => {
  const heads = table.tHead?.rows.length === 1 ? [...table.tHead.rows[0].cells] : [];
  if (
    heads.length < FEWEST ||
    heads.some((head) => head.colSpan > 1) ||
    table.querySelector("td select")
  )
    return;
  const key = `columns ${page} ${number}`;
  const away = new Set(JSON.parse(localStorage.getItem(key) || "[]"));
  const names = heads.map((head) => head.textContent.trim()); // read once: no layout is asked for
  const choice = document.createElement("details");
  const summary = document.createElement("summary");
  choice.className = "columns-choice no-print";
  choice.append(summary);
  const show = () => {
    for (const row of table.rows)
      if (row.cells.length === heads.length)
        [...row.cells].forEach((cell, at) => {
          if (cell.hidden !== away.has(names[at])) cell.hidden = !cell.hidden;
        });
    summary.textContent = away.size ? `Columns: ${away.size} left away` : "Columns";
  };
  for (const name of names.slice(1).filter(Boolean)) {
    const label = document.createElement("label");
    const tick = document.createElement("input");
    tick.type = "checkbox";
    tick.checked = !away.has(name);
    tick.addEventListener("change", () => {
      away[tick.checked ? "delete" : "add"](name);
      localStorage.setItem(key, JSON.stringify([...away]));
      show();
    });
    label.append(tick, ` ${name}`);
    choice.append(label);
  }
  table.closest(".table-box").after(choice);
  for (const gone of [...away]) if (!names.includes(gone)) away.delete(gone);
  show();
});
const FEWEST_ROWS = 4;
const MONTH_DAY = /^[A-Z][a-z]{2} \d{1,2}, \d{4}/;
function sortKey(cell) {
  const text = cell.textContent.trim();
  if (MONTH_DAY.test(text)) return Date.parse(text.match(MONTH_DAY)[0]);
  const size = /^([\d.]+)\s(bytes?|KB|MB|GB)$/.exec(text);
  if (size) return size[1] * { K: 1e3, M: 1e6, G: 1e9, b: 1 }[size[2][0]];
  const number = /^-?\$?[\d,]*\.?\d+/.exec(text);
  return number ? Number(number[0].replace(/[$,]/g, "")) : text.toLowerCase();
}
function compared(one, other) {
  if (typeof one === typeof other && typeof one === "number") return one - other;
  return String(one).localeCompare(String(other), "en", { numeric: true });
}
function sortedBy(head, at, body, rows) {
  const way = { none: "ascending", ascending: "descending" }[
    head.getAttribute("aria-sort") || "none"
  ];
  for (const other of head.parentElement.cells) other.removeAttribute("aria-sort");
  if (!way) return body.append(...rows);
  head.setAttribute("aria-sort", way);
  const sign = way === "ascending" ? 1 : -1;
  const keyed = rows.map((row) => [sortKey(row.cells[at]), row]);
  keyed.sort(([one], [other]) => sign * compared(one, other));
  body.append(...keyed.map(([, row]) => row));
}
document.querySelectorAll("main .table-box table").forEach((table) => {
  const heads = table.tHead?.rows.length === 1 ? [...table.tHead.rows[0].cells] : [];
  const body = table.tBodies.length === 1 && table.tBodies[0];
  if (!body || body.rows.length < FEWEST_ROWS || document.querySelector("main nav.pages")) return;
  const whole = [...body.rows].every((row) => row.cells.length === heads.length);
  if (!whole || table.querySelector("thead a, thead input, .sum, td input, td select, td textarea"))
    return;
  const rows = [...body.rows];
  heads.forEach((head, at) => {
    if (!head.textContent.trim() || head.colSpan > 1 || head.querySelector("dfn")) return;
    const press = Object.assign(document.createElement("button"), {
      type: "button",
      className: "by-column",
    });
    press.append(...head.childNodes);
    head.append(press);
    press.addEventListener("click", () => sortedBy(head, at, body, rows));
  });
});
