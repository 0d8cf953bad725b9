// The map: neighborhoods below street level, single lines in view when zoomed in. Works without
// any tiles; an address of tiles from the settings is laid under it where there is one.
"use strict";
(() => {
  const box = document.getElementById("map");
  if (!box || !window.L) return;
  const L = window.L;
  const says = document.getElementById("map-says");
  const choice = document.getElementById("measure");
  const STREET = 15;
  const shapeOf = {
    LEAD: { color: "#3d2c4f", fillOpacity: 1, radius: 6, weight: 2 },
    GRR: { color: "#7d4a12", fillOpacity: 0.45, radius: 6, weight: 3 },
    UNKNOWN: { color: "#56636b", fillOpacity: 0, radius: 5, weight: 2, dashArray: "2 3" },
    NON_LEAD: { color: "#1f6b57", fillOpacity: 0.2, radius: 3, weight: 1 },
  };
  const words = {
    LEAD: "lead",
    GRR: "galvanized requiring replacement",
    UNKNOWN: "unknown",
    NON_LEAD: "non-lead",
  };
  const map = L.map(box, { preferCanvas: true, attributionControl: false, zoomSnap: 0.5 });
  L.control.scale({ imperial: true }).addTo(map);
  if (box.dataset.tiles) L.tileLayer(box.dataset.tiles, { maxZoom: 20 }).addTo(map);
  const text = (value) => {
    const p = document.createElement("span");
    p.textContent = value;
    return p;
  };
  let areas = null,
    most = 1;
  const points = L.layerGroup().addTo(map);
  const measure = () => (choice ? choice.value : "to_replace");
  const shade = (feature) => {
    const share = (feature.properties[measure()] || 0) / most;
    return {
      color: "#12343b",
      weight: 1.5,
      fillColor: "#0b6168",
      fillOpacity: map.getZoom() >= STREET ? 0.04 : 0.08 + 0.72 * share,
    };
  };
  const reshade = () => {
    if (!areas) return;
    most = 0;
    areas.eachLayer((layer) => {
      most = Math.max(most, layer.feature.properties[measure()] || 0);
    });
    most = most || 1;
    areas.setStyle(shade);
  };
  const say = (feature) => {
    const p = feature.properties,
      figure = p.told?.[measure()];
    const first = figure ? `${choice.selectedOptions[0].textContent.trim()} ${figure}; ` : "";
    const lines = (category) => (p[category] ?? 0).toLocaleString("en-US");
    return [
      `${p.name}: ${first}${lines("LEAD")} lead`,
      `${lines("GRR")} galvanized requiring replacement`,
      `${lines("UNKNOWN")} unknown`,
      `${lines("NON_LEAD")} non-lead`,
    ].join(", ");
  };
  fetch(box.dataset.shapes)
    .then((answer) => answer.json())
    .then((data) => {
      areas = L.geoJSON(data, {
        onEachFeature: (feature, layer) => {
          layer.bindTooltip(text(feature.properties.name), {
            permanent: data.features.length <= 12 && box.clientWidth > 560,
            direction: "center",
            className: "area-name",
          });
          layer.on("mouseover", () => {
            if (says) says.textContent = say(feature);
          });
          layer.on("click", () => {
            if (map.getZoom() < STREET) map.fitBounds(layer.getBounds());
          });
        },
      }).addTo(map);
      reshade();
      if (box.dataset.box) {
        const [west, south, east, north] = box.dataset.box.split(",").map(Number);
        map.fitBounds([
          [south, west],
          [north, east],
        ]);
      } else if (data.features.length) map.fitBounds(areas.getBounds(), { padding: [8, 8] });
      else map.setView([39, -96], 4);
    });
  if (choice) choice.addEventListener("change", reshade);
  let waiting = null;
  map.on("zoomend", reshade);
  map.on("moveend", () => {
    clearTimeout(waiting);
    waiting = setTimeout(street, 150);
  });
  async function street() {
    points.clearLayers();
    if (map.getZoom() < STREET) return;
    const b = map.getBounds();
    const answer = await fetch(
      `${box.dataset.points}?box=${b.getWest()},${b.getSouth()},${b.getEast()},${b.getNorth()}`,
    );
    if (!answer.ok) return;
    const data = await answer.json();
    points.clearLayers();
    data.features.forEach((f) => {
      const [x, y] = f.geometry.coordinates;
      const dot = L.circleMarker([y, x], shapeOf[f.properties.category]);
      const p = document.createElement("p");
      const a = document.createElement("a");
      a.href = `/inventory/lines/${f.id}/`;
      a.textContent = f.properties.address || f.properties.location_id;
      p.append(a, document.createElement("br"), text(words[f.properties.category]));
      dot.bindPopup(p);
      points.addLayer(dot);
    });
    if (says)
      says.textContent = data.cut
        ? "More lines are in view than can be drawn; zoom in further."
        : `${data.features.length} lines in view.`;
  }
})();
