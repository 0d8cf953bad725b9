// Suggestions while an address is typed. The form works without this script.
"use strict";
(() => {
  const field = document.getElementById("q");
  const list = document.getElementById("places");
  if (!field || !list || !field.dataset.suggest) return;
  let waiting = null,
    asked = "",
    known = new Map();
  const ask = async () => {
    const text = field.value.trim();
    if (text.length < 2 || text === asked || known.has(text)) return;
    asked = text;
    const address = `${field.dataset.suggest}?q=${encodeURIComponent(text)}&language=${field.dataset.language}`;
    let answer = null;
    try {
      answer = await fetch(address);
    } catch {
      return;
    }
    if (!answer.ok || field.value.trim() !== text) return;
    const { places } = await answer.json();
    known = new Map(places.map((place) => [place.label, place.href]));
    list.replaceChildren(
      ...places.map((place) => {
        const option = document.createElement("option");
        option.value = place.label;
        return option;
      }),
    );
  };
  field.form.addEventListener("submit", (event) => {
    const place = known.get(field.value.trim());
    if (place) {
      event.preventDefault();
      window.location.assign(place);
    }
  });
  field.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(ask, 180);
  });
})();
