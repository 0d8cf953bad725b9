// A table of rows to fill in: its button adds one, made of the template of its name, and steps in.
"use strict";
document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-add-row]");
  if (!button) return;
  const name = button.dataset.addRow;
  const total = document.getElementById(`id_${name}-TOTAL_FORMS`);
  const made = document.getElementById(`${name}-row`).cloneNode(true);
  made.innerHTML = made.innerHTML.replaceAll("__prefix__", total.value);
  total.value = Number(total.value) + 1;
  button.before(made.content);
  button.previousElementSibling.querySelector("input, select").focus();
});
