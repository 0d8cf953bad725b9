// The map of a package: a mark for each order, told by shape of line as well as tone. No tiles.
"use strict";
(() => {
  const box = document.getElementById("package-map");
  if (!box || !window.L) return;
  const L = window.L;
  const looks = {
    RELEASED: { color: "#0b6168", fillOpacity: 0.9, radius: 7, weight: 2 },
    RETURNED: { color: "#9b1c31", fillOpacity: 0.2, radius: 8, weight: 4 },
    HANDED_IN: { color: "#7a5200", fillOpacity: 0.2, radius: 7, weight: 2, dashArray: "3 3" },
    ACCEPTED: { color: "#22603f", fillOpacity: 0, radius: 5, weight: 1.5 },
    CALLED_OFF: { color: "#56636b", fillOpacity: 0, radius: 4, weight: 1, dashArray: "1 3" },
    PLANNED: { color: "#56636b", fillOpacity: 0.3, radius: 6, weight: 1.5 },
  };
  const { map, ask, link, see } = window.houseMap(box, { preferCanvas: false });
  map.setView([39, -96], 4);
  ask(box.dataset.orders).then((data) => {
    const placed = { ...data, features: data.features.filter((f) => f.geometry) };
    const marks = L.geoJSON(placed, {
      pointToLayer: (feature, place) => L.circleMarker(place, looks[feature.properties.state]),
      onEachFeature: (feature, layer) => {
        const { number, address } = feature.properties;
        layer.bindPopup(link(`/work/orders/${feature.id}/`, number, address));
      },
    }).addTo(map);
    see(marks, 20);
  });
})();
