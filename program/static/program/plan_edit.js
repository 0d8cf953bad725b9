// Choosing areas and lines on the map of one neighborhood. The ticks in the lists are the choice;
// lines that no list shows are kept here and sent with them.
"use strict";
(() => {
  const box = document.getElementById("edit-map");
  const form = document.getElementById("edit-form");
  if (!box || !form || !window.L) return;
  const L = window.L,
    STREET = 15;
  const says = document.getElementById("edit-says");
  const boxButton = document.getElementById("edit-box");
  const further = new Set();
  const canChange = !!document.getElementById("to");
  const ticks = (name) => Array.from(form.querySelectorAll(`input[name="${name}"]`));
  const tickOf = (name, value) => ticks(name).find((one) => one.value === String(value));
  const isOn = (id) => {
    const tick = tickOf("line", id);
    return tick ? tick.checked : further.has(id);
  };
  const setLine = (id, on) => {
    const tick = tickOf("line", id);
    if (tick) tick.checked = on;
    else if (on) further.add(id);
    else further.delete(id);
  };
  const map = L.map(box, {
    preferCanvas: true,
    attributionControl: false,
    zoomSnap: 0.5,
    maxZoom: 20,
    boxZoom: false,
  });
  L.control.scale({ imperial: true }).addTo(map);
  if (box.dataset.tiles) L.tileLayer(box.dataset.tiles, { maxZoom: 20 }).addTo(map);
  const text = (value) => {
    const p = document.createElement("span");
    p.textContent = value;
    return p;
  };
  const ask = (more) =>
    fetch(`${box.dataset.points}?hood=${box.dataset.hood}&${more}`).then((answer) => answer.json());
  const points = L.layerGroup().addTo(map);
  let areas = null;
  fetch(box.dataset.boundaries)
    .then((answer) => answer.json())
    .then((hoods) => {
      L.geoJSON(hoods, {
        interactive: false,
        style: { color: "#12343b", weight: 1, dashArray: "1 4", fill: false },
      }).addTo(map);
    });
  const areaStyle = (feature) => {
    const on = tickOf("area", feature.id)?.checked;
    return {
      color: on ? "#9b1c31" : "#12343b",
      weight: on ? 4 : 1.2,
      fillColor: "#0b6168",
      fillOpacity: on ? 0.35 : 0.12,
      dashArray: feature.properties.locked ? "6 4" : null,
    };
  };
  const mark = (dot) =>
    dot.setStyle(
      isOn(dot.place)
        ? { color: "#9b1c31", weight: 3, fillColor: "#9b1c31", fillOpacity: 0.9 }
        : {
            color: "#12343b",
            weight: 1.5,
            fillColor: "#fff",
            fillOpacity: dot.category === "UNKNOWN" ? 0 : 0.8,
            dashArray: dot.category === "UNKNOWN" ? "2 3" : null,
          },
    );
  const chosen = () => ticks("line").filter((one) => one.checked).length + further.size;
  const many = (number, word) => `${number} ${word}${number === 1 ? "" : "s"}`;
  const tell = (more) => {
    const count = ticks("area").filter((one) => one.checked).length;
    const told = `Chosen: ${many(count, "area")}, ${many(chosen(), "line")}.`;
    says.textContent = more ? `${more} ${told}` : told;
    if (areas) areas.setStyle(areaStyle);
    points.eachLayer(mark);
    form.elements.lines.value = Array.from(further).join("\n");
  };
  const take = (data, on) => {
    for (const feature of data.features) setLine(feature.id, on);
    tell(data.cut ? "There are more lines than can be taken at once." : "");
  };
  ask("areas=1").then((data) => {
    areas = L.geoJSON(data, {
      style: areaStyle,
      onEachFeature: (feature, layer) => {
        const p = feature.properties;
        layer.bindTooltip(text(p.key), {
          permanent: true,
          direction: "center",
          className: "plan-year",
        });
        layer.on("click", (event) => {
          if (corner || boxing) return;
          L.DomEvent.stop(event);
          const tick = tickOf("area", feature.id);
          if (tick) tick.checked = !tick.checked;
          tell(
            `${p.key}: ${p.name}, ${p.jobs} jobs, ${p.year ? `program year ${p.year}` : "no year yet"}.`,
          );
        });
      },
    }).addTo(map);
    if (data.features.length) map.fitBounds(areas.getBounds(), { padding: [12, 12] });
    else map.setView([39, -96], 4);
    tell("Choose areas here; zoom in to choose single lines.");
  });
  let waiting = null;
  map.on("moveend", () => {
    clearTimeout(waiting);
    waiting = setTimeout(street, 150);
  });
  const around = (b) => `box=${b.getWest()},${b.getSouth()},${b.getEast()},${b.getNorth()}`;
  async function street() {
    points.clearLayers();
    if (map.getZoom() < STREET) return;
    const data = await ask(around(map.getBounds()));
    points.clearLayers();
    data.features.forEach((f) => {
      const [x, y] = f.geometry.coordinates;
      const dot = L.circleMarker([y, x], { radius: 7 });
      dot.place = f.id;
      dot.category = f.properties.category;
      dot.bindTooltip(text(`${f.properties.address || f.id}, ${f.properties.area}`));
      if (canChange)
        dot.on("click", (event) => {
          if (boxing) return;
          L.DomEvent.stop(event);
          setLine(f.id, !isOn(f.id));
          tell();
        });
      mark(dot);
      points.addLayer(dot);
    });
    tell(data.cut ? "More lines are in view than can be drawn; zoom in further." : "");
  }
  // A box is two corners clicked one after the other, which a finger can do as well as a mouse.
  let boxing = false,
    corner = null,
    frame = null;
  const setBoxing = (on) => {
    boxing = on;
    corner = null;
    if (frame) {
      frame.remove();
      frame = null;
    }
    boxButton.setAttribute("aria-pressed", on);
    box.style.cursor = on ? "crosshair" : "";
    if (on) tell("Choose one corner of the box, then the opposite one.");
  };
  map.on("click", (event) => {
    if (!boxing) return;
    if (!corner) {
      corner = event.latlng;
      tell("Now the opposite corner.");
      return;
    }
    const bounds = L.latLngBounds(corner, event.latlng);
    setBoxing(false);
    ask(around(bounds)).then((data) => take(data, true));
  });
  map.on("mousemove", (event) => {
    if (!corner) return;
    if (frame) frame.remove();
    frame = L.rectangle(L.latLngBounds(corner, event.latlng), {
      color: "#9b1c31",
      weight: 1,
      fillOpacity: 0.08,
      interactive: false,
    }).addTo(map);
  });
  if (canChange) {
    document.querySelector(".edit-map-actions").hidden = false;
    boxButton.addEventListener("click", () => setBoxing(!boxing));
    document.getElementById("edit-clear").addEventListener("click", () => {
      further.clear();
      form.querySelectorAll('input[type="checkbox"]').forEach((one) => {
        one.checked = false;
      });
      setBoxing(false);
      tell();
    });
  }
  form.addEventListener("change", (event) => {
    if (event.target.classList.contains("whole-street"))
      event.target
        .closest(".street")
        .querySelectorAll('input[name="line"]')
        .forEach((one) => {
          one.checked = event.target.checked;
        });
    tell();
  });
})();
