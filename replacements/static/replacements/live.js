// A pull while it happens: asks each second, one question at a time, and shows what it is told.
// What is old is taken away by this page itself, as a broken line cannot say that it is broken.
"use strict";
(() => {
  const box = document.getElementById("live");
  if (!box) return;
  const EVERY_MS = 1000;
  const HIDDEN_MS = 10000;
  const GIVE_UP_MS = 4000;
  const part = (name) => document.getElementById(`live-${name}`);
  let told = null; // the last answer
  let until = 0; // when its force grows too old to be shown
  let silentAfter = 5000;
  let lastAnswer = performance.now();
  let timer = 0;
  let isAsking = false;
  const drawn = {};

  const write = (name, text) => {
    if (part(name).textContent !== text) part(name).textContent = text;
  };
  const list = (name, tag, texts) => {
    if (drawn[name] === texts.join("\n")) return;
    drawn[name] = texts.join("\n");
    const items = texts.map((text) =>
      Object.assign(document.createElement(tag), { textContent: text }),
    );
    part(name).replaceChildren(...items);
  };
  const word = (code, label) => {
    if (box.dataset.word === code) return;
    box.dataset.word = code;
    write("word", label);
    write("alert", label);
    sound.changed(code);
  };

  const show = (answer, askedAt) => {
    // The list of feeds below the sign is the page's own; while somebody listens it can wait.
    const isOver = answer.word === "ENDED" && told && told.word !== "ENDED";
    if (isOver || (told && told.feed !== answer.feed && !sound.context)) window.location.reload();
    told = answer;
    silentAfter = 1000 * answer.silent_after_s;
    until = askedAt + silentAfter - 1000 * Math.max(0, answer.age_s || 0);
    word(answer.word, answer.label);
    write("force", answer.force ?? "—");
    write("limit", answer.limit || "");
    write("estimate", answer.estimate || "");
    write("peak", answer.peak || "");
    list("said", "p", answer.sentences);
    list("ahead", "li", answer.ahead);
    part("played").hidden = !answer.is_played;
    if (drawn.strip !== answer.strip) part("strip").innerHTML = answer.strip || "";
    drawn.strip = answer.strip;
  };

  // A force that grew too old is taken away before the next answer comes; a stop stays a stop.
  const look = () => {
    const now = performance.now();
    const isBroken = now - lastAnswer > silentAfter;
    sound.again();
    if (!isBroken && (!told || told.force === null || now <= until)) return;
    write("force", "—");
    write("estimate", "");
    list("ahead", "li", []);
    if (box.dataset.word !== "STOP")
      word(...(isBroken ? ["NO_LINK", "NO LINK"] : ["NO_SAMPLE", "NO SAMPLE"]));
    if (!isBroken) return;
    const stop = box.dataset.word === "STOP" ? ["It said stop when it was last heard of."] : [];
    const seconds = Math.round((now - lastAnswer) / 1000);
    list("said", "p", [
      ...stop,
      `No answer for ${seconds} s: the connection is broken, or you are signed out. ` +
        "This page does not know the force now: read the gauge.",
    ]);
  };

  const ask = async () => {
    if (isAsking) return;
    isAsking = true;
    const askedAt = performance.now();
    try {
      const answer = await fetch(box.dataset.now, {
        headers: { "X-Requested-With": "fetch" },
        signal: AbortSignal.timeout(GIVE_UP_MS),
        redirect: "error",
      });
      if (answer.ok) {
        const said = await answer.json();
        lastAnswer = performance.now();
        show(said, askedAt);
      }
    } catch {
      // the network is away: `look` says so when the last answer is too old
    }
    isAsking = false;
    timer = setTimeout(ask, document.hidden && !sound.context ? HIDDEN_MS : EVERY_MS);
  };

  // Sound only where a person asked for it: browsers allow it after a touch, and a crew may not want it.
  const sound = {
    context: null,
    last: 0,
    beep(hertz, seconds) {
      if (!this.context) return;
      const tone = this.context.createOscillator();
      tone.type = "square";
      tone.frequency.value = hertz;
      tone.connect(this.context.destination);
      tone.start();
      tone.stop(this.context.currentTime + seconds);
    },
    changed(code) {
      if (code === "STOP") navigator.vibrate?.([600, 200, 600]);
      if (code === "SLOW") this.beep(660, 0.25);
      if (code.startsWith("NO_")) this.beep(220, 0.6);
    },
    again() {
      const now = performance.now();
      if (box.dataset.word !== "STOP" || now - this.last < 900) return;
      this.last = now;
      this.beep(990, 0.4);
    },
  };
  part("sound").addEventListener("click", async (event) => {
    const on = !sound.context;
    if (on) sound.context = new AudioContext();
    else await sound.context.close();
    if (!on) sound.context = null;
    event.target.setAttribute("aria-pressed", String(on));
    event.target.textContent = on ? "Sound is on" : "Sound is off";
    sound.beep(660, 0.15);
  });
  part("full").addEventListener("click", () => box.requestFullscreen?.());
  const stayAwake = () => navigator.wakeLock?.request("screen").catch(() => {});
  document.addEventListener("visibilitychange", () => {
    look();
    if (document.hidden) return;
    stayAwake();
    clearTimeout(timer);
    ask();
  });
  stayAwake();
  setInterval(look, 250);
  ask();
})();
