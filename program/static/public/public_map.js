// The public map: neighborhoods shaded from afar by what the table below it says, single lines
// when near. Needs no tiles.
"use strict";
(() => {
  const box = document.getElementById("map");
  const says = document.getElementById("map-says");
  if (!box || !window.L) return;
  const L = window.L,
    NEAR = 15,
    ROOM = 140, // pixels that an area's name and figure take; with less only the short figure
    FEW = 12, // areas whose words stand on the map; of more, one sees them under the pointer
    data = box.dataset;
  const named = (category) => box.getAttribute(`data-name-${category.toLowerCase()}`);
  const house = window.houseMap(box, { zoomControl: false, preferCanvas: false });
  const { map, text, link } = house;
  L.control.zoom({ zoomInTitle: data.in, zoomOutTitle: data.out }).addTo(map);
  const points = L.layerGroup().addTo(map);
  const views = document.querySelector(".map-views");
  const row = (id) => document.querySelector(`tr[data-area="${id}"]`);
  const view = () => views.querySelector("input:checked").value;
  const near = () => map.getZoom() >= NEAR;
  const words = (layer, few) => {
    const { name } = layer.feature.properties;
    const cell = row(layer.feature.id)?.querySelector(`[data-says=${view()}]`);
    const b = layer.getBounds();
    const wide =
      map.latLngToLayerPoint(b.getNorthEast()).x - map.latLngToLayerPoint(b.getSouthWest()).x;
    if (few && wide < ROOM) return text(cell?.dataset.short || "–");
    const said = text(name);
    if (cell) said.append(document.createElement("br"), cell.textContent.trim());
    return said;
  };
  const style = (feature) => {
    const shade = Number(row(feature.id)?.dataset[view()] || 0);
    const filled = shade && !near();
    return { fillColor: filled ? `url(#shade-${shade})` : "#fff", fillOpacity: filled ? 1 : 0 };
  };
  let areas = null;
  const shade = () => {
    areas?.setStyle(style);
    const few = areas?.getLayers().length <= FEW;
    areas?.eachLayer((layer) => layer.setTooltipContent(words(layer, few)));
    const wanted = near() ? "lines" : view() === "year" ? "year" : "share";
    for (const legend of document.querySelectorAll("[data-legend]"))
      legend.hidden = legend.dataset.legend !== wanted;
  };
  views.hidden = false;
  views.addEventListener("change", shade);
  house.ask(data.areas).then((found) => {
    areas = L.geoJSON(found, {
      style: { color: "#12343b", weight: 1.5 },
      onEachFeature: (_feature, layer) => {
        const permanent = found.features.length <= FEW;
        layer.bindTooltip("", { permanent, direction: "center", className: "area-name" });
        layer.on("click", () => {
          if (!near()) map.fitBounds(layer.getBounds());
        });
      },
    }).addTo(map);
    house.see(areas);
    shade();
  });
  const markOf = (feature) => {
    const [x, y] = feature.geometry.coordinates,
      p = feature.properties,
      page = data.line.replace("LOCATION", encodeURIComponent(p.location_id));
    const said = link(page, p.address || p.location_id, named(p.category));
    return L.circleMarker([y, x], window.houseMap.looks[p.category]).bindPopup(said);
  };
  house.onRest(async (latest) => {
    shade();
    if (!near()) {
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
