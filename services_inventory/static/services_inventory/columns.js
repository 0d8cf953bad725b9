// The columns page asks how its first rows would be understood whenever a choice changes.
"use strict";
document.querySelectorAll("form[data-preview]").forEach((form) => {
  const shown = document.getElementById("preview");
  let asked = 0;
  const ask = async () => {
    asked += 1;
    const mine = asked;
    const sent = new FormData(form);
    sent.delete("once_token"); // nothing is recorded
    try {
      const answer = await fetch(form.dataset.preview, { method: "POST", body: sent });
      if (answer.ok && mine === asked) shown.innerHTML = await answer.text();
    } catch {
      /* the network is away: the last preview stands */
    }
  };
  form.addEventListener("change", ask);
});
