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
// <div data-refresh="/address" data-every="1500"> asks again until the answer says it is done.
document.querySelectorAll("[data-refresh]").forEach((box) => {
  const every = Number(box.dataset.every || 1500);
  const ask = async () => {
    try {
      const answer = await fetch(box.dataset.refresh, { headers: { "X-Requested-With": "fetch" } });
      if (answer.ok) {
        box.innerHTML = await answer.text();
        if (box.querySelector("[data-ended]")) { window.location.reload(); return; }
      }
    } catch { /* the network is away: ask again */ }
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
  } catch { /* what stands there leads to the same */ }
});
document.querySelectorAll("form[data-submit-on-change]").forEach((form) => {
  form.addEventListener("change", () => form.requestSubmit());
});
