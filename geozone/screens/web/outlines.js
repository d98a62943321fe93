// Land, the user's backdrop, areas, legal-zone boundaries, lines of equal drift and of equal dusk, and the shared setting.
(function (gz) {
  "use strict";

  // Bottom to top. A later answer takes a place of its own here.
  const PANES = ["world", "grid", "backdrop", "areas", "groups", "dusk", "drift", "boundaries", "tolerance", "sites", "setting", "chosen",
    "labels", "ring"];

  gz.pane = function (map, name) {
    const full = "gz-" + name;
    if (!map.getPane(full)) {
      map.createPane(full).style.zIndex = 300 + 10 * PANES.indexOf(name);
    }
    return full;
  };

  // What can be switched on and off: key, name in the legend, a swatch, the Leaflet layer, the view that it belongs to
  // ("" for every view). The legend reads this list.
  gz.switchable = [];

  function group(map, pane, canvas) {
    const name = gz.pane(map, pane);
    const renderer = canvas ? L.canvas({ pane: name, padding: 0.3 }) : L.svg({ pane: name, padding: 0.3 });
    const layer = L.layerGroup();
    layer.line = (points, className, options) => layer.addLayer(L.polyline(points, Object.assign(
      { pane: name, renderer, interactive: false, className, smoothFactor: 0.7 }, options)));
    layer.area = (rings, className) => layer.addLayer(L.polygon(rings,
      { pane: name, renderer, interactive: false, className, smoothFactor: 0.7 }));
    return layer;
  }

  gz.offer = function (map, key, name, swatch, layer, shown, note, view) {
    gz.switchable.push({ key, name, swatch, layer, note: note || "", view: view || "", wanted: shown });
    if (shown && (!view || view === gz.view)) layer.addTo(map);
  };
  const offer = gz.offer;

  // Lines of the plan that give way to others while something is tried: null brings the plan's back.
  function tryable(layer, draw) {
    const planned = layer.getLayers();
    let shown = planned.length, own = true;
    const lines = {
      tried: /** @type {any[] | null} */ (null),
      some: () => shown > 0,
      setTried(tried) {
        lines.tried = tried;
        if (tried === null && own) return;
        layer.clearLayers();
        own = tried === null;
        if (own) for (const one of planned) layer.addLayer(one);
        else draw(tried);
        shown = own ? planned.length : tried.length;
      },
    };
    return lines;
  }

  // Whether a part has anything to show: one that has not is neither on the map nor in the legend.
  gz.showPart = function (map, key, there) {
    const part = gz.switchable.find(one => one.key === key), box = document.querySelector('#legend .switches input[data-part="' + key + '"]');
    if (!part) return;
    part.empty = !there;
    if (box) gz.hideIn(box.closest("li"), part);
    if (there && part.wanted && (!part.view || part.view === gz.view)) part.layer.addTo(map);
    else part.layer.remove();
  };
  gz.hideIn = (item, part) => { item.hidden = Boolean(part.empty || (part.view && part.view !== gz.view)); };

  gz.outlines = function (map, page) {
    const outlines = page.outlines;

    const world = group(map, "world");
    for (const rings of outlines.world) world.area(rings.map(gz.line), "gz-land");
    if (outlines.world.length) world.addTo(map);
    const near = () => map.getContainer().classList.toggle("on-land", !outlines.world.length || map.getZoom() > 10.5);
    map.on("zoomend", near);
    near();

    if (outlines.backdrop.length) {
      const backdrop = group(map, "backdrop", true);
      for (const line of outlines.backdrop) backdrop.line(gz.line(line), "", { color: "#8f8a80", weight: 1, opacity: 0.75 });
      offer(map, "backdrop", "Backdrop", "backdrop", backdrop, true);
    }

    if (outlines.areas.length) {
      const areas = group(map, "areas");
      for (const area of outlines.areas) for (const rings of area.rings) areas.area(rings.map(gz.line), "gz-area");
      offer(map, "areas", outlines.areas.length === 1 ? "Area" : "Areas", "area", areas, true);
    }

    const drawn = kind => outlines.drift.filter(line => line.kind === kind);
    const dusk = group(map, "dusk");
    for (const { lines } of drawn("dusk")) for (const line of lines) dusk.line(gz.line(line), "gz-dusk");
    const drift = group(map, "drift");
    for (const { lines } of drawn("drift")) for (const line of lines) drift.line(gz.line(line), "gz-drift");
    const tolerance = group(map, "tolerance");
    const heavy = function (lines) {
      for (const line of lines) tolerance.line(line, "gz-casing");
      for (const line of lines) tolerance.line(line, "gz-tolerance");
    };
    for (const { lines } of drawn("tolerance")) heavy(lines.map(gz.line));
    gz.lineLayers = { tolerance: tryable(tolerance, heavy), drift: tryable(drift, () => {}) };
    offer(map, "tolerance", "Tolerance line", "tolerance", tolerance, true,
      "where the worst minutes of the year reach the tolerance, for switches on the setting's clock"
        + (page.programmes ? " and lamps lit from dusk to dawn" : ""), "shared");
    if (!drawn("tolerance").length) {
      gz.switchable[gz.switchable.length - 1].empty = true;
      tolerance.remove();
    }
    if (drawn("drift").length) offer(map, "drift", "Other lines of equal minutes off", "drift", drift, true, "", "shared");

    if (outlines.boundaries.length) {
      const boundaries = group(map, "boundaries");
      for (const { line, same_clock: same } of outlines.boundaries) {
        if (!same) boundaries.line(gz.line(line), "gz-casing");
        boundaries.line(gz.line(line), same ? "gz-boundary-same" : "gz-boundary", { smoothFactor: same ? 2 : 1 });
      }
      const clockChanges = outlines.boundaries.some(line => !line.same_clock);
      offer(map, "boundaries", "Legal-zone boundary", clockChanges ? "boundary" : "boundary-same", boundaries, true,
        outlines.boundaries.some(line => line.same_clock) ? "thin where both sides keep the same clock" : "");
    }
    if (drawn("dusk").length) {
      offer(map, "dusk", "Lines of equal dusk", "dusk", dusk, false, "on the night when dusk is furthest apart, in local legal time");
    }

    const { lat_deg: lat, lon_deg: lon } = page.setting;
    const setting = gz.settingLayer = L.layerGroup();
    for (const [radius, className] of /** @type {[number, string][]} */ ([[9, "gz-setting-rim"], [9, "gz-setting"], [2, "gz-setting-dot"]])) {
      setting.addLayer(L.circleMarker([lat, lon], { radius, className, interactive: false, pane: gz.pane(map, "setting"),
        renderer: gz.settingRenderer || (gz.settingRenderer = L.svg({ pane: gz.pane(map, "setting"), padding: 0.3 })) }));
    }
    offer(map, "setting", "Position keyed in the shared setting", "setting", setting, true, "", "shared");
  };
})(geozone);
