// Words of the glossary, marked <dfn> on a page, tell what they mean: to a pointer that rests on
// them, to the keyboard and to a finger. Escape, or looking elsewhere, closes.
"use strict";
const words = [...document.querySelectorAll("main dfn")];
const meaning = document.createElement("div");
let meanings = null;
async function tell(word) {
  meanings ??= fetch(document.body.dataset.words).then((answer) =>
    answer.ok ? answer.json() : {},
  );
  const name = (word.dataset.word || word.textContent).trim().toLowerCase();
  const told = (await meanings)[name];
  if (!told || !(word.matches(":hover") || word === document.activeElement)) return;
  meaning.textContent = told;
  meaning.hidden = false;
  const at = word.getBoundingClientRect();
  const left = Math.min(at.left, document.documentElement.clientWidth - meaning.offsetWidth - 8);
  meaning.style.left = `${Math.max(8, left) + window.scrollX}px`;
  meaning.style.top = `${at.bottom + window.scrollY + 4}px`;
  word.setAttribute("aria-describedby", meaning.id);
}
function hush(word) {
  if (word.matches(":hover") || meaning.matches(":hover") || word === document.activeElement)
    return;
  meaning.hidden = true;
}
if (words.length) {
  Object.assign(meaning, { id: "word-meaning", className: "word-meaning", hidden: true });
  meaning.setAttribute("role", "tooltip");
  document.body.append(meaning);
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") meaning.hidden = true;
  });
}
for (const word of words) {
  word.tabIndex = 0;
  for (const kind of ["pointerenter", "focus", "click"])
    word.addEventListener(kind, () => tell(word));
  for (const kind of ["pointerleave", "blur"])
    word.addEventListener(kind, () => setTimeout(hush, 150, word));
}
