// Tools: a change of kind swaps the fields and keeps what was typed; a label fills a string's row.
"use strict";
(() => {
  const kind = document.querySelector("select[name=kind]");
  const swap = () => {
    for (const part of document.querySelectorAll("fieldset[data-kinds]")) {
      const kinds = part.dataset.kinds;
      part.hidden = part.disabled = Boolean(kinds) && !kinds.split(" ").includes(kind.value);
    }
  };
  if (kind) {
    kind.addEventListener("change", swap);
    swap();
  }
})();
(() => {
  const known = document.getElementById("tool-codes");
  const typed = document.querySelector("input[name=codes]");
  if (!known || !typed) return;
  const tools = JSON.parse(known.textContent);
  const said = document.getElementById("scan-said");
  const rows = [...document.querySelectorAll("select[name^=part_]")];
  const told = new Set();
  const kinds = new Map(Object.values(tools));
  // A tool takes the row of its kind that no label filled yet, else the first empty one.
  const put = (code) => {
    const tool = tools[code.toUpperCase().replace(/[^A-Z0-9]/g, "")];
    if (!tool) {
      said.textContent = `${code}: no tool of yours that may be used here has this code.`;
      return false;
    }
    const [value, kind] = tool;
    const there = rows.find((row) => row.value === value);
    const free = rows.filter((row) => !told.has(row));
    const row =
      there ??
      free.find((each) => kinds.get(each.value) === kind) ??
      free.find((each) => !each.value);
    if (!row) {
      said.textContent = "No row is left.";
      return false;
    }
    row.value = value;
    told.add(row);
    said.textContent = `${row.selectedOptions[0].textContent.trim()}: row ${rows.indexOf(row) + 1}.`;
    return true;
  };
  typed.addEventListener("keydown", (event) => {
    if (event.key !== "Enter") return;
    event.preventDefault();
    const left = typed.value.split(/[\s,;]+/).filter((code) => code && !put(code));
    typed.value = left.join(" ");
  });
  window.houseScan({ formats: ["qr_code"], found: (code) => put(code) || true });
})();
