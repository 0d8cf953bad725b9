// The public map: boundaries from afar, single lines when near. Needs no tiles.
"use strict";
(() => {
  const box = document.getElementById("map");
  const says = document.getElementById("map-says");
  if (!box || !window.L) return;
  const L = window.L,
    NEAR = 15,
    data = box.dataset;
  const looks = {
    LEAD: { color: "#3d2c4f", fillOpacity: 1, radius: 7, weight: 2 },
    GRR: { color: "#7d4a12", fillOpacity: 0.45, radius: 7, weight: 3 },
    UNKNOWN: { color: "#56636b", fillOpacity: 0, radius: 6, weight: 2, dashArray: "2 3" },
    NON_LEAD: { color: "#1f6b57", fillOpacity: 0.2, radius: 4, weight: 1 },
  };
  const named = (category) => box.getAttribute(`data-name-${category.toLowerCase()}`);
  const map = L.map(box, {
    preferCanvas: true,
    attributionControl: false,
    zoomSnap: 0.5,
    zoomControl: false,
  });
  L.control.zoom({ zoomInTitle: data.in, zoomOutTitle: data.out }).addTo(map);
  L.control.scale({ imperial: true }).addTo(map);
  if (data.tiles) L.tileLayer(data.tiles, { maxZoom: 20 }).addTo(map);
  const points = L.layerGroup().addTo(map);
  fetch(data.areas)
    .then((answer) => answer.json())
    .then((areas) => {
      const drawn = L.geoJSON(areas, {
        style: { color: "#12343b", weight: 1.5, fillColor: "#0b6168", fillOpacity: 0.08 },
        onEachFeature: (feature, layer) => {
          const name = document.createElement("span");
          name.textContent = feature.properties.name;
          layer.bindTooltip(name, {
            permanent: areas.features.length <= 12,
            direction: "center",
            className: "area-name",
          });
          layer.on("click", () => {
            if (map.getZoom() < NEAR) map.fitBounds(layer.getBounds());
          });
        },
      }).addTo(map);
      if (areas.features.length) map.fitBounds(drawn.getBounds(), { padding: [8, 8] });
      else map.setView([39, -96], 4);
    });
  let waiting = null;
  map.on("moveend", () => {
    clearTimeout(waiting);
    waiting = setTimeout(look, 200);
  });
  async function look() {
    if (map.getZoom() < NEAR) {
      points.clearLayers();
      says.textContent = data.zoom;
      return;
    }
    const b = map.getBounds();
    const answer = await fetch(
      `${data.points}?box=${b.getWest()},${b.getSouth()},${b.getEast()},${b.getNorth()}`,
    );
    if (!answer.ok) return;
    const found = await answer.json();
    points.clearLayers();
    found.features.forEach((feature) => {
      const [x, y] = feature.geometry.coordinates,
        p = feature.properties;
      const words = document.createElement("p"),
        link = document.createElement("a");
      link.href = data.line.replace("LOCATION", encodeURIComponent(p.location_id));
      link.textContent = p.address || p.location_id;
      words.append(link, document.createElement("br"), named(p.category));
      points.addLayer(L.circleMarker([y, x], looks[p.category]).bindPopup(words));
    });
    says.textContent = found.cut ? data.cut : `${found.features.length} ${data.inView}`;
  }
})();
