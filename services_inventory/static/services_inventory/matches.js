// The match queue by keys: j and k walk, Enter takes the line that is most alike and goes on.
"use strict";
const form = document.querySelector("[data-matches]");
if (form) {
  const rows = [...form.querySelectorAll("[data-question]")];
  const told = form.querySelector("[data-chosen]");
  const choices = (row) => [...row.querySelectorAll("input")].filter((one) => one.value);
  const answered = () => rows.filter((row) => choices(row).some((one) => one.checked)).length;
  let at = -1;
  let sending = false;
  const tell = () => {
    const number = answered();
    told.textContent = number ? `(${number})` : "";
  };
  const stand = (place) => {
    at = Math.min(Math.max(place, 0), rows.length - 1);
    rows[at].focus({ preventScroll: true });
    rows[at].scrollIntoView({ block: "center" });
  };
  const choose = (box) => {
    if (box) box.checked = box.type === "radio" || !box.checked;
    tell();
  };
  const clear = (row) => {
    for (const box of row.querySelectorAll("input"))
      box.checked = box.type === "radio" && !box.value;
    tell();
  };
  const take = (row) => {
    if (!choices(row).some((one) => one.checked)) choose(row.querySelector("[data-proposed]"));
    if (at === rows.length - 1) form.querySelector("button").focus();
    else stand(at + 1);
  };
  form.addEventListener("focusin", (event) => {
    const row = event.target.closest("[data-question]");
    if (row) at = rows.indexOf(row);
  });
  form.addEventListener("change", tell);
  form.addEventListener("submit", () => {
    sending = true;
  });
  window.addEventListener("beforeunload", (event) => {
    if (!sending && answered()) event.preventDefault();
  });
  window.addEventListener("pageshow", () => {
    sending = false;
    tell();
  });
  document.addEventListener("keydown", (event) => {
    const inside = event.target.closest("[data-question]");
    const elsewhere = event.target.closest("a, button, summary, textarea, select, input");
    if (event.ctrlKey || event.metaKey || event.altKey || (elsewhere && !inside)) return;
    if (event.key === "j") stand(at + 1);
    else if (event.key === "k") stand(at - 1);
    else if (at < 0 || event.target.closest("a")) return;
    else if (event.key === "Enter") take(rows[at]);
    else if (event.key === "n") choose(choices(rows[at]).at(-1));
    else if (event.key === "x") clear(rows[at]);
    else if (/^[1-8]$/.test(event.key)) choose(choices(rows[at]).slice(0, -1)[event.key - 1]);
    else return;
    event.preventDefault();
  });
}
