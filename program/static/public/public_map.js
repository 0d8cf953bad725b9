// The public map: boundaries from afar, single lines when near. Needs no tiles.
"use strict";
(() => {
  const box = document.getElementById("map");
  const says = document.getElementById("map-says");
  if (!box || !window.L) return;
  const L = window.L,
    NEAR = 15,
    data = box.dataset;
  const named = (category) => box.getAttribute(`data-name-${category.toLowerCase()}`);
  const house = window.houseMap(box, { zoomControl: false });
  const { map, text, link } = house;
  L.control.zoom({ zoomInTitle: data.in, zoomOutTitle: data.out }).addTo(map);
  const points = L.layerGroup().addTo(map);
  house.ask(data.areas).then((areas) => {
    const drawn = L.geoJSON(areas, {
      style: { color: "#12343b", weight: 1.5, fillColor: "#0b6168", fillOpacity: 0.08 },
      onEachFeature: (feature, layer) => {
        layer.bindTooltip(text(feature.properties.name), {
          permanent: areas.features.length <= 12,
          direction: "center",
          className: "area-name",
        });
        layer.on("click", () => {
          if (map.getZoom() < NEAR) map.fitBounds(layer.getBounds());
        });
      },
    }).addTo(map);
    house.see(drawn);
  });
  const markOf = (feature) => {
    const [x, y] = feature.geometry.coordinates,
      p = feature.properties,
      page = data.line.replace("LOCATION", encodeURIComponent(p.location_id));
    const words = link(page, p.address || p.location_id, named(p.category));
    return L.circleMarker([y, x], window.houseMap.looks[p.category]).bindPopup(words);
  };
  house.onRest(async (latest) => {
    if (map.getZoom() < NEAR) {
      points.clearLayers();
      says.textContent = data.zoom;
      return;
    }
    const found = await house.ask(`${data.points}?${house.around()}`);
    if (!latest()) return;
    points.clearLayers();
    for (const feature of found.features) points.addLayer(markOf(feature));
    says.textContent = found.cut ? data.cut : `${found.features.length} ${data.inView}`;
  });
})();
