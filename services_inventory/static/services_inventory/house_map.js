// What every map of the house shares: the map itself, marks of lines, what is asked of the server
// for the part in view, and drawing around lines by mouse, finger or keyboard.
"use strict";
window.houseMap = (box, options = {}) => {
  const L = window.L;
  const map = L.map(box, {
    preferCanvas: true,
    attributionControl: false,
    zoomSnap: 0.5,
    maxZoom: 20,
    ...options,
  });
  L.control.scale({ imperial: true }).addTo(map);
  if (box.dataset.tiles) L.tileLayer(box.dataset.tiles, { maxZoom: 20 }).addTo(map);
  const ask = async (address) => {
    const answer = await fetch(address);
    if (!answer.ok) throw new Error(`${answer.status} of ${address}`);
    return answer.json();
  };
  const text = (value) => {
    const span = document.createElement("span");
    span.textContent = value;
    return span;
  };
  const around = (b = map.getBounds()) =>
    `box=${[b.getWest(), b.getSouth(), b.getEast(), b.getNorth()].map((n) => n.toFixed(6))}`;
  const see = (layer, padding = 8) => {
    const bounds = layer.getBounds();
    if (bounds.isValid()) map.fitBounds(bounds, { padding: [padding, padding], maxZoom: 18 });
    else map.setView([39, -96], 4);
  };
  // Calls back when the map rests; an answer that another move has overtaken is dropped.
  const onRest = (look) => {
    let waits = null,
      turn = 0;
    const now = () => {
      const mine = ++turn;
      look(() => mine === turn);
    };
    map.on("moveend", () => {
      clearTimeout(waits);
      waits = setTimeout(now, 120);
    });
    return now;
  };
  const outlines = async (style = {}) =>
    L.geoJSON(await ask(box.dataset.boundaries), {
      interactive: false,
      style: { color: "#12343b", weight: 1.2, fill: false, ...style },
    }).addTo(map);
  const link = (href, words, more) => {
    const p = document.createElement("p"),
      a = document.createElement("a");
    a.href = href;
    a.textContent = words;
    p.append(a, document.createElement("br"), more);
    return p;
  };
  // Above the areas; as SVG, which lets clicks through to what lies below.
  const closed = async () => {
    const faces = await ask(box.dataset.closures);
    map.createPane("closed").classList.add("closed-pane");
    L.geoJSON(faces, {
      renderer: L.svg({ pane: "closed" }),
      pane: "closed",
      style: { color: "#b3541e", weight: 7, opacity: 0.7, lineCap: "butt" },
    })
      .bindTooltip((layer) => text(layer.feature.properties.told))
      .addTo(map);
  };
  if (box.dataset.closures) closed();
  return { map, ask, text, link, around, see, onRest, outlines };
};
window.houseMap.looks = {
  LEAD: { color: "#3d2c4f", fillOpacity: 1, radius: 6, weight: 2 },
  GRR: { color: "#7d4a12", fillOpacity: 0.45, radius: 6, weight: 3 },
  UNKNOWN: { color: "#56636b", fillOpacity: 0, radius: 5, weight: 2, dashArray: "2 3" },
  NON_LEAD: { color: "#1f6b57", fillOpacity: 0.2, radius: 3, weight: 1 },
};
// Five classes at most of what a map is shaded by: fixed ones for shares, for counts the fifths of
// what is shaded, rounded down to 1, 2 or 5 times a power of ten.
window.houseMap.classesOf = (values, isShare) => {
  const round = (n) => {
    const power = 10 ** Math.floor(Math.log10(n));
    return power * [5, 2, 1].find((step) => n >= step * power);
  };
  const sorted = values.filter((one) => one > 0).sort((a, b) => a - b);
  const fifths = [0.2, 0.4, 0.6, 0.8].map((part) => sorted[Math.floor(part * sorted.length)]);
  const from = isShare
    ? [0, 0.05, 0.2, 0.5, 0.8]
    : [...new Set([0, ...fifths.filter((one) => one >= 1).map(round)])];
  const told = (n) => (isShare ? Math.round(100 * n) : n).toLocaleString("en-US");
  const unit = isShare ? " %" : "";
  return from.map((low, at) => {
    const next = from[at + 1];
    if (next === undefined) return { from: low, label: `${told(low)}${unit} or more` };
    return {
      from: low,
      label: isShare || next - low > 1 ? `${told(low)} to under ${told(next)}${unit}` : told(low),
    };
  });
};
// Drawing around lines. A corner is put where one clicks, or at the cross in the middle of the
// map, under which arrow keys or a finger move the map. `done` gets "lon,lat;lon,lat;…".
window.houseMap.draw = (map, box, tools, say, done) => {
  const L = window.L,
    MOST = 60;
  const button = (name) => tools.querySelector(`[data-draw="${name}"]`);
  const line = L.polyline([], {
    color: "#9b1c31",
    weight: 2,
    dashArray: "6 4",
    interactive: false,
  });
  const first = L.circleMarker([0, 0], { color: "#9b1c31", radius: 5, interactive: false });
  let corners = null;
  const show = () => {
    line.setLatLngs(corners || []);
    if (corners?.length) first.setLatLng(corners[0]).addTo(map);
    else first.remove();
    const count = corners?.length || 0;
    button("back").disabled = !count;
    button("close").disabled = count < 3;
    if (count) say(`${count} corner${count === 1 ? "" : "s"}.`);
  };
  const set = (on) => {
    corners = on ? [] : null;
    tools.querySelector("[data-drawing]").hidden = !on;
    button("start").setAttribute("aria-pressed", String(on));
    box.classList.toggle("drawing-on", on);
    if (on) line.addTo(map);
    else line.remove();
    show();
    if (!on) return;
    box.focus();
    say(
      "Click corner by corner; a double click closes the shape. By keyboard: arrows move the map " +
        "under the cross, Enter puts a corner, Backspace takes it back, Shift+Enter closes, " +
        "Escape ends.",
    );
  };
  const put = (place) => {
    if (corners.length >= MOST) return say(`At most ${MOST} corners: close the shape.`);
    corners.push(place);
    show();
  };
  const back = () => {
    corners.pop();
    show();
  };
  const close = () => {
    if (corners.length < 3) return say("A shape has three corners at least.");
    const shape = corners.map((c) => `${c.lng.toFixed(6)},${c.lat.toFixed(6)}`).join(";");
    set(false);
    done(shape);
  };
  const acts = { start: () => set(!corners), corner: () => put(map.getCenter()), back, close };
  for (const [name, act] of Object.entries(acts)) button(name).addEventListener("click", act);
  map.on("click", (event) => corners && put(event.latlng));
  map.doubleClickZoom.disable();
  // Both clicks of a double click have put a corner already.
  map.on("dblclick", (event) => {
    if (!corners) return map.setZoomAround(event.latlng, map.getZoom() + 1);
    corners.pop();
    close();
  });
  box.addEventListener("keydown", (event) => {
    if (!corners || event.target !== box) return;
    if (event.key === "Enter") event.shiftKey ? close() : put(map.getCenter());
    else if (event.key === "Backspace") back();
    else if (event.key === "Escape") {
      set(false);
      say("Nothing is drawn.");
    } else return;
    event.preventDefault();
    event.stopPropagation();
  });
  tools.hidden = false;
  return { drawing: () => corners !== null };
};
