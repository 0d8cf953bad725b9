// Sliders that stand on solved scenarios: the one chosen is asked for and shown in place.
"use strict";
const sliders = document.getElementById("sliders");
if (sliders) {
  const told = (slider) => slider.list.options[Number(slider.value)].label;
  const ranges = [...sliders.querySelectorAll("input[type=range]")];
  for (const slider of ranges) slider.setAttribute("aria-valuetext", told(slider));
  let last = 0;
  sliders.addEventListener("input", async (event) => {
    event.target.setAttribute("aria-valuetext", told(event.target));
    document.getElementById(`told-${event.target.name}`).textContent = told(event.target);
    const mine = ++last;
    const address = `?${ranges.map((slider) => `${slider.name}=${slider.value}`).join("&")}`;
    try {
      const answer = await fetch(address, { headers: { "X-Requested-With": "fetch" } });
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      if (mine !== last || !answer.ok) return;
      document.getElementById("point").replaceWith(page.getElementById("point"));
      window.history.replaceState(null, "", address);
    } catch {
      sliders.requestSubmit(); // the page then says itself what is wrong
    }
  });
}
