// The little that pages need of a script: the menu on a phone, and progress that refreshes itself.
"use strict";
document.addEventListener("click", (event) => {
  const toggle = event.target.closest(".rail-toggle");
  if (toggle) {
    const open = toggle.getAttribute("aria-expanded") === "true";
    toggle.setAttribute("aria-expanded", String(!open));
    document.getElementById("places").classList.toggle("open", !open);
  }
  const printer = event.target.closest("[data-print]");
  if (printer) window.print();
});
// What the browser refuses may lie in a part that is folded: it opens, and its group stays as it is.
document.addEventListener(
  "invalid",
  (event) => {
    const fold = event.target.closest("details:not([open])");
    if (fold) unfold(fold);
  },
  true,
);
function unfold(fold) {
  fold.removeAttribute("name"); // of a name, only one is open
  fold.open = true;
}
// <div data-refresh="/address" data-every="1500"> asks again until the answer says it is done.
document.querySelectorAll("[data-refresh]").forEach((box) => {
  const every = Number(box.dataset.every || 1500);
  const ask = async () => {
    try {
      const answer = await fetch(box.dataset.refresh, { headers: { "X-Requested-With": "fetch" } });
      if (answer.ok) {
        box.innerHTML = await answer.text();
        if (box.querySelector("[data-ended]")) {
          window.location.reload();
          return;
        }
      }
    } catch {
      /* the network is away: ask again */
    }
    setTimeout(ask, every);
  };
  setTimeout(ask, every);
});
// <div data-once="/address"> holds what can wait until the page stands; its own content stays
// where the network or the script is away.
document.querySelectorAll("[data-once]").forEach(async (box) => {
  try {
    const answer = await fetch(box.dataset.once, { headers: { "X-Requested-With": "fetch" } });
    if (answer.ok) box.innerHTML = await answer.text();
  } catch {
    /* what stands there leads to the same */
  }
});
document.querySelectorAll("form[data-submit-on-change]").forEach((form) => {
  form.addEventListener("change", () => form.requestSubmit());
});
// What was typed into a form that was refused goes back into its fields; the sentence stands beside
// the field that it names, or at the head of the form.
const typed = document.getElementById("typed");
if (typed) putBack(JSON.parse(typed.textContent));
function putBack({ address, sent, sentence }) {
  const form = [...document.forms].find(
    (one) =>
      one.getAttribute("method") === "post" &&
      new URL(one.getAttribute("action") ?? "", document.baseURI).pathname === address,
  );
  if (!form) return;
  const left = Object.fromEntries(
    Object.entries(sent).map(([name, values]) => [name, [...values]]),
  );
  for (const field of form.elements) {
    const values = sent[field.name] || [];
    if (
      ["hidden", "file", "password", "submit", "button"].includes(field.type) ||
      field.tagName === "FIELDSET"
    )
      continue;
    if (["checkbox", "radio"].includes(field.type)) field.checked = values.includes(field.value);
    else if (field.type === "select-multiple")
      for (const option of field.options) option.selected = values.includes(option.value);
    else if (left[field.name]?.length) field.value = left[field.name].shift();
  }
  for (let box = form.closest("details"); box; box = box.parentElement.closest("details"))
    box.open = true;
  const wrong = [...form.elements].find((field) =>
    [...(field.labels || [])].some((label) => sentence.startsWith(`${nameOf(label)}:`)),
  );
  const told = Object.assign(document.createElement("p"), {
    className: wrong ? "error" : "note note-error",
    textContent: wrong ? sentence.slice(sentence.indexOf(":") + 1).trim() : sentence,
  });
  if (wrong) {
    wrong.setAttribute("aria-invalid", "true");
    wrong.after(told);
  } else if (form.querySelector(".field")) form.querySelector(".field").before(told);
  else form.prepend(told);
  (wrong || form).scrollIntoView({ block: "center" });
  if (wrong) wrong.focus({ preventScroll: true });
}
function nameOf(label) {
  return [...label.childNodes]
    .filter((node) => node.nodeType === Node.TEXT_NODE)
    .map((node) => node.textContent)
    .join("")
    .trim();
}
// Paper has no folds: what is folded on the page is printed.
window.addEventListener("beforeprint", () => {
  document.querySelectorAll("details:is(.step, .unfolds, .prints, .cautions *)").forEach(unfold);
});
// Rows to be answered one by one open where Tab comes to them: Tab, an arrow, Tab, and no click.
document.addEventListener("focusin", ({ target }) => {
  const row = target.closest("details[name=row]");
  if (row && target.matches("summary:focus-visible")) row.open = true;
});
// A table that scrolls inside its frame is reached by keyboard, and says what it is.
for (const box of document.querySelectorAll(".table-box:not([tabindex])")) {
  if (box.scrollHeight <= box.clientHeight + 1 && box.scrollWidth <= box.clientWidth + 1) continue;
  const named = box.querySelector("caption") || document.querySelector("h1");
  box.tabIndex = 0;
  box.setAttribute("role", "region");
  box.setAttribute("aria-label", named ? named.textContent.trim() : document.title);
}
