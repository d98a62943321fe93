// The groups on the map: hues, patterns and signs, outlines with their letters.
(function (gz) {
  "use strict";

  // Eight hues whose lightness differs too, so that a grey print keeps them apart; found by search so that every two of
  // them stay apart for protan, deutan and tritan eyes. `ink` is the outline and rim, `text` a letter on the hue.
  gz.HUES = [
    { fill: "#224178", ink: "#224178", text: "#ffffff" },
    { fill: "#deb00f", ink: "#7a5c00", text: "#121a3a" },
    { fill: "#cf240f", ink: "#a51a08", text: "#ffffff" },
    { fill: "#cdee94", ink: "#4f7012", text: "#121a3a" },
    { fill: "#7373fd", ink: "#4141c4", text: "#121a3a" },
    { fill: "#6cdaf7", ink: "#0b6b86", text: "#121a3a" },
    { fill: "#f07891", ink: "#a52c4a", text: "#121a3a" },
    { fill: "#9e2739", ink: "#7c1a2a", text: "#ffffff" },
  ];

  // Second cue, for groups that share a hue: by cycle another hatching, another dash of the outline, another sign.
  gz.CYCLES = [
    { hatch: [], dash: "", sign: "disc" },
    { hatch: ["M0 8L8 0M-2 2L2 -2M6 10L10 6"], dash: "9 4", sign: "square" },
    { hatch: ["M0 0L8 8M-2 6L2 10M6 -2L10 2"], dash: "2 4", sign: "triangle" },
    { hatch: ["M0 4H8M4 0V8"], dash: "12 3 2 3", sign: "lozenge" },
  ];

  let ink, paper, rimDeep, rimPale;
  gz.onScheme(() => { ({ ink, paper, rimDeep, rimPale } = gz.COLOURS); });
  const cycle = row => gz.CYCLES[row.cycle % gz.CYCLES.length];
  const SVG = "http://www.w3.org/2000/svg";

  function shape(ctx, name, x, y, r) {
    ctx.beginPath();
    if (name === "disc") ctx.arc(x, y, r, 0, 2 * Math.PI);
    else if (name === "square") ctx.rect(x - r * 0.92, y - r * 0.92, r * 1.84, r * 1.84);
    else if (name === "triangle") {
      ctx.moveTo(x, y - r * 1.3);
      ctx.lineTo(x + r * 1.2, y + r * 0.85);
      ctx.lineTo(x - r * 1.2, y + r * 0.85);
      ctx.closePath();
    } else {
      ctx.moveTo(x, y - r * 1.55);
      ctx.lineTo(x + r * 1.55, y);
      ctx.lineTo(x, y + r * 1.55);
      ctx.lineTo(x - r * 1.55, y);
      ctx.closePath();
    }
  }

  function star(ctx, x, y, r) {
    ctx.beginPath();
    for (let k = 0; k < 10; k++) {
      const a = Math.PI * (k / 5 - 0.5), d = k % 2 ? r * 0.46 : r;
      ctx[k ? "lineTo" : "moveTo"](x + d * Math.cos(a), y + d * Math.sin(a));
    }
    ctx.closePath();
  }

  Object.assign(gz.signs, {
    member(ctx, row, x, y, r) {
      const hue = gz.HUES[row.hue];
      shape(ctx, cycle(row).sign, x, y, r);
      ctx.fillStyle = hue.fill;
      ctx.fill();
      ctx.lineWidth = Math.max(0.9, r * 0.24);
      ctx.strokeStyle = hue.text === "#ffffff" ? rimDeep : rimPale;
      ctx.stroke();
      if (r < 6.4) return;
      ctx.fillStyle = hue.text;
      ctx.font = "600 " + (r * (row.name.length > 1 ? 1.05 : 1.4)).toFixed(1) + "px sans-serif";
      ctx.textAlign = "center";
      ctx.textBaseline = "middle";
      ctx.fillText(row.name, x, y + r * 0.06);
    },

    // A witness: a star that is larger than every other sign, in its group's hue.
    witness(ctx, row, x, y, r) {
      const big = Math.max(7.5, r * 2.3);
      ctx.lineJoin = "round";
      star(ctx, x, y, big);
      ctx.lineWidth = 5;
      ctx.strokeStyle = paper;
      ctx.stroke();
      ctx.lineWidth = 2.6;
      ctx.strokeStyle = ink;
      ctx.stroke();
      ctx.fillStyle = row ? gz.HUES[row.hue].fill : paper;
      ctx.fill();
    },

    // No setting serves it: a heavy cross.
    without(ctx, x, y, r) {
      const a = Math.max(4.5, r * 1.25);
      ctx.lineCap = "round";
      for (const [width, colour] of [[Math.max(5, r * 1.5), paper], [Math.max(2.6, r * 0.7), ink]]) {
        ctx.beginPath();
        ctx.moveTo(x - a, y - a);
        ctx.lineTo(x + a, y + a);
        ctx.moveTo(x + a, y - a);
        ctx.lineTo(x - a, y + a);
        ctx.lineWidth = width;
        ctx.strokeStyle = colour;
        ctx.stroke();
      }
      ctx.lineCap = "butt";
    },
  });

  gz.groupOf = function (page, row) {
    const k = page.sites.columns.group[row];
    return k === gz.MISSING ? null : page.groups.settings[k];
  };

  // How the canvas of the sites looks in this view: a kind is group, witness or not, zone to confirm or not.
  gz.groupLook = function (page) {
    const { group, witness, confirm, group_dark: dark, group_excess: excess } = page.sites.columns;
    const rows = page.groups.settings, signs = gz.CYCLES.length + 2;
    const sign = row => witness[row] ? signs - 1 : group[row] === gz.MISSING ? signs - 2 : rows[group[row]].cycle % gz.CYCLES.length;
    return {
      kinds: Uint16Array.from(group, (k, row) => 4 * (k === gz.MISSING ? rows.length : k) + 2 * witness[row] + confirm[row]),
      shapes: Uint8Array.from(group, (_, row) => 2 * sign(row) + confirm[row]),
      levels: Uint8Array.from(group, (k, row) => witness[row] ? 2 : k === gz.MISSING ? 1 : 0),
      factors: gz.factors(page, dark, excess),
      reach: r => Math.max(gz.signs.reach * r, 11),
      paint(ctx, kind, x, y, r) {
        const member = rows[kind >> 2];
        if (kind & 1) gz.signs.ring(ctx, x, y, Math.max(r, kind & 2 ? 4.6 : 0));
        if (kind & 2) gz.signs.witness(ctx, member, x, y, r);
        else if (member) gz.signs.member(ctx, member, x, y, r);
        else gz.signs.without(ctx, x, y, r);
      },
    };
  };

  gz.svg = function (tag, className, attributes, text) {
    const element = document.createElementNS(SVG, tag);
    if (className) element.setAttribute("class", className);
    for (const [name, value] of Object.entries(attributes || {})) element.setAttribute(name, value);
    if (text !== undefined) element.textContent = text;
    return element;
  };

  // Hatchings for the outlines and their swatches, each once for the page.
  const made = new Set();
  gz.hatchings = function (rows) {
    const defs = gz.svg("defs"), holder = gz.svg("svg", "hatchings", { width: 0, height: 0, "aria-hidden": "true" });
    for (const row of rows) {
      const id = hatching(row);
      if (!id || made.has(id)) continue;
      made.add(id);
      const pattern = gz.svg("pattern", "", { id, width: 8, height: 8, patternUnits: "userSpaceOnUse" });
      pattern.append(gz.svg("rect", "", { width: 8, height: 8, fill: gz.HUES[row.hue].fill, "fill-opacity": 0.35 }));
      for (const d of cycle(row).hatch) pattern.append(gz.svg("path", "gz-ink-" + row.hue, { d, stroke: gz.HUES[row.hue].ink, "stroke-width": 1.4, fill: "none" }));
      defs.append(pattern);
    }
    holder.append(defs);
    document.body.append(holder);
  };

  const hatching = row => cycle(row).hatch.length ? "gz-hatch-" + row.hue + "-" + row.cycle % gz.CYCLES.length : "";

  // How a group is filled and outlined; the pair of fill and dash is a group's own.
  gz.groupStyle = function (row) {
    const id = hatching(row);
    return { fill: id ? "url(#" + id + ")" : gz.HUES[row.hue].fill, fillOpacity: id ? 0.6 : 0.36, stroke: gz.HUES[row.hue].ink,
      dash: cycle(row).dash };
  };

  // The group's mark beside its name in lists: a piece of its outline with the letter on it.
  gz.groupMark = function (row) {
    const style = gz.groupStyle(row), mark = gz.el("span", "group-mark");
    const picture = gz.svg("svg", "", { viewBox: "0 0 34 30", "aria-hidden": "true" });
    picture.append(gz.svg("rect", "", { x: 1.5, y: 1.5, width: 31, height: 27, rx: 4, fill: style.fill, "fill-opacity": Math.max(0.55, style.fillOpacity),
      stroke: style.stroke, "stroke-width": 2.4, "stroke-dasharray": style.dash || "none" }));
    mark.append(picture, gz.el("b", "theirs", row.name));
    return mark;
  };

  gz.groups = function (map, page) {
    gz.hatchings(page.groups.settings);
    // On paper, so many groups get the whole width of a second sheet.
    document.documentElement.classList.toggle("many-groups", page.groups.settings.length > 8);
    const pane = gz.pane(map, "groups"), renderer = L.svg({ pane, padding: 0.3 });
    const hulls = L.layerGroup();
    for (const row of page.groups.settings) {
      const style = gz.groupStyle(row);
      row.outline = row.rings.map(rings => rings.map(gz.line));
      hulls.addLayer(L.polygon(row.outline, { pane, renderer, interactive: false, className: "gz-group gz-ink-" + row.hue, smoothFactor: 0.7, weight: 2.2,
        color: style.stroke, opacity: 1, dashArray: style.dash || null, fillColor: style.fill, fillOpacity: style.fillOpacity }));
    }
    gz.offer(map, "hulls", "Outlines of the groups", "group", hulls, true, "ground that lies nearest to the group's own sites", "groups");
  };
})(geozone);
