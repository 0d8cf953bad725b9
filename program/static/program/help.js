// Where the search of the guides finds its index: MkDocs asks by this name.
window.base_url = new URL(
  "..",
  document.querySelector("script[src$='search/main.js']").src,
).pathname;
