// The page of the kit: takes what is picked, shows the checks, the map, and any line.
(() => {
  const { picked } = globalThis.reading;
  const { Submission, chain, titled, number } = globalThis.counting;
  const { MARKS, PointMap } = globalThis.mapping;
  const byId = (id) => document.getElementById(id);
  const MOST = 50; // lines shown of those found
  const LISTS = {
    replacements: "Replacements",
    partials: "Partial replacements",
    refusals: "No access or consent",
    changes: "Changes of category",
    notices: "Notices",
    findings_set_aside: "Findings set aside",
    corrections: "Corrections since it was filed before",
  };
  let submissions = [];
  let shown = null;
  let map = null;

  function made(tag, text, kind) {
    const element = document.createElement(tag);
    element.textContent = text;
    if (kind) element.className = kind;
    return element;
  }

  function tell(what, done, all) {
    byId("progress").textContent = all ? `${what}: ${Math.floor((100 * done) / all)} %` : what;
  }

  async function take(event) {
    const files = [...event.target.files];
    if (!files.length) return;
    byId("trouble").textContent = "";
    byId("results").hidden = true;
    waiting(true);
    try {
      await check(files);
    } catch (error) {
      byId("trouble").textContent = error.message;
    }
    waiting(false);
    byId("progress").textContent = "";
  }

  function waiting(busy) {
    byId("files").disabled = byId("folder").disabled = busy;
  }

  async function check(files) {
    const groups = await picked(files);
    submissions = [];
    for (const [folder, entries] of groups) {
      if (!entries.some((entry) => /-manifest\.json$|-lines\.csv$/.test(entry.name))) continue;
      tell(`Reading ${folder || "the files"}`);
      const one = new Submission(entries, tell);
      one.folder = folder;
      submissions.push(await one.examine());
    }
    if (!submissions.length) {
      throw new Error(
        "No submission was found in what you picked. Pick the ZIP as you got it, or the folder it was unpacked into.",
      );
    }
    chain(submissions);
    const names = submissions.map((one, at) => {
      const option = made("option", `${one.about ? titled(one) : one.folder}: ${verdict(one)}`);
      option.value = at;
      return option;
    });
    byId("which").replaceChildren(...names);
    byId("choice").hidden = submissions.length < 2;
    const first = submissions.findIndex((one) => failed(one).length);
    byId("which").value = Math.max(first, 0);
    byId("results").hidden = false;
    show(submissions[Math.max(first, 0)]);
  }

  const failed = (one) => one.checks.filter((each) => each.holds === false);

  function verdict(one) {
    const counted = one.checks.filter((each) => each.holds !== null).length;
    const wrong = failed(one).length;
    if (!wrong) return `all ${number(counted)} checks hold`;
    return `${number(wrong)} of ${number(counted)} checks ${wrong === 1 ? "fails" : "fail"}`;
  }

  function show(one) {
    shown = one;
    const said = one.document;
    byId("whose").textContent = said ? `${said.system_name}, ${titled(one)}` : one.folder;
    byId("verdict").textContent = `${verdict(one)}.`.replace(/^a/, "A");
    byId("verdict").className = failed(one).length ? "fails" : "holds";
    const when = said ? `as of ${day(said.as_of)}; reported on ${day(said.reported_on)}` : "";
    byId("about").textContent = said
      ? `PWSID ${said.pwsid || "not said"}; ${when}. ${said.rounding}`
      : "";
    byId("digest").textContent = one.digest || "none";
    compare();
    list();
    draw();
    byId("hits").textContent = "";
    byId("found").replaceChildren();
    byId("line").replaceChildren();
  }

  function day(iso) {
    const as = { timeZone: "UTC", year: "numeric", month: "short", day: "numeric" };
    return new Date(iso).toLocaleDateString("en-US", as);
  }

  function compare() {
    const signed = byId("signed").value.trim().toLowerCase();
    const same = signed === shown?.digest;
    byId("compared").textContent = !signed ? "" : same ? "It is the same." : "It is another one.";
    byId("compared").className = same ? "holds" : "fails";
  }

  function list() {
    const only = byId("failing").checked;
    const order = (each) => [false, null, true].indexOf(each.holds);
    const rows = [...shown.checks].sort((a, b) => order(a) - order(b));
    byId("checks").replaceChildren(
      ...rows
        .filter((each) => !only || !each.holds)
        .map((each) => {
          const row = document.createElement("tr");
          const [word, kind] =
            each.holds === null
              ? ["not shown", "open"]
              : each.holds
                ? ["holds", "holds"]
                : ["FAILS", "fails"];
          const cells = [each.what, each.said, each.found].map((text) => made("td", text));
          row.append(made("td", word, kind), ...cells);
          return row;
        }),
    );
  }

  function draw() {
    const rows = shown.lines?.rows || [];
    map = rows.length ? new PointMap(byId("map"), rows, open) : null;
    byId("mapped").hidden = !map?.points.length;
    if (!map) return;
    const points = map.points.length;
    const others = points < rows.length ? "; the others are in the list only" : "";
    const words = `${number(points)} of ${number(rows.length)} lines have a position${others}.`;
    byId("points").textContent = words;
    byId("legend").replaceChildren(...Object.entries(MARKS).reverse().map(toggle));
  }

  function toggle([category, mark]) {
    const label = made("label", ` ${mark.word} `);
    const box = document.createElement("input");
    box.type = "checkbox";
    box.checked = true;
    box.onchange = () => {
      map.hidden[box.checked ? "delete" : "add"](category);
      map.draw();
    };
    const picture = document.createElement("canvas");
    picture.width = picture.height = 14;
    picture.className = "mark";
    const pen = picture.getContext("2d");
    pen.fillStyle = pen.strokeStyle = mark.tone;
    mark.draw(pen, 7, 7, 9);
    label.prepend(box, picture);
    return label;
  }

  async function find(event) {
    event.preventDefault();
    const { lines } = shown;
    if (!lines) return;
    const sought = byId("sought").value.trim().toLowerCase();
    const category = byId("category").value;
    const places = [lines.at.location_id, lines.at.address].filter((place) => place !== undefined);
    const test = (row) =>
      (!category || lines.code(row, "category") === category) &&
      places.some((place) => row[place].toLowerCase().includes(sought));
    const found = await lines.find(test, MOST + 1, (done) =>
      tell("Looking", done, lines.blob.size),
    );
    tell("");
    byId("hits").textContent =
      found.length > MOST
        ? `More than ${MOST}; the first ${MOST} are shown. Say more of the address.`
        : `${found.length} found.`;
    byId("found").replaceChildren(...found.slice(0, MOST).map((one) => hit(one, places)));
  }

  function hit([place, row], places) {
    const category = shown.lines.code(row, "category");
    const words = [...places.map((at) => row[at]), MARKS[category]?.word || category];
    const button = made("button", words.join(" · "));
    button.type = "button";
    button.onclick = () => open(place);
    const item = document.createElement("li");
    item.append(button);
    return item;
  }

  // A line with all that the submission says of it: its evidence, its work, its letters.
  async function open(place) {
    const { lines, document: said } = shown;
    const row = await lines.open(place);
    const id = globalThis.reading.unguarded(row[lines.at.location_id]);
    const told = lines.columns.map(({ heading, meaning }, at) => [heading, row[at], meaning]);
    const parts = [made("h3", `Line ${id}`), pairs(told)];
    for (const [key, title] of Object.entries(LISTS)) {
      for (const entry of (said[key] || []).filter((one) => one.location_id === id)) {
        const values = Object.entries(entry).map(([name, value]) => [plain(name), value]);
        parts.push(made("h3", title), pairs(values));
      }
    }
    byId("line").replaceChildren(...parts);
    byId("line").focus();
  }

  const plain = (key) => (key.charAt(0).toUpperCase() + key.slice(1)).replaceAll("_", " ");

  function pairs(rows) {
    const list = document.createElement("dl");
    for (const [name, value, meaning] of rows) {
      const said = made("dd", value === "" || value === undefined ? "not recorded" : value);
      if (meaning) said.append(made("small", meaning));
      list.append(made("dt", name), said);
    }
    return list;
  }

  byId("files").onchange = take;
  byId("folder").onchange = take;
  byId("which").onchange = (event) => show(submissions[event.target.value]);
  byId("signed").oninput = compare;
  byId("failing").onchange = list;
  byId("finding").onsubmit = find;
  byId("nearer").onclick = () => map?.scale(1.5);
  byId("farther").onclick = () => map?.scale(1 / 1.5);
  byId("whole").onclick = () => map?.whole();
})();
