// The lighting zones: their ground on the map, what to key in each, and the ground that is in none.
(function (gz) {
  "use strict";

  const n = gz.count, many = gz.many;

  gz.zoneOf = function (page, row) {
    const k = page.sites.columns.lighting_zone[row];
    return k === gz.MISSING ? null : page.zoning.rows[k];
  };

  // How the canvas of the sites looks in this view: a kind is zone and legal zone to confirm or not.
  gz.zoneLook = function (page) {
    const { lighting_zone: zone, confirm } = page.sites.columns, rows = page.zoning.rows;
    return {
      kinds: Uint16Array.from(zone, (k, row) => 2 * (k === gz.MISSING ? rows.length : k) + confirm[row]),
      shapes: Uint8Array.from(zone, (k, row) => 2 * (k === gz.MISSING ? gz.CYCLES.length : rows[k].cycle % gz.CYCLES.length) + confirm[row]),
      levels: Uint8Array.from(zone, k => k === gz.MISSING ? 1 : 0),
      factors: gz.factors(page),
      reach: r => Math.max(gz.signs.reach * r, 8),
      paint(ctx, kind, x, y, r) {
        const zone = rows[kind >> 1];
        if (kind & 1) gz.signs.ring(ctx, x, y, r);
        // Without its name: that stands on the ground.
        if (zone) gz.signs.member(ctx, { hue: zone.hue, cycle: zone.cycle, name: "" }, x, y, r);
        else gz.signs.without(ctx, x, y, r);
      },
    };
  };

  gz.zones = function (map, page) {
    gz.hatchings(page.zoning.rows);
    const pane = gz.pane(map, "groups"), renderer = L.svg({ pane, padding: 0.3 }), ground = L.layerGroup();
    for (const row of page.zoning.rows) {
      const style = gz.groupStyle(row);
      row.outline = row.rings.map(rings => rings.map(gz.line));
      ground.addLayer(L.polygon(row.outline, { pane, renderer, interactive: false, className: "gz-group gz-ink-" + row.hue, smoothFactor: 0.7, weight: 2.2,
        color: style.stroke, opacity: 1, dashArray: style.dash || null, fillColor: style.fill, fillOpacity: style.fillOpacity }));
    }
    if (page.zoning.rows.length) gz.offer(map, "ground", "Lighting zones", "group", ground, true, "ground on which one setting serves every point", "zones");
  };

  function clockWords({ to_key: text, zone }) {
    const [key, wrong] = text.split("; not legal time: "), words = gz.el("span", "theirs to-key", key || zone);
    return key ? [words, " ", gz.el("small", "theirs zone", zone + (wrong ? "; not legal time " + wrong : ""))] : [words];
  }

  function cell(tag, className, text) {
    const element = gz.el(tag, className, text);
    if (tag === "th") element.scope = "col";
    return element;
  }

  function zonesTable(map, page) {
    const rows = page.zoning.rows, short = rows.every(row => row.lat.length <= 8 && row.lon.length <= 8);
    const table = gz.el("table", short ? "settings short" : "settings"), head = gz.el("tr");
    table.append(gz.el("caption", "", many(rows.length, "zone") + ", one setting each"), gz.el("thead"));
    for (const [name, className] of [["Zone", ""], ["Latitude", ""], ["Longitude", ""], ["Dusk", "num"], ["Dawn", "num"]]) head.append(cell("th", className, name));
    table.querySelector("thead").append(head);
    for (const row of rows) {
      const body = gz.el("tbody"), first = gz.el("tr"), name = gz.el("th", "group-name"), go = gz.el("button", "group-go");
      body.dataset.zone = row.name;
      name.scope = "rowgroup";
      name.rowSpan = 4;
      go.type = "button";
      go.setAttribute("aria-label", "Show zone " + row.name + " on the map");
      go.title = "Show zone " + row.name + " on the map";
      go.append(gz.groupMark(row));
      go.addEventListener("click", function () {
        gz.closeSide();
        gz.clear();
        const still = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
        map.fitBounds(L.polygon(row.outline).getBounds(), { padding: [30, 30], maxZoom: 14, animate: !still });
      });
      name.append(go);
      first.append(name, cell("td", "theirs", row.lat), cell("td", "theirs", row.lon), cell("td", "num", row.dusk), cell("td", "num", row.dawn));
      body.append(first);
      const more = function (className, ...parts) {
        const line = gz.el("tr"), wide = cell("td", className);
        wide.colSpan = 4;
        wide.append(...parts);
        line.append(wide);
        body.append(line);
      };
      more("clock-cell", gz.el("span", "theirs", row.areas), gz.el("small", "", row.km2 + " km²" + (row.sites === null ? "" : ", " + many(row.sites, "site") + " of the list") + (row.certified ? "" : "; not certified")));
      more("clock-cell", "Clock: ", ...clockWords(row));
      const when = night => night ? " (" + gz.words.night(night, page.year) + ")" : "";
      more("drift-cell", "Worst anywhere: unlit ", gz.el("span", "worst-dark", row.dark[0] + when(row.dark[1])), ", lit too long ",
        gz.el("span", "worst-excess", row.excess[0] + when(row.excess[1])));
      table.append(body);
    }
    return table;
  }

  function unserved(page) {
    const { unserved: rows, more } = page.zoning, part = gz.el("section", "unserved"), divided = rows.some(row => row.parts);
    part.append(gz.el("h2", "", "In no zone"));
    part.append(gz.el("p", "small", "No one setting " + (rows.every(row => row.proved) && !more ? "" : "was found that ") + "serves every point of these. With so many minutes allowed at one switching one would" + (divided ? "; divided, each needs at least so many parts" : "") + ":"));
    const table = gz.el("table", "figures unserved-table"), head = gz.el("tr");
    for (const [name, className] of [["Outline", "theirs"], ["Unlit", "num"], ["Lit too long", "num"], ...(divided ? [["Parts", "num"]] : [])]) head.append(cell("th", className, name));
    table.append(gz.el("thead"), gz.el("tbody"));
    table.querySelector("thead").append(head);
    for (const row of rows) {
      const line = gz.el("tr"), name = cell("th", "theirs", row.area);
      name.scope = "row";
      line.append(name, gz.el("td", "num", row.dark), gz.el("td", "num", row.excess), ...(divided ? [gz.el("td", "num", row.parts || "–")] : []));
      table.querySelector("tbody").append(line);
    }
    part.append(table);
    if (more) part.append(gz.el("p", "small", "and " + n(more) + " more, see unserved_areas.csv"));
    return part;
  }

  gz.zoneLegend = function (map, page, legend) {
    if (!page.zoning) return;
    const lead = gz.only(gz.el("div", "lead"), "zones"), part = gz.el("section", "answer"), rows = page.zoning.rows;
    part.append(gz.el("h2", "", "What to key in, zone by zone"));
    if (rows.length) {
      part.append(zonesTable(map, page));
      part.append(gz.el("p", "small", "Dusk and dawn: offset in minutes, minus is earlier. Worst: the most minutes at any one switching of the year at any point of the zone, a lamp there or not, lit from dusk to dawn"
        + "; allowed are " + page.tolerance.dark + " min unlit and " + page.tolerance.excess + " min lit too long."));
    }
    const list = gz.el("ul", "sign-list"), add = function (paint, text) {
      const item = gz.el("li");
      item.append(gz.signs.picture(paint, 32), gz.el("span", "", text));
      list.append(item);
    };
    if (rows.length) add((ctx, x, y) => gz.signs.member(ctx, { hue: rows[0].hue, cycle: rows[0].cycle, name: "" }, x, y, 5.5), "a site, in the hue and shape of its zone");
    if (page.zoning.without) add((ctx, x, y) => gz.signs.without(ctx, x, y, 4), n(page.zoning.without) + " in no zone");
    if (page.counts.confirm) add((ctx, x, y) => gz.signs.ring(ctx, x, y, 5.5), n(page.counts.confirm) + " to confirm the legal zone on site");
    part.append(list);
    gz.ofPlan(lead).append(part, ...(page.zoning.unserved.length ? [unserved(page)] : []));
    legend.append(lead);
  };

  // The part of a site's panel that says its zone and what to key in there.
  gz.zonePanel = function (page, row) {
    const part = gz.el("section", "group-part zone-part"), zone = gz.zoneOf(page, row);
    if (!zone) {
      part.append(gz.el("p", "group-line without", "In no zone."));
      return part;
    }
    const line = gz.el("p", "group-line"), list = gz.el("dl");
    line.append(gz.groupMark(zone), gz.el("strong", "", "Zone " + zone.name));
    part.append(line);
    for (const [name, text] of [["Key in", zone.lat + ", " + zone.lon], ["Clock", ""], ["At dusk", zone.dusk_words], ["At dawn", zone.dawn_words]]) {
      const value = gz.el("dd", text ? "theirs" : "");
      value.append(...(text ? [text] : clockWords(zone)));
      list.append(gz.el("dt", "", name), value);
    }
    part.append(list, gz.el("p", "group-worst", "With this setting at most " + zone.dark[0] + " min unlit and " + zone.excess[0]
      + " min lit too long at any one switching, anywhere in the zone, lit from dusk to dawn."));
    return part;
  };
})(geozone);
