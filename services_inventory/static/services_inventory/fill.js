// What is proposed for words is filled in beside what was chosen already, which a new page would forget.
"use strict";
const fill = document.querySelector("[data-fill]");
if (fill)
  fill.addEventListener("click", (event) => {
    event.preventDefault();
    for (const choice of document.querySelectorAll("select[data-proposed]"))
      if (!choice.value) choice.value = choice.dataset.proposed;
    fill.parentElement.setAttribute("role", "status");
    fill.parentElement.textContent = fill.dataset.fill;
  });
