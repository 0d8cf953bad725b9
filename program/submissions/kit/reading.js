// Reads what a reviewer picks: a ZIP or a folder, its hashes, its tables. Asks nothing of a network.
(() => {
  const CHUNK = 4 << 20; // bytes read at a time, so that a file of any size takes flat memory

  // SHA-256 (FIPS 180-4). The browser's own wants a whole file in memory, and some give it to no
  // page that is opened from a disk.
  const primes = [];
  for (let n = 2; primes.length < 64; n += 1) {
    if (primes.every((prime) => n % prime)) primes.push(n);
  }
  const bitsBehind = (root) => Math.floor((root - Math.floor(root)) * 2 ** 32) | 0;
  const ROUND = Int32Array.from(primes, (prime) => bitsBehind(Math.cbrt(prime)));
  const START = Int32Array.from(primes.slice(0, 8), (prime) => bitsBehind(Math.sqrt(prime)));

  class Sha256 {
    constructor() {
      this.state = START.slice();
      this.words = new Int32Array(64);
      this.rest = new Uint8Array(0);
      this.length = 0;
    }

    update(bytes) {
      this.length += bytes.length;
      const all = joined(this.rest, bytes);
      const whole = all.length - (all.length % 64);
      for (let at = 0; at < whole; at += 64) this.block(all, at);
      this.rest = all.slice(whole);
    }

    block(bytes, at) {
      const w = this.words;
      for (let i = 0; i < 16; i += 1) {
        const p = at + 4 * i;
        w[i] = (bytes[p] << 24) | (bytes[p + 1] << 16) | (bytes[p + 2] << 8) | bytes[p + 3];
      }
      for (let i = 16; i < 64; i += 1) {
        const a = w[i - 15];
        const b = w[i - 2];
        const low = ((a >>> 7) | (a << 25)) ^ ((a >>> 18) | (a << 14)) ^ (a >>> 3);
        const high = ((b >>> 17) | (b << 15)) ^ ((b >>> 19) | (b << 13)) ^ (b >>> 10);
        w[i] = (w[i - 16] + low + w[i - 7] + high) | 0;
      }
      let [a, b, c, d, e, f, g, h] = this.state;
      for (let i = 0; i < 64; i += 1) {
        const one = ((e >>> 6) | (e << 26)) ^ ((e >>> 11) | (e << 21)) ^ ((e >>> 25) | (e << 7));
        const first = (h + one + ((e & f) ^ (~e & g)) + ROUND[i] + w[i]) | 0;
        const two = ((a >>> 2) | (a << 30)) ^ ((a >>> 13) | (a << 19)) ^ ((a >>> 22) | (a << 10));
        const second = (two + ((a & b) ^ (a & c) ^ (b & c))) | 0;
        h = g;
        g = f;
        f = e;
        e = (d + first) | 0;
        d = c;
        c = b;
        b = a;
        a = (first + second) | 0;
      }
      for (const [i, word] of [a, b, c, d, e, f, g, h].entries()) this.state[i] += word;
    }

    hex() {
      const bits = BigInt(this.length) * 8n;
      const padded = new Uint8Array(this.rest.length < 56 ? 64 : 128);
      padded.set(this.rest);
      padded[this.rest.length] = 0x80;
      new DataView(padded.buffer).setBigUint64(padded.length - 8, bits);
      for (let at = 0; at < padded.length; at += 64) this.block(padded, at);
      return Array.from(this.state, (word) => (word >>> 0).toString(16).padStart(8, "0")).join("");
    }
  }

  function joined(one, two) {
    if (!one.length) return two;
    const all = new Uint8Array(one.length + two.length);
    all.set(one);
    all.set(two, one.length);
    return all;
  }

  async function eachChunk(blob, take, tell = () => {}) {
    for (let at = 0; at < blob.size; at += CHUNK) {
      take(new Uint8Array(await blob.slice(at, at + CHUNK).arrayBuffer()));
      tell(Math.min(at + CHUNK, blob.size));
    }
  }

  async function sha256(blob, tell) {
    const hash = new Sha256();
    await eachChunk(blob, (bytes) => hash.update(bytes), tell);
    return hash.hex();
  }

  // ZIP (PKWARE's note, 4.3): the directory at its end says where each file lies.
  async function viewOf(blob, from, to) {
    return new DataView(await blob.slice(from, to).arrayBuffer());
  }

  async function zipDirectory(file) {
    const start = Math.max(0, file.size - 65_557);
    const tail = await viewOf(file, start, file.size);
    let at = tail.byteLength - 22;
    while (at >= 0 && tail.getUint32(at, true) !== 0x06054b50) at -= 1;
    if (at < 0) throw new Error(`${file.name} is not a whole ZIP: it has no directory at its end.`);
    const short = [tail.getUint16(at + 10, true), tail.getUint32(at + 12, true)];
    const offset = tail.getUint32(at + 16, true);
    if (offset !== 0xffffffff && short[0] !== 0xffff) return [...short, offset];
    const pointer = Number(tail.getBigUint64(at - 20 + 8, true));
    const long = await viewOf(file, pointer, pointer + 56);
    return [32, 40, 48].map((place) => Number(long.getBigUint64(place, true)));
  }

  async function zipFiles(file) {
    const [count, size, offset] = await zipDirectory(file);
    const view = await viewOf(file, offset, offset + size);
    const found = [];
    for (let at = 0; found.length < count; ) {
      if (at + 46 > view.byteLength || view.getUint32(at, true) !== 0x02014b50) {
        throw new Error(`${file.name} is damaged: its directory breaks off.`);
      }
      const [named, extra, noted] = [28, 30, 32].map((place) => view.getUint16(at + place, true));
      const name = new TextDecoder().decode(new Uint8Array(view.buffer, at + 46, named));
      const entry = {
        method: view.getUint16(at + 10, true),
        packed: view.getUint32(at + 20, true),
        size: view.getUint32(at + 24, true),
        from: view.getUint32(at + 42, true),
      };
      wider(entry, view, at + 46 + named, extra);
      if (!name.endsWith("/")) found.push({ name, open: () => unpacked(file, name, entry) });
      at += 46 + named + extra + noted;
    }
    return found;
  }

  function wider(entry, view, start, length) {
    for (let at = start; at + 4 <= start + length; at += 4 + view.getUint16(at + 2, true)) {
      if (view.getUint16(at, true) !== 1) continue;
      let place = at + 4;
      for (const key of ["size", "packed", "from"]) {
        if (entry[key] !== 0xffffffff) continue;
        entry[key] = Number(view.getBigUint64(place, true));
        place += 8;
      }
    }
  }

  async function unpacked(file, name, entry) {
    const head = await viewOf(file, entry.from, entry.from + 30);
    const from = entry.from + 30 + head.getUint16(26, true) + head.getUint16(28, true);
    const inside = file.slice(from, from + entry.packed);
    if (entry.method === 0) return inside;
    if (entry.method !== 8 || typeof DecompressionStream === "undefined") {
      throw new Error(`${name} is packed in a way that this browser cannot open: unpack the ZIP.`);
    }
    const stream = inside.stream().pipeThrough(new DecompressionStream("deflate-raw"));
    return new Response(stream).blob();
  }

  // What was picked, by folder: [{folder, name, open}], a ZIP being a folder of its own.
  async function picked(files) {
    const found = [];
    for (const file of files) {
      const path = file.webkitRelativePath || file.name;
      const folder = path.split("/").slice(0, -1).join("/");
      if (file.name.toLowerCase().endsWith(".zip")) {
        for (const one of await zipFiles(file)) found.push(placed(one, file.name));
      } else {
        found.push({ folder, name: file.name, open: async () => file });
      }
    }
    return Map.groupBy ? Map.groupBy(found, (one) => one.folder) : grouped(found);
  }

  function placed(one, zip) {
    const parts = one.name.split("/");
    const name = parts.pop();
    return { ...one, name, folder: [zip, ...parts].join("/") };
  }

  function grouped(found) {
    const groups = new Map();
    for (const one of found) groups.set(one.folder, [...(groups.get(one.folder) || []), one]);
    return groups;
  }

  // CSV (RFC 4180), row by row with the place of each in the file, so that it can be read again.
  async function eachRow(blob, take, tell) {
    const decoder = new TextDecoder();
    let rest = new Uint8Array(0);
    let base = 0;
    const row = (bytes, from, to) => {
      if (to > from) take(cells(decoder.decode(bytes.subarray(from, to))), base + from, base + to);
    };
    const chunk = (more) => {
      const bytes = joined(rest, more);
      let [from, quoted] = [0, false];
      for (let at = 0; at < bytes.length; at += 1) {
        if (bytes[at] === 34) quoted = !quoted;
        else if (bytes[at] === 10 && !quoted) {
          row(bytes, from, at);
          from = at + 1;
        }
      }
      rest = bytes.slice(from);
      base += from;
    };
    await eachChunk(blob, chunk, tell);
    row(rest, 0, rest.length);
  }

  function cells(line) {
    const text = line.endsWith("\r") ? line.slice(0, -1) : line;
    if (!text.includes('"')) return text.split(",");
    const found = [];
    const cell = /(?:"((?:[^"]|"")*)"|([^,]*))(,|$)/gy;
    for (;;) {
      const [, quoted, plain, end] = cell.exec(text) || [];
      found.push(quoted === undefined ? plain || "" : quoted.replaceAll('""', '"'));
      if (!end) return found;
    }
  }

  const unguarded = (text) => (/^'[=+\-@\t\r]/.test(text) ? text.slice(1) : text);

  // A layout is TOML as the program writes it: tables of one-line texts.
  function layoutTables(text) {
    const tables = {};
    let table = {};
    for (const line of text.split("\n")) {
      const named = /^\[(.+)\]$/.exec(line);
      const pair = /^([\w-]+) = (".*")$/.exec(line);
      if (named) {
        table = {};
        tables[named[1]] = table;
      } else if (pair) table[pair[1]] = JSON.parse(pair[2]);
    }
    return tables;
  }

  globalThis.reading = { Sha256, sha256, picked, eachRow, cells, unguarded, layoutTables };
})();
