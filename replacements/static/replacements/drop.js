// Says what was chosen before it is sent, and refuses more single files than one request may hold.
"use strict";
(() => {
  const input = document.getElementById("files");
  const said = document.getElementById("files-said");
  if (!input || !said) return;
  const most = 100;
  input.addEventListener("change", () => {
    const files = [...input.files];
    const megabytes = files.reduce((sum, file) => sum + file.size, 0) / 1048576;
    const forms = files.filter((file) => /\.xlsx$/i.test(file.name)).length;
    const zips = files.filter((file) => /\.zip$/i.test(file.name)).length;
    let sentence = "";
    if (files.length > most)
      sentence = `${files.length} files are too many at once: put them into one zip.`;
    else if (zips && files.length > 1)
      sentence = "Send one zip by itself, or single files without a zip.";
    else if (!zips && forms !== 1)
      sentence = "Choose exactly one record form (.xlsx) with its files.";
    input.setCustomValidity(sentence);
    said.textContent =
      sentence ||
      `${files.length} ${files.length === 1 ? "file" : "files"}, ${megabytes.toFixed(1)} MB.`;
  });
})();
