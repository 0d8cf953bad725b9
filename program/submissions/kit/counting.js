// Checks one submission: every hash, every total from its rows, the rates, the ledger, the chain.
(() => {
  const { eachRow, layoutTables, sha256, unguarded } = globalThis.reading;
  const BESIDE = /^(certification|to-sign)-.*\.pdf$|^recount\.py$|^check-this-submission\.html$/;
  const CATEGORIES = ["LEAD", "GRR", "UNKNOWN", "NON_LEAD"];
  const SETS = { category: "category", connector: "connector", rests_on_connectors: "yes_no" };
  const number = (value) => Number(value).toLocaleString("en-US");

  class Submission {
    constructor(entries, tell) {
      this.entries = entries;
      this.tell = tell;
      this.checks = [];
      this.document = null;
      this.lines = null;
    }

    check(what, holds, said = "", found = "") {
      this.checks.push({ what, holds, said: String(said), found: String(found) });
    }

    named(end) {
      return this.entries.find((entry) => entry.name.endsWith(end));
    }

    async examine() {
      const manifests = this.entries.filter((entry) => entry.name.endsWith("-manifest.json"));
      this.check("There is one manifest", manifests.length === 1, 1, manifests.length);
      if (manifests.length !== 1) return this;
      const manifest = await manifests[0].open();
      this.digest = await sha256(manifest);
      const sealed = await this.json(manifests[0].name, manifest);
      if (!sealed) return this;
      this.about = sealed.about;
      this.previous = sealed.previous;
      await this.hashes(sealed.files);
      this.strangers([...sealed.files.map((file) => file.name), manifests[0].name]);
      await this.summary(sealed);
      return this;
    }

    async json(name, blob) {
      try {
        return JSON.parse(await blob.text());
      } catch (error) {
        this.check(`${name} can be read`, false, "JSON", error.message);
        return null;
      }
    }

    async hashes(files) {
      for (const file of files) {
        const entry = this.entries.find((one) => one.name === file.name);
        const what = `${file.name} is the file that was frozen`;
        if (!entry) {
          this.check(what, false, file.sha256, "missing");
          continue;
        }
        const blob = await entry.open();
        const tell = (done) => this.tell(`Hashing ${file.name}`, done, blob.size);
        const found = await sha256(blob, tell);
        this.check(what, found === file.sha256, file.sha256, found);
      }
    }

    strangers(known) {
      for (const { name } of this.entries) {
        if (known.includes(name) || BESIDE.test(name)) continue;
        this.check(
          `${name} belongs to the submission`,
          false,
          "named in the manifest",
          "not named",
        );
      }
    }

    async summary(sealed) {
      const names = sealed.files.map((file) => file.name);
      const entry = this.entries.find(
        (one) => one.name.endsWith(".json") && names.includes(one.name),
      );
      this.document = entry ? await this.json(entry.name, await entry.open()) : null;
      if (!this.document) {
        this.check("The summary is there", false, "a JSON file", entry ? "unreadable" : "missing");
        return;
      }
      const said = this.document;
      for (const file of Object.values(said.files)) {
        const found = sealed.files.find((one) => one.name === file.name)?.sha256;
        const what = `${file.name} has one hash in summary and manifest`;
        this.check(what, found === file.sha256, file.sha256, found || "not named");
      }
      const held = sealed.previous === said.previous_digest;
      const before = said.previous_digest || "nothing";
      const what = "Summary and manifest name the same submission before";
      this.check(what, held, before, sealed.previous || "nothing");
      await this.recount();
    }

    async recount() {
      const totals = this.document.summary.filter((entry) => entry.counted_from);
      this.counts = new Map();
      for (const total of totals) {
        const { list, where } = total.counted_from;
        if (list === "lines") continue;
        const rows = this.document[list] || [];
        const meets = this.condition(where, (row, key) => row[key] ?? "");
        this.counts.set(total.code, rows.filter(meets).length);
      }
      const ofLines = totals.filter((total) => total.counted_from.list === "lines");
      try {
        await this.readLines(ofLines);
      } catch (error) {
        this.check("The list of lines can be read", false, "a CSV of lines", error.message);
        return;
      }
      for (const total of totals) {
        const found = this.counts.get(total.code);
        const what = `${total.code.replace("_TO_DATE", " to date")} ${total.heading}`;
        this.check(what, found === total.value, total.text, number(found));
      }
      const sum = ["A1", "A2", "A3", "A4"].reduce((all, code) => all + this.value(code), 0);
      this.check("A1 + A2 + A3 + A4 = A5", sum === this.value("A5"), this.text("A5"), number(sum));
      this.check("No line stands twice", !this.lines.twice, 0, this.lines.twice);
      this.bases();
      this.rates();
      this.ledger();
    }

    // Any one of `where` whose every [column, code] holds.
    condition(where, read) {
      const year = String(this.document.program_year);
      const ways = where.map((way) =>
        way.map(([key, code]) => [key, code === "(program year)" ? year : code]),
      );
      return (row) =>
        ways.some((way) => way.every(([key, code]) => String(read(row, key)) === code));
    }

    async readLines(totals) {
      const [table, dictionary, layout] = ["-lines.csv", "-columns.csv", "-layout.toml"].map(
        (end) => this.named(end),
      );
      if (!table || !dictionary) throw new Error("the CSV of lines, or of its columns, is missing");
      this.columns = await columnsOf(await dictionary.open());
      const words = wordsOf(layout ? await (await layout.open()).text() : "");
      const blob = await table.open();
      this.lines = new Lines(blob, this.columns, words);
      const meets = totals.map(({ code, counted_from }) => [
        code,
        this.condition(counted_from.where, (row, key) => this.lines.code(row, key)),
      ]);
      for (const [code] of meets) this.counts.set(code, 0);
      await this.lines.read(
        (row) => {
          for (const [code, holds] of meets) {
            if (holds(row)) this.counts.set(code, this.counts.get(code) + 1);
          }
        },
        (done) => this.tell("Counting the lines", done, blob.size),
      );
    }

    entry(code) {
      return this.document.summary.find((one) => one.code === code);
    }

    value(code) {
      return this.entry(code)?.value ?? 0;
    }

    text(code) {
      return this.entry(code)?.text ?? "";
    }

    // What the non-lead lines rest on; a layout may leave the columns out.
    bases() {
      if (!("system_basis" in this.lines.at && "customer_basis" in this.lines.at)) return;
      const left = new Map(this.lines.bases);
      for (const row of this.document.non_lead_bases) {
        const pair = [row.system_basis || "", row.customer_basis || ""];
        const found = left.get(pair.join("|")) || 0;
        const what = `Non-lead by ${pair.map((one) => one || "nothing").join(" and ")}`;
        this.check(what, found === row.lines, number(row.lines), number(found));
        left.delete(pair.join("|"));
      }
      this.check("No non-lead line rests on anything else", !left.size, 0, left.size);
    }

    rates() {
      const done = (year) =>
        this.document.replacements.filter(
          (row) =>
            row.counted === "YES" &&
            row.program_year === year &&
            ["LEAD", "GRR"].includes(row.category_before),
        ).length;
      const year = this.document.program_year;
      const rates = [];
      for (const one of this.document.years) {
        const replaced = done(one.program_year);
        const what = `Replaced in program year ${one.program_year}`;
        this.check(what, replaced === one.replaced, number(one.replaced), number(replaced));
        if (one.pool > 0 && one.program_year <= year) rates.push([replaced, one.pool]);
      }
      const pool = this.value("B9");
      if (pool) this.rate("B10", [BigInt(done(year)), BigInt(pool)]);
      if (rates.length && typeof this.value("B11") === "object") this.rate("B11", mean(rates));
    }

    rate(code, [top, bottom]) {
      const said = this.entry(code);
      const filed = said?.value;
      const holds =
        Boolean(filed?.numerator) &&
        BigInt(filed.numerator) * bottom === top * BigInt(filed.denominator);
      this.check(`${code} ${said?.heading}`, holds, said?.text, percent(top, bottom));
    }

    ledger() {
      const filed = new Map(this.document.filed_and_now.map((row) => [row.code, row.filed]));
      if (!filed.size) return;
      const codes = CATEGORIES.map((word, at) => [`A${at + 1}`, "category", word]);
      codes.push(["A6", "connector", "LEAD"], ["A7", "connector", "UNKNOWN"]);
      for (const [code, key, word] of codes) {
        let now = filed.get(code);
        for (const row of this.document.corrections) {
          now += (row[`${key}_now`] === word) - (row[`${key}_filed`] === word);
        }
        const what = `${code} as filed before, and the corrections`;
        this.check(what, now === this.value(code), this.text(code), number(now));
      }
    }
  }

  function mean(rates) {
    let [top, bottom] = [0n, 1n];
    for (const [replaced, pool] of rates) {
      top = top * BigInt(pool) + BigInt(replaced) * bottom;
      bottom *= BigInt(pool);
    }
    return [top, bottom * BigInt(rates.length)];
  }

  // In percent, cut off after four decimals, as the file's own rule of rounding says.
  function percent(top, bottom) {
    const digits = String((top * 1_000_000n) / bottom).padStart(5, "0");
    return `${digits.slice(0, -4)}.${digits.slice(-4)}%`;
  }

  async function columnsOf(blob) {
    const rows = [];
    await eachRow(blob, (cells) => rows.push(cells));
    return rows
      .slice(1)
      .filter((row) => row[1])
      .map(([heading, key, kind, meaning]) => ({ heading, key, kind, meaning }));
  }

  function wordsOf(layout) {
    const tables = layoutTables(layout);
    const words = {};
    for (const [key, set] of Object.entries(SETS)) {
      const pairs = Object.entries(tables[`codes.${set}`] || {});
      words[key] = new Map(pairs.map(([code, word]) => [word, code]));
    }
    return words;
  }

  // The list of lines: of each only its place in the file, its category and its point are held.
  class Lines {
    constructor(blob, columns, words) {
      Object.assign(this, { blob, columns, words, twice: 0 });
      this.at = Object.fromEntries(columns.map(({ key }, place) => [key, place]));
      this.rows = [];
      this.bases = new Map();
    }

    code(row, key) {
      const word = unguarded(row[this.at[key]] ?? "");
      return this.words[key]?.get(word) ?? word;
    }

    async read(take, tell) {
      const seen = new Set();
      let head = true;
      const each = (row, from, to) => {
        if (head) {
          head = false;
          this.same(row);
          return;
        }
        const id = row[this.at.location_id];
        if (seen.has(id)) this.twice += 1;
        seen.add(id);
        const [lat, lon] = [row[this.at.latitude], row[this.at.longitude]].map(Number.parseFloat);
        const category = this.code(row, "category");
        this.rows.push({ from, to, category, lat, lon });
        if (category === "NON_LEAD") this.rests(row);
        take(row);
      };
      await eachRow(this.blob, each, tell);
    }

    rests(row) {
      const pair = ["system_basis", "customer_basis"].map((key) => this.code(row, key)).join("|");
      this.bases.set(pair, (this.bases.get(pair) || 0) + 1);
    }

    same(head) {
      const wanted = this.columns.map(({ heading }) => heading).join("|");
      if (head.join("|") !== wanted) throw new Error("its headings are not those of its columns");
    }

    async open(place) {
      const { from, to } = this.rows[place];
      return globalThis.reading.cells(await this.blob.slice(from, to).text());
    }

    // Up to `most` rows (place, cells) that a test takes.
    async find(test, most, tell) {
      const found = [];
      let place = -1;
      const each = (row) => {
        if (place >= 0 && found.length < most && test(row)) found.push([place, row]);
        place += 1;
      };
      await eachRow(this.blob, each, tell);
      return found;
    }
  }

  // Hold each submission to the one before it, as far as that was picked too.
  function chain(submissions) {
    const known = new Map(submissions.map((one) => [one.digest, one]));
    for (const one of submissions.filter((each) => each.about)) {
      const before = known.get(one.previous);
      const older = submissions.some((other) => other.about && earlier(other, one));
      if (!one.previous) one.check("It is the first of the chain", true, "nothing before", "");
      else if (before) {
        one.check(`It is chained to ${titled(before)}`, true, one.previous, before.digest);
      } else if (older) {
        const what =
          "It is chained to an earlier one picked here (else one was altered, or one is missing)";
        one.check(what, false, one.previous, "none of them");
      } else {
        const what = "The submission before it: pick its ZIP as well to check the chain";
        one.check(what, null, one.previous, "not picked");
      }
    }
  }

  function earlier(one, two) {
    const same = one.about.pwsid === two.about.pwsid;
    const order = (about) => about.program_year * 1000 + about.revision;
    return same && order(one.about) < order(two.about);
  }

  function titled({ about }) {
    const year = about.program_year ? `program year ${about.program_year}` : "before year 1";
    return `${year}, revision ${about.revision}`;
  }

  globalThis.counting = { Submission, chain, titled, number };
})();
