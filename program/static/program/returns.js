// Returned mail: each bar code that the camera sees becomes a line of the list, once.
"use strict";
(() => {
  const list = document.getElementById("id_numbers");
  const said = document.getElementById("scan-said");
  window.houseScan({
    formats: ["code_128"],
    found: (code) => {
      const read = list.value.split(/[\s,]+/).filter(Boolean);
      if (!/^N-\d+$/.test(code)) said.textContent = `${code} is not the number of a letter.`;
      else if (!read.includes(code)) {
        list.value = `${[...read, code].join("\n")}\n`;
        said.textContent = `${code} read, ${read.length + 1} in all.`;
      }
      return false; // the next letter of the pile
    },
  });
})();
