// The map of the record: neighborhoods shaded from afar, and of the lines squares with their
// counts, or single lines where few are in view. One scale for all, told beside the map.
"use strict";
(() => {
  const box = document.getElementById("map");
  if (!box || !window.L) return;
  const L = window.L,
    STREET = 15,
    SHADES = [0.08, 0.26, 0.44, 0.62, 0.82];
  const { looks, classesOf } = window.houseMap;
  const data = box.dataset,
    says = document.getElementById("map-says"),
    choice = document.getElementById("measure"),
    scale = document.getElementById("scale"),
    tools = document.getElementById("draw");
  const words = {
    LEAD: "lead",
    GRR: "galvanized requiring replacement",
    UNKNOWN: "unknown",
    NON_LEAD: "non-lead",
  };
  const house = window.houseMap(box, { boxZoom: !tools });
  const { map, text } = house;
  const lines = L.layerGroup().addTo(map);
  const measure = () => choice?.value || "to_replace";
  const isShare = () => /_(share|rate)$/.test(measure());
  const told = (n) => n.toLocaleString("en-US");
  const say = (sentence) => {
    if (says) says.textContent = sentence;
  };
  const figure = (p) => {
    if (measure() in p) return p[measure()] || 0;
    const known = p.LEAD + p.GRR,
      total = known + p.UNKNOWN + p.NON_LEAD;
    if (measure() === "total") return total;
    if (measure() === "to_replace") return known + p.UNKNOWN;
    return total ? (measure() === "lead_share" ? known : p.UNKNOWN) / total : 0;
  };
  const inWords = (p) =>
    Object.entries(words)
      .map(([code, word]) => `${told(p[code] || 0)} ${word}`)
      .join(", ");
  const ofArea = (p) => {
    const first = p.told?.[measure()];
    const label = choice?.selectedOptions[0].textContent.trim();
    return `${p.name}: ${first ? `${label} ${first}; ` : ""}${inWords(p)}.`;
  };
  let classes = [],
    areas = null,
    squares = [];
  const shade = (p) => {
    const value = figure(p);
    return SHADES[
      Math.max(
        0,
        classes.findLastIndex((one) => value >= one.from),
      )
    ];
  };
  const areaStyle = ({ properties }) => ({
    color: "#12343b",
    weight: 1.5,
    fillColor: "#0b6168",
    fillOpacity: data.lines ? 0 : map.getZoom() >= STREET ? 0.04 : shade(properties),
  });
  const write = () => {
    if (!scale) return;
    scale.hidden = Boolean(data.lines) && !squares.length;
    scale.replaceChildren(
      ...classes.map((one, number) => {
        const row = document.createElement("li"),
          key = document.createElement("span");
        key.className = `shade shade-${number + 1}`;
        row.append(key, one.label);
        return row;
      }),
    );
  };
  // Squares where the map draws them, else the neighborhoods: what is shaded makes the scale.
  const reshade = () => {
    const shaded = data.lines
      ? squares.map((one) => one.counts)
      : (areas?.getLayers() || []).map((layer) => layer.feature.properties);
    classes = classesOf(shaded.map(figure), isShare());
    for (const one of squares) one.setStyle({ fillOpacity: shade(one.counts) });
    if (areas) areas.setStyle(areaStyle);
    write();
  };
  const begin = () => {
    if (data.box) {
      const [west, south, east, north] = data.box.split(",").map(Number);
      const bounds = L.latLngBounds([south, west], [north, east]);
      map.fitBounds(bounds, { maxZoom: 18 });
    } else if (areas?.getLayers().length) house.see(areas);
    else map.setView([39, -96], 4);
  };
  house.ask(data.shapes).then((shapes) => {
    areas = L.geoJSON(shapes, {
      interactive: !data.lines,
      onEachFeature: (feature, layer) => {
        layer.bindTooltip(text(feature.properties.name), {
          permanent: shapes.features.length <= 12 && box.clientWidth > 560,
          direction: "center",
          className: "area-name",
        });
        layer.on("mouseover", () => say(ofArea(feature.properties)));
        layer.on("click", () => {
          if (map.getZoom() < STREET) map.fitBounds(layer.getBounds());
        });
      },
    }).addTo(map);
    reshade();
    begin();
  });
  const single = (f) => {
    const [x, y] = f.geometry.coordinates,
      p = f.properties;
    const popup = house.link(
      `/inventory/lines/${f.id}/`,
      p.address || p.location_id,
      words[p.category],
    );
    return L.circleMarker([y, x], looks[p.category]).bindPopup(popup);
  };
  const square = ([column, row, ...counts], level, categories) => {
    const size = 256 / 2 ** level,
      corner = (x, y) => map.options.crs.pointToLatLng(L.point(x * size, y * size), 0);
    const one = L.rectangle([corner(column, row), corner(column + 1, row + 1)], {
      color: "#12343b",
      weight: 0.5,
      fillColor: "#0b6168",
    });
    one.counts = Object.fromEntries(categories.map((code, at) => [code, counts[at]]));
    one.on("mouseover", () => say(`In this square: ${inWords(one.counts)}.`));
    one.on("click", () => {
      if (!pen || !pen.drawing()) map.fitBounds(one.getBounds());
    });
    return one;
  };
  const show = (answer) => {
    lines.clearLayers();
    squares = (answer.squares || []).map((row) => square(row, answer.level, answer.categories));
    for (const one of answer.features ? answer.features.map(single) : squares) lines.addLayer(one);
    reshade();
    const many = `${told(answer.total)} line${answer.total === 1 ? "" : "s"} in view`;
    say(answer.features ? `${many}.` : `${many}, counted by square; zoom in to see single ones.`);
    box.dataset.shown = String(answer.total);
  };
  house.onRest(async (latest) => {
    if (!data.lines && map.getZoom() < STREET) return lines.clearLayers();
    const place = `${house.around()}&zoom=${map.getZoom()}`;
    const answer = await house.ask(`${data.points}?${place}${data.lines ? `&${data.lines}` : ""}`);
    if (latest()) show(answer);
  });
  map.on("zoomend", () => areas?.setStyle(areaStyle));
  if (choice) choice.addEventListener("change", reshade);
  const shapeOf = (value) =>
    value.split(";").map((corner) => corner.split(",").map(Number).reverse());
  if (data.within)
    L.polygon(shapeOf(data.within), {
      color: "#9b1c31",
      weight: 2,
      fill: false,
      interactive: false,
    }).addTo(map);
  const pen =
    tools &&
    window.houseMap.draw(map, box, tools, say, (shape) => {
      const query = new URLSearchParams(data.lines);
      query.set("within", shape);
      window.location.search = query;
    });
})();
