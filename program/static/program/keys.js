// The search box, and the keys that spare the mouse: / finds, j and k walk a list, ? tells them all.
"use strict";
const finder = document.querySelector(".finder");
const finderInput = finder.querySelector("input");
const finderList = finder.querySelector("ul");
let finderWaits;
let finderAsked = 0;
const options = () => [...finderList.querySelectorAll("[role=option]")];
function showFound(open) {
  finderList.hidden = !open;
  finderInput.setAttribute("aria-expanded", String(open));
  if (!open) finderInput.removeAttribute("aria-activedescendant");
}
async function findWhileTyping() {
  const words = finderInput.value.trim();
  if (words.length < 2) return showFound(false);
  const mine = ++finderAsked;
  const address = new URL(finder.action);
  address.search = new URLSearchParams({ q: words, while: "typing" });
  try {
    const answer = await fetch(address, { headers: { "X-Requested-With": "fetch" } });
    if (!answer.ok || mine !== finderAsked) return;
    finderList.innerHTML = await answer.text();
    showFound(true);
  } catch {
    /* Enter asks the page of all that is found */
  }
}
function choose(step) {
  const all = options();
  if (!all.length) return;
  const now = all.findIndex((one) => one.getAttribute("aria-selected") === "true");
  const next = all[(now + step + all.length + (now < 0 && step < 0 ? 1 : 0)) % all.length];
  for (const one of all) one.setAttribute("aria-selected", String(one === next));
  finderInput.setAttribute("aria-activedescendant", next.id);
  next.scrollIntoView({ block: "nearest" });
}
finderInput.addEventListener("input", () => {
  clearTimeout(finderWaits);
  finderWaits = setTimeout(findWhileTyping, 150);
});
finderInput.addEventListener("keydown", (event) => {
  if (event.key === "ArrowDown" || event.key === "ArrowUp") {
    event.preventDefault();
    choose(event.key === "ArrowDown" ? 1 : -1);
  } else if (event.key === "Enter") {
    const chosen = finderList.querySelector("[aria-selected=true] a");
    if (chosen && !finderList.hidden) {
      event.preventDefault();
      window.location.assign(chosen.href);
    }
  } else if (event.key === "Escape") {
    showFound(false);
  }
});
document.addEventListener("click", (event) => {
  if (!finder.contains(event.target)) showFound(false);
});
// Keys of the whole page; a page with keys of its own for its list says so by data-own-keys.
const KEYS = [
  ["/", "find an address, order, street or person"],
  ["j, k", "next and previous row of the list; Enter opens it"],
  ["?", "show these keys"],
  ["Esc", "close"],
];
function keysTold() {
  let box = document.getElementById("keys-told");
  if (!box) {
    box = Object.assign(document.createElement("dialog"), { id: "keys-told" });
    const head = Object.assign(document.createElement("h2"), { textContent: "Keys" });
    const list = Object.assign(document.createElement("dl"), { className: "facts" });
    const own = [...document.querySelectorAll("[data-own-keys]")].map((one) =>
      one.dataset.ownKeys.split(": "),
    );
    for (const [key, does] of [...KEYS, ...own]) {
      const name = document.createElement("dt");
      name.append(Object.assign(document.createElement("kbd"), { textContent: key }));
      list.append(name, Object.assign(document.createElement("dd"), { textContent: does }));
    }
    const close = Object.assign(document.createElement("button"), { textContent: "Close" });
    close.addEventListener("click", () => box.close());
    box.append(head, list, close);
    document.body.append(box);
  }
  box.showModal();
}
function walkRows(step) {
  const rows = [...document.querySelectorAll("main tbody tr, main .found-list li")]
    .map((row) => row.querySelector("a[href]"))
    .filter((link) => link?.checkVisibility());
  if (!rows.length) return;
  const now = rows.findIndex((link) => link.closest("tr, li").contains(document.activeElement));
  const next = rows[now < 0 ? 0 : Math.min(Math.max(now + step, 0), rows.length - 1)];
  next.focus();
  next.closest("tr, li").scrollIntoView({ block: "nearest" });
}
document.addEventListener("keydown", (event) => {
  if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.closest?.("input, select, textarea, dialog, [contenteditable]")) return;
  if (event.key === "/") {
    event.preventDefault();
    finderInput.focus();
    finderInput.select();
  } else if (event.key === "?") {
    keysTold();
  } else if (
    (event.key === "j" || event.key === "k") &&
    !document.querySelector("[data-own-keys]")
  ) {
    walkRows(event.key === "j" ? 1 : -1);
  }
});
