// The days of a line on a slider: letting go of it shows the line as it stood on that day.
"use strict";
const days = document.querySelector(".days");
if (days) {
  const DAY_MS = 86_400_000;
  const slider = days.querySelector("input");
  const label = days.querySelector("label");
  const field = days.closest("form").elements.on;
  const first = Date.parse(days.dataset.first);
  const iso = (step) => new Date(first + step * DAY_MS).toISOString().slice(0, 10);
  const written = new Intl.DateTimeFormat("en-US", { dateStyle: "medium", timeZone: "UTC" });
  slider.max = Math.max(0, Math.round((Date.parse(days.dataset.last) - first) / DAY_MS));
  slider.value = Math.round((Date.parse(field.value || days.dataset.last) - first) / DAY_MS);
  days.hidden = slider.max === "0";
  slider.addEventListener("input", () => {
    const day = iso(Number(slider.value));
    field.value = day;
    label.textContent = `As it stood on ${written.format(Date.parse(day))}`;
  });
  slider.addEventListener("change", () => days.closest("form").requestSubmit());
}
