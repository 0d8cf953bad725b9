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
  const house = window.houseMap(box, { boxZoom: false });
  const { map, text } = house;
  const further = new Set(form.elements.lines.value.split(/\s*\n\s*/).filter(Boolean));
  const tools = document.getElementById("draw");
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
  const ask = (more) => house.ask(`${box.dataset.points}?hood=${box.dataset.hood}&${more}`);
  const points = L.layerGroup().addTo(map);
  let areas = null,
    pen = null;
  house.outlines({ weight: 1, dashArray: "1 4" });
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
  const choose = (areaOf) => {
    const tick = tickOf("area", areaOf.id);
    if (tick) tick.checked = !tick.checked;
    const p = areaOf.properties;
    tell(
      `${p.key}: ${p.name}, ${p.jobs} jobs, ${p.year ? `program year ${p.year}` : "no year yet"}.`,
    );
  };
  ask("areas=1").then((data) => {
    areas = L.geoJSON(data, {
      style: areaStyle,
      onEachFeature: (feature, layer) => {
        layer.bindTooltip(text(feature.properties.key), {
          permanent: true,
          direction: "center",
          className: "plan-year",
        });
        layer.on("click", (event) => {
          if (pen?.drawing()) return;
          L.DomEvent.stop(event);
          choose(feature);
        });
      },
    }).addTo(map);
    house.see(areas, 12);
    tell("Choose areas here; zoom in to choose single lines.");
  });
  const dotOf = (f) => {
    const [x, y] = f.geometry.coordinates;
    const dot = L.circleMarker([y, x], { radius: 7 });
    dot.place = f.id;
    dot.category = f.properties.category;
    dot.bindTooltip(text(`${f.properties.address || f.id}, ${f.properties.area}`));
    if (tools)
      dot.on("click", (event) => {
        if (pen.drawing()) return;
        L.DomEvent.stop(event);
        setLine(f.id, !isOn(f.id));
        tell();
      });
    mark(dot);
    return dot;
  };
  house.onRest(async (latest) => {
    points.clearLayers();
    if (map.getZoom() < STREET) return;
    const data = await ask(house.around());
    if (!latest()) return;
    for (const f of data.features) points.addLayer(dotOf(f));
    tell(data.cut ? "More lines are in view than can be drawn; zoom in further." : "");
  });
  form.addEventListener("change", (event) => {
    if (event.target.classList.contains("whole-street"))
      for (const one of event.target.closest(".street").querySelectorAll('input[name="line"]'))
        one.checked = event.target.checked;
    tell();
  });
  if (!tools) return;
  pen = window.houseMap.draw(map, box, tools, tell, async (shape) => {
    const data = await ask(`within=${encodeURIComponent(shape)}`);
    if (data.cut) return tell("The shape holds more lines than can be taken at once: draw less.");
    for (const f of data.features) setLine(f.id, true);
    tell(`${many(data.features.length, "line")} inside the shape.`);
  });
  document.getElementById("draw-clear").addEventListener("click", () => {
    further.clear();
    for (const one of form.querySelectorAll('input[type="checkbox"]')) one.checked = false;
    tell();
  });
})();
