// The plan's map: work areas shaded by program year, each with its year as a number. No tiles are
// needed; an address of tiles from the settings is laid under it where there is one.
"use strict";
(() => {
  const box = document.getElementById("plan-map");
  if (!box || !window.L) return;
  const L = window.L,
    STREET = 16;
  const says = document.getElementById("plan-map-says");
  const house = window.houseMap(box);
  const { map, text } = house;
  const points = L.layerGroup().addTo(map);
  const told = (p) =>
    `${p.key}: ${p.name}; ${p.jobs} jobs; ` +
    (p.year ? `program year ${p.year}, crew ${p.crew}` : "no year yet");
  Promise.all([house.outlines(), house.ask(box.dataset.shapes)]).then(([outlines, areas]) => {
    const years = areas.features.map((f) => f.properties.year).filter(Boolean);
    const first = Math.min(...years),
      span = Math.max(1, Math.max(...years) - first);
    const style = (f) => {
      const year = f.properties.year;
      return year
        ? {
            color: "#12343b",
            weight: 1,
            fillColor: "#0b6168",
            fillOpacity: 0.8 - (0.66 * (year - first)) / span,
          }
        : { color: "#9b1c31", weight: 1, dashArray: "3 3", fillOpacity: 0 };
    };
    const drawn = L.geoJSON(areas, {
      style,
      onEachFeature: (feature, layer) => {
        layer.bindTooltip(text(feature.properties.year || "–"), {
          permanent: true,
          direction: "center",
          className: "plan-year",
        });
        layer.on("mouseover", () => {
          says.textContent = told(feature.properties);
        });
        layer.on("click", () => {
          window.location.href = `${box.dataset.pages}${feature.id}/`;
        });
      },
    }).addTo(map);
    house.see(areas.features.length ? drawn : outlines);
  });
  // Single lines at street level, and only those in view.
  house.onRest(async (latest) => {
    points.clearLayers();
    if (map.getZoom() < STREET) return;
    const data = await house.ask(`${box.dataset.points}?${house.around()}`);
    if (!latest()) return;
    data.features.forEach((f) => {
      const [x, y] = f.geometry.coordinates,
        known = f.properties.category !== "UNKNOWN";
      points.addLayer(
        L.circleMarker([y, x], {
          radius: 6,
          color: "#12343b",
          weight: 2,
          fillColor: "#fff",
          fillOpacity: known ? 0.9 : 0,
          dashArray: known ? null : "2 3",
        }).bindTooltip(
          text(`${f.properties.address || f.id}: ${f.properties.word}, ${f.properties.area}`),
        ),
      );
    });
    says.textContent = data.cut
      ? "More lines are in view than can be drawn; zoom in further."
      : `${data.features.length} lines of the plan in view; those still unknown are dashed.`;
  });
})();
