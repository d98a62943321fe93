// The curve: how small the worst minutes can be made with 1, 2, 3 ... settings, as a plot and as a table.
(function (gz) {
  "use strict";

  const W = 320, H = 196, LEFT = 30, RIGHT = 122, TOP = 12, BOTTOM = 36;
  const KINDS = [["dark", "unlit"], ["excess", "too long"]];

  // A step of 1, 2 or 5 times a power of ten that gives three to six ticks.
  function step(most) {
    const power = Math.pow(10, Math.floor(Math.log10(most / 4)));
    return [1, 2, 5, 10].map(n => n * power).find(n => most / n <= 6);
  }

  // Where a label may stand: pushed down until it is clear of those before it.
  function spread(labels, gap) {
    labels.sort((a, b) => a.y - b.y);
    for (let k = 1; k < labels.length; k++) labels[k].y = Math.max(labels[k].y, labels[k - 1].y + gap);
    const over = labels.length ? Math.max(0, labels[labels.length - 1].y - (H - BOTTOM)) : 0;
    for (const label of labels) label.y -= over;
    return labels;
  }

  gz.curvePlot = function (page) {
    const points = page.groups.curve, tolerance = { dark: Number(page.tolerance.dark), excess: Number(page.tolerance.excess) };
    const most = Math.max(tolerance.dark, tolerance.excess), last = points[points.length - 1].k, first = points[0].k;
    const values = points.flatMap(point => [point.dark, point.excess]).filter(value => value !== null);
    // One setting for half a continent is off by hours: such a point is drawn at the top, with its figure in the table.
    const top = Math.min(Math.max(most, ...values), 4 * most) * 1.08;
    const x = k => last === first ? (LEFT + W - RIGHT) / 2 : LEFT + 8 + (k - first) / (last - first) * (W - LEFT - RIGHT - 16);
    const y = minutes => TOP + (1 - Math.min(minutes, top) / top) * (H - TOP - BOTTOM);
    const plot = gz.svg("svg", "curve", { viewBox: "0 0 " + W + " " + H, role: "img",
      "aria-label": "Worst minutes at any one switching by number of settings; the table below has the figures." });
    const draw = (tag, className, attributes, text) => plot.append(gz.svg(tag, className, attributes, text));

    const plan = points.find(point => point.k === page.groups.count);
    if (plan) draw("rect", "curve-plan", { x: x(plan.k) - 11, y: TOP - 8, width: 22, height: H - TOP - BOTTOM + 27, rx: 4 });
    const by = step(top);
    for (let value = 0; value <= top; value += by) {
      draw("path", "curve-grid", { d: "M" + LEFT + " " + y(value) + "H" + (W - RIGHT) });
      draw("text", "curve-tick", { x: LEFT - 5, y: y(value) + 4, "text-anchor": "end" }, String(Number(value.toFixed(6))));
    }
    const every = Math.ceil(points.length / 12);
    for (const { k } of points) {
      if ((k - first) % every === 0) draw("text", "curve-tick", { x: x(k), y: H - BOTTOM + 15, "text-anchor": "middle" }, String(k));
    }
    draw("text", "curve-tick", { x: (LEFT + W - RIGHT) / 2, y: H - 5, "text-anchor": "middle" }, "number of settings");

    const labels = [];
    for (const [kind, word] of KINDS) {
      draw("path", "curve-limit curve-" + kind, { d: "M" + LEFT + " " + y(tolerance[kind]) + "H" + (W - RIGHT) });
      const same = tolerance.dark === tolerance.excess;
      if (!same || kind === "dark") labels.push({ y: y(tolerance[kind]), text: "limit " + (same ? page.tolerance.dark : word + " " + page.tolerance[kind]), kind });
    }
    for (const [kind, word] of KINDS) {
      const drawn = points.filter(point => point[kind] !== null);
      if (!drawn.length) continue;
      draw("path", "curve-line curve-" + kind, { d: drawn.map((point, n) => (n ? "L" : "M") + x(point.k).toFixed(1) + " " + y(point[kind]).toFixed(1)).join("") });
      for (const point of drawn) {
        const px = x(point.k), py = y(point[kind]), state = "curve-point curve-" + kind + (point.proved ? " proved" : " open");
        if (kind === "dark") draw("circle", state, { cx: px.toFixed(1), cy: py.toFixed(1), r: 4, "data-k": point.k });
        else draw("rect", state, { x: (px - 3.7).toFixed(1), y: (py - 3.7).toFixed(1), width: 7.4, height: 7.4, "data-k": point.k });
      }
      labels.push({ y: y(drawn[drawn.length - 1][kind]), text: word, kind });
    }
    for (const { y: at, text, kind } of spread(labels, 12)) {
      draw("text", "curve-name curve-" + kind, { x: W - RIGHT + 4, y: at + 4 }, text);
    }
    return plot;
  };

  gz.curveTable = function (page) {
    const table = gz.el("table", "figures curve-table"), head = gz.el("tr"), body = gz.el("tbody");
    for (const name of ["Settings", "Unlit min", "Lit too long min", "State"]) head.append(gz.el("th", "", name));
    table.append(gz.el("caption", "", "Worst minutes at any one switching"), gz.el("thead"), body);
    table.querySelector("thead").append(head);
    for (const point of page.groups.curve) {
      const row = gz.el("tr", point.k === page.groups.count ? "is-plan" : "");
      const number = gz.el("th", "", String(point.k));
      number.scope = "row";
      row.append(number);
      if (point.dark === null) {
        const limit = page.groups.within && "“" + page.groups.within + "”";
        const whom = !limit ? "each clock" : page.groups.clocks > 1 ? "each " + limit + " on each clock" : "each " + limit;
        const none = gz.el("td", "none theirs", "no plan: " + whom + " needs a setting of its own");
        none.colSpan = 3;
        row.append(none);
      } else {
        const over = kind => Math.round(point[kind] * 10) / 10 > Number(page.tolerance[kind]) ? "over" : "";
        row.append(gz.el("td", over("dark"), point.dark_text), gz.el("td", over("excess"), point.excess_text),
          gz.el("td", "state", (point.plan ? "this plan, " : "") + (point.proved ? "proved" : "best found")));
      }
      body.append(row);
    }
    return table;
  };
})(geozone);
