// Closed block faces on the map: the first and the last house clicked are written into the form.
"use strict";
(() => {
  const box = document.getElementById("closure-map");
  if (!box || !window.L) return;
  const L = window.L,
    STREET = 15;
  const form = document.getElementById("closure-form"),
    says = document.getElementById("closure-says");
  const house = window.houseMap(box);
  const { map, text } = house;
  const points = L.layerGroup().addTo(map);
  house.outlines().then((hoods) => house.see(hoods));
  const field = (name) => form.elements[name];
  const pick = ({ street, number, address }) => {
    if (!street || number === null) {
      says.textContent = `${address || "This place"} has no street and number: choose another.`;
      return;
    }
    const begun = field("street").value === street && field("start").value && !field("end").value;
    if (begun) field("end").value = number;
    else {
      field("street").value = street;
      field("start").value = number;
      field("end").value = "";
    }
    says.textContent = begun
      ? `${street} from ${field("start").value} to ${number}. Choose the side and the days below.`
      : `From ${number} ${street}. Now click the last house of the block.`;
  };
  house.onRest(async (latest) => {
    points.clearLayers();
    if (map.getZoom() < STREET) return;
    const data = await house.ask(`${box.dataset.points}?${house.around()}&zoom=${map.getZoom()}`);
    if (!latest()) return;
    for (const f of data.features || []) {
      const [x, y] = f.geometry.coordinates;
      const dot = L.circleMarker([y, x], window.houseMap.looks[f.properties.category]);
      dot.bindTooltip(text(f.properties.address || f.properties.location_id));
      if (form) dot.on("click", () => pick(f.properties));
      points.addLayer(dot);
    }
    if (!data.features)
      says.textContent = "More lines are in view than can be drawn; zoom in further.";
  });
})();
