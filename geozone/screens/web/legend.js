// The legend: the answer in counts, what can be switched on and off, the setting, and what the results rest on.
(function (gz) {
  "use strict";

  gz.el = function (tag, className, text) {
    const element = document.createElement(tag);
    if (className) element.className = className;
    if (text !== undefined) element.textContent = text;
    return element;
  };

  const SVG = "http://www.w3.org/2000/svg";
  // Lines that are drawn otherwise than by the one class of their name.
  const SWATCHES = {
    tolerance: ["gz-casing", "gz-tolerance"], boundary: ["gz-casing", "gz-boundary"],
  };

  function swatch(kind) {
    const picture = document.createElementNS(SVG, "svg");
    picture.setAttribute("viewBox", "0 0 44 20");
    picture.setAttribute("class", "swatch");
    picture.setAttribute("aria-hidden", "true");
    const draw = function (tag, className, attributes) {
      const shape = document.createElementNS(SVG, tag);
      shape.setAttribute("class", className);
      for (const [name, value] of Object.entries(attributes)) shape.setAttribute(name, value);
      picture.append(shape);
    };
    if (kind === "group") {
      for (const [x, hue] of [[3, 0], [23, 1]]) draw("rect", "gz-group gz-ink-" + hue, { x, y: 3, width: 18, height: 14, stroke: gz.HUES[hue].ink,
        "stroke-width": 2, fill: gz.HUES[hue].fill, "fill-opacity": 0.35 });
    } else if (kind === "area") draw("rect", "gz-area", { x: 3, y: 3, width: 38, height: 14 });
    else if (kind === "setting") {
      for (const [r, className] of [[8, "gz-setting-rim"], [8, "gz-setting"], [2, "gz-setting-dot"]]) {
        draw("circle", className, { cx: 22, cy: 10, r });
      }
    } else for (const className of SWATCHES[kind] || ["gz-" + kind]) draw("path", className, { d: "M1 10H43", fill: "none" });
    return picture;
  }

  function section(parent, heading, className) {
    const part = gz.el("section", className || "");
    part.append(gz.el("h2", "", heading));
    parent.append(part);
    return part;
  }

  function pairs(parent, rows) {
    const list = gz.el("dl");
    for (const [name, text] of rows) list.append(gz.el("dt", "", name), gz.el("dd", "theirs", text));
    parent.append(list);
  }

  function bullets(parent, texts) {
    const list = gz.el("ul", "plain");
    for (const text of texts) list.append(gz.el("li", "theirs", text));
    parent.append(list);
  }

  function counts(page) {
    const { counts: c, worst } = page.trial.now, list = gz.el("ul", "counts"), made = [list];
    function row(sign, n, text, more) {
      const item = gz.el("li");
      const words = gz.el("span", "count-words", text);
      if (more) words.append(gz.el("small", "", more));
      item.append(sign, gz.el("strong", "", gz.count(n)), words);
      list.append(item);
    }
    const sign = verdict => gz.signs.picture((ctx, x, y) => gz.signs.draw(ctx, verdict, false, x, y, 7), 32);
    row(sign("within"), c.within, "within tolerance", "this setting serves them on every night");
    const reasons = c.beyond ? gz.count(c.beyond_dark) + " for minutes unlit, " + gz.count(c.beyond_excess) + " for minutes lit too long" : "";
    row(sign("beyond"), c.beyond, "beyond tolerance", reasons);
    if (c.other_clock) row(sign("other clock"), c.other_clock, c.other_clock === 1 ? "keeps another clock" : "keep another clock",
      "not the clock of this setting");
    if (c.confirm) {
      row(gz.signs.picture((ctx, x, y) => gz.signs.ring(ctx, x, y, 5.5), 32), c.confirm, "confirm the zone on site",
        "near a border, off the coast, or data disagree");
    }
    if (c.waiting) list.append(gz.el("li", "waiting", gz.many(c.waiting, "site") + " more: when the setting is let go."));
    if ((worst.dark || worst.excess) && !c.waiting) {
      made.push(gz.el("p", "small", (page.setting.master ? "Worst of all sites: " : "Worst among sites on the setting's clock: ")
        + (worst.dark || "0.0") + " min unlit and " + (worst.excess || "0.0") + " min lit too long."));
    }
    return made;
  }

  // The counts anew, for what is tried.
  gz.refreshCounts = function (page) {
    const part = document.querySelector("#legend .count-part");
    part.replaceChildren(part.firstChild, ...counts(page));
  };

  function switches(parent, map) {
    const list = gz.el("ul", "switches");
    for (const part of gz.switchable) {
      const item = gz.el("li"), name = gz.el("label"), box = gz.el("input");
      box.type = "checkbox";
      box.checked = part.wanted;
      box.dataset.part = part.key;
      box.addEventListener("change", function () {
        part.wanted = box.checked;
        if (box.checked && !part.empty) part.layer.addTo(map);
        else part.layer.remove();
        gz.placeLabels();
      });
      const words = gz.el("span", "switch-words", part.name);
      if (part.note) words.append(gz.el("small", "", part.note));
      name.append(box, swatch(part.swatch), words);
      item.append(name);
      if (part.view) gz.only(item, part.view);
      gz.hideIn(item, part);
      list.append(item);
    }
    parent.append(list);
  }

  gz.legend = function (map, page) {
    const legend = document.getElementById("legend");
    const chooser = gz.chooser(map, page);
    if (chooser) legend.append(chooser);
    gz.groupLegend(map, page, legend);
    gz.zoneLegend(map, page, legend);
    gz.only(section(legend, page.counts.sites === 1 ? "The site" : gz.many(page.counts.sites, "site"), "answer count-part"), "shared").append(...counts(page));
    gz.whatIf(map, page, legend);
    gz.moment(map, page, legend);
    gz.placeLegend(map, legend);
    // What the answer rests on: on paper it goes on a second sheet, below the map, where groups fill the side.
    const more = gz.el("div", "more");
    legend.append(more);
    gz.groupDetails(page, more);
    const lines = section(more, "On the map", "on-the-map");
    switches(lines, map);
    lines.append(gz.el("p", "small grid-note", "Grid of latitude and longitude: one degree of longitude is four minutes of dusk and dawn."));
    const setting = gz.only(section(more, "The shared setting", ""), "shared");
    gz.ofPlan(setting);
    pairs(setting, page.setting.keyed);
    setting.append(gz.el("p", "small", page.setting.origin + " " + page.setting.clock));
    const far = gz.el("button", "quiet", "Show its position");
    far.type = "button";
    far.addEventListener("click", function () {
      const { lat_deg: lat, lon_deg: lon } = gz.settingNow(page);
      map.fitBounds(L.latLngBounds(gz.firstView(page)).extend([lat, lon]), { padding: [40, 40] });
    });
    setting.append(far);
    pairs(gz.ofPlan(section(more, "What the results rest on", "")), page.facts);
    if (page.cut_areas.length) bullets(section(more, "Areas with more than one legal zone", ""), page.cut_areas);
    if (page.notes.length) {
      const notes = gz.el("details");
      notes.append(gz.el("summary", "", "Notes of the run (" + page.notes.length + ")"));
      bullets(notes, page.notes);
      more.append(notes);
    }
    bullets(section(more, "Cautions", "cautions narrow"), page.cautions);
    section(more, "Versions", "narrow").append(gz.el("p", "small theirs", versions(page)));
  };

  function versions(page) {
    return page.versions.map(([name, version]) => name + " " + version).join(" · ")
      + " · drawn with Leaflet " + L.version + (page.outlines.world.length ? " · coast: Natural Earth 1:50 million, coarse" : "");
  }

  gz.foot = function (page) {
    const foot = document.getElementById("foot");
    foot.append(gz.el("p", "cautions", page.cautions.join(" ")), gz.el("p", "theirs", versions(page)));
  };
})(geozone);
