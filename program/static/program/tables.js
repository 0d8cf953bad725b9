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
