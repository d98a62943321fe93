// The page of an audit: the work list in driving order, as a plan of the places and as a table that can be sorted.
(function (gz) {
  "use strict";

  const page = JSON.parse(document.getElementById("geozone-data").textContent);
  const SVG = "http://www.w3.org/2000/svg", AT_ONCE = 200, LABELLED = 80;
  const main = document.getElementById("main");

  // Every text reaches the page as text only.
  function el(name, text, className) {
    const node = document.createElement(name);
    if (text !== undefined) node.textContent = text;
    if (className) node.className = className;
    return node;
  }
  function svg(name, values, parent, text) {
    const node = document.createElementNS(SVG, name);
    for (const key of Object.keys(values)) node.setAttribute(key, values[key]);
    if (text !== undefined) node.textContent = text;
    if (parent) parent.append(node);
    return node;
  }
  const number = (value, digits) => value === null ? "" : value.toLocaleString("en", { minimumFractionDigits: digits, maximumFractionDigits: digits });

  document.getElementById("title").textContent = page.title;
  for (const text of page.figures) document.getElementById("figures").append(el("p", text));
  for (const text of page.caution) document.getElementById("caution").append(el("p", text));
  for (const text of page.foot) document.getElementById("foot").append(el("p", text));

  const rows = page.rows;
  let sort = { by: "drive", down: false }, shown = AT_ONCE, picked = -1, days = [], view = null;

  // A shape for each result: a grey print says the same as the colours.
  const shapes = {
    within: r => ["circle", { r: r * 0.8 }],
    beyond: r => ["path", { d: "M0 " + -1.3 * r + "L" + 1.3 * r + " 0L0 " + 1.3 * r + "L" + -1.3 * r + " 0Z" }],
    open: r => ["path", { d: "M0 " + -1.2 * r + "L" + 1.15 * r + " " + 0.85 * r + "L" + -1.15 * r + " " + 0.85 * r + "Z" }],
    "not known": r => ["path", { d: "M" + -r + " " + -r + "H" + r + "V" + r + "H" + -r + "ZM" + -r + " " + -r + "L" + r + " " + r + "M" + r + " " + -r + "L" + -r + " " + r }],
  };
  function sign(result, r, parent) {
    const [name, values] = shapes[result](r);
    return svg(name, Object.assign({ class: "sign " + result.replace(" ", "-") }, values), parent);
  }

  if (!rows.length) {
    main.append(el("p", "No site differs from the plan: there is nothing to visit."));
    return;
  }

  // What can be asked.
  const bar = el("div", undefined, "row");
  function asked(label, field, id) {
    const box = el("div"), head = el("label", label);
    field.id = id;
    head.htmlFor = id;
    box.append(head, field);
    bar.append(box);
    return field;
  }
  function choice(options) {
    const field = el("select");
    for (const [value, text] of options) {
      const one = el("option", text);
      one.value = value;
      field.append(one);
    }
    return field;
  }
  const find = asked("Find a site, place or slip", el("input"), "find");
  find.type = "search";
  find.autocomplete = "off";
  const day = asked("Day of work", choice([["", "all days"], ...Array.from(new Set(rows.map(row => row.day))).sort((a, b) => a - b).map(one => [String(one), "day " + one])]), "day");
  const HEADS = [["drive", "Day and stop"], ["rank", "Rank"], ["id", "Site"], ["result", "Result"], ["dark", "Unlit [h a year]"], ["waste", "Wasted [kWh a year]"],
    ["diagnosis", "What can have happened"], ["next", "Read next"], ["mend", "What to do"], ["key", "Key"]];
  const order = asked("Order", choice(HEADS.slice(0, 6)), "order");
  main.append(bar);

  // The plan of the places.
  const map = el("div", undefined, "map"), drawing = svg("svg", { role: "img", "aria-label": "Plan of the sites to visit, in driving order; the table below says the same" });
  map.append(drawing);
  const zoom = el("div", undefined, "zoom");
  function zooms(text, label, act) {
    const button = el("button", text);
    button.type = "button";
    button.setAttribute("aria-label", label);
    button.addEventListener("click", () => { act(); draw(); });
    zoom.append(button);
  }
  zooms("+", "Nearer", () => scaled(1 / 1.6));
  zooms("−", "Farther", () => scaled(1.6));
  zooms("All", "All: show every site of the list below", fit);
  map.append(zoom);
  const legend = el("ul", undefined, "legend");
  for (const [result, words] of page.results.filter(one => rows.some(row => row.result === one[0]))) {
    const item = el("li");
    const picture = svg("svg", { viewBox: "-11 -11 22 22", "aria-hidden": "true" });
    sign(result, 7, picture);
    item.append(picture, words);
    legend.append(item);
  }
  legend.append(el("li", "Numbers: day and stop, + so many more beside it. Dashed: driving order of a day, as the crow flies."));
  main.append(map, legend);

  const flat = Math.cos(page.middle[0] * Math.PI / 180);
  const place = (lon, lat) => [(lon - page.middle[1]) * flat, page.middle[0] - lat];
  const at = rows.map(row => place(row.lon, row.lat));
  const outlines = page.outlines.map(ring => ring.map(([lon, lat]) => place(lon, lat)));
  const SMALLEST = 0.004;

  function fit() {
    const mine = days.length ? days : rows.map((row, i) => i);
    const xs = mine.map(i => at[i][0]), ys = mine.map(i => at[i][1]);
    const low = [Math.min(...xs), Math.min(...ys)], high = [Math.max(...xs), Math.max(...ys)];
    view = { x: (low[0] + high[0]) / 2, y: (low[1] + high[1]) / 2, w: Math.max(high[0] - low[0], SMALLEST) * 1.15, h: Math.max(high[1] - low[1], SMALLEST) * 1.3 };
  }
  function scaled(by) {
    view.w *= by;
    view.h *= by;
  }

  function draw() {
    const width = drawing.clientWidth || 600, height = drawing.clientHeight || 400;
    const scale = Math.min(width / view.w, height / view.h);
    const x = p => width / 2 + (p[0] - view.x) * scale, y = p => height / 2 + (p[1] - view.y) * scale;
    const inside = p => x(p) > -20 && x(p) < width + 20 && y(p) > -20 && y(p) < height + 20;
    drawing.replaceChildren();
    drawing.setAttribute("viewBox", "0 0 " + width + " " + height);
    for (const ring of outlines) svg("path", { class: "area", d: "M" + ring.map(p => x(p).toFixed(1) + " " + y(p).toFixed(1)).join("L") + "Z" }, drawing);
    const byDay = new Map();
    for (const i of days) byDay.set(rows[i].day, [...(byDay.get(rows[i].day) || []), i]);
    for (const mine of byDay.values()) {
      mine.sort((a, b) => rows[a].stop - rows[b].stop);
      if (mine.length > 1) svg("path", { class: "way", d: "M" + mine.map(i => x(at[i]).toFixed(1) + " " + y(at[i]).toFixed(1)).join("L") }, drawing);
    }
    const near = days.filter(i => inside(at[i]));
    // Numbers of stops that would cover each other are counted at the first of them.
    const told = new Map(), heads = [];
    for (const i of near.length <= LABELLED ? near.slice().sort((a, b) => rows[a].day - rows[b].day || rows[a].stop - rows[b].stop) : []) {
      const head = heads.find(j => Math.abs(x(at[i]) - x(at[j])) < 34 && Math.abs(y(at[i]) - y(at[j])) < 15);
      if (head === undefined) heads.push(i);
      told.set(head === undefined ? i : head, head === undefined ? 0 : told.get(head) + 1);
    }
    // The worst come last, so that no other sign covers them.
    for (const i of near.slice().sort((a, b) => rows[b].rank - rows[a].rank)) {
      const group = svg("g", { transform: "translate(" + x(at[i]).toFixed(1) + " " + y(at[i]).toFixed(1) + ")" }, drawing);
      sign(rows[i].result, 7, group).addEventListener("click", () => pick(i, true));
      if (i === picked) svg("circle", { class: "picked", r: 14 }, group);
      if (told.has(i)) {
        svg("text", { class: "stop", x: 11, y: -6 }, group, (day.value ? "" : rows[i].day + ".") + rows[i].stop + (told.get(i) ? " +" + told.get(i) : ""));
      }
    }
    const km = page.km_a_degree / scale, length = [500, 200, 100, 50, 20, 10, 5, 2, 1, 0.5, 0.2, 0.1, 0.05].find(one => one / km < width / 4) || 0.02;
    const bar = svg("g", { class: "scale", transform: "translate(12 " + (height - 14) + ")" }, drawing);
    svg("line", { x1: 0, x2: (length / km).toFixed(1), y1: 0, y2: 0 }, bar);
    svg("text", { x: 0, y: -7 }, bar, length + " km, north is up");
  }

  // Drawn to another place with a finger or the mouse.
  let held = null;
  drawing.addEventListener("pointerdown", event => { held = { x: event.clientX, y: event.clientY, vx: view.x, vy: view.y }; });
  window.addEventListener("pointerup", () => { held = null; });
  window.addEventListener("pointermove", event => {
    if (!held) return;
    const scale = Math.min(drawing.clientWidth / view.w, drawing.clientHeight / view.h);
    view.x = held.vx - (event.clientX - held.x) / scale;
    view.y = held.vy - (event.clientY - held.y) / scale;
    draw();
  });
  window.addEventListener("resize", draw);

  // The table.
  const status = el("p");
  status.setAttribute("role", "status");
  const table = el("table"), head = el("tr"), body = el("tbody"), top = el("thead");
  table.setAttribute("aria-label", "Work list");
  for (const [by, text] of HEADS) {
    const cell = el("th");
    cell.scope = "col";
    if (["drive", "rank", "id", "result", "dark", "waste"].includes(by)) {
      const button = el("button", text);
      button.type = "button";
      button.addEventListener("click", () => {
        sort = { by, down: sort.by === by ? !sort.down : by === "dark" || by === "waste" };
        order.value = by;
        list();
      });
      cell.append(button);
      cell.dataset.by = by;
    } else cell.textContent = text;
    head.append(cell);
  }
  top.append(head);
  table.append(top, body);
  const more = el("button", "Show more");
  more.type = "button";
  more.addEventListener("click", () => { shown += AT_ONCE; list(); });
  main.append(status, table, more);

  const plain = text => text.normalize("NFKD").replace(/[\u0300-\u036f]/g, "").toLowerCase();
  const texts = rows.map(row => plain([row.id, row.name, row.area, row.diagnosis].join(" ")));
  const value = { drive: row => row.day * 1e6 + row.stop, rank: row => row.rank, id: row => row.id, result: row => row.result, dark: row => row.dark, waste: row => row.waste };

  function compared(i, j) {
    const a = value[sort.by](rows[i]), b = value[sort.by](rows[j]);
    // What is not known comes last either way.
    if (a === null || b === null) return (a === null ? 1 : 0) - (b === null ? 1 : 0) || i - j;
    const less = typeof a === "string" ? a.localeCompare(b, "en", { numeric: true }) : a - b;
    return (sort.down ? -less : less) || i - j;
  }

  function list() {
    const wanted = plain(find.value.trim());
    days = rows.map((row, i) => i).filter(i => (!day.value || String(rows[i].day) === day.value) && (!wanted || texts[i].includes(wanted)));
    days.sort(compared);
    status.textContent = days.length === rows.length ? rows.length.toLocaleString("en") + (rows.length === 1 ? " site to visit." : " sites to visit.")
      : days.length.toLocaleString("en") + " of " + rows.length.toLocaleString("en") + " sites to visit.";
    body.replaceChildren(...days.slice(0, shown).map(line));
    more.hidden = days.length <= shown;
    for (const cell of head.children) {
      if (cell.dataset.by) cell.setAttribute("aria-sort", cell.dataset.by === sort.by ? (sort.down ? "descending" : "ascending") : "none");
    }
    if (!view) fit();
    draw();
  }

  function line(i) {
    const row = rows[i], tr = el("tr");
    tr.dataset.row = String(i);
    if (i === picked) tr.className = "is-picked";
    function cell(place, text, className) {
      const td = el("td", text, className);
      td.dataset.head = HEADS[place][1];
      tr.append(td);
      return td;
    }
    cell(0, "day " + row.day + ", stop " + row.stop, "short");
    cell(1, String(row.rank), "number");
    const site = cell(2, undefined, "site"), show = el("button", row.id);
    show.type = "button";
    show.setAttribute("aria-label", "Show " + row.id + " on the plan");
    show.addEventListener("click", () => pick(i, false));
    const where = el("a", row.lat.toFixed(5) + ", " + row.lon.toFixed(5));
    where.href = "geo:" + row.lat.toFixed(6) + "," + row.lon.toFixed(6);
    const small = el("small");
    small.append(where);
    site.append(show, el("small", [row.name, row.area].filter(Boolean).join(" · ")), small);
    cell(3, page.results.find(one => one[0] === row.result)[1], "short");
    const most = row.most !== null && row.dark !== null && row.most > row.dark + 0.05 ? " (at most " + number(row.most, 1) + ")" : "";
    cell(4, row.dark === null ? "not known" : number(row.dark, 1) + most, "number");
    cell(5, row.waste === null ? "not known" : number(row.waste, 0), "number");
    cell(6, row.diagnosis, "words");
    cell(7, row.next, "words");
    cell(8, row.mend, "words");
    cell(9, row.key, "words");
    return tr;
  }

  function pick(i, scroll) {
    picked = i;
    if (!days.slice(0, shown).includes(i)) {
      shown = rows.length;
      list();
    }
    for (const tr of body.children) tr.classList.toggle("is-picked", tr.dataset.row === String(i));
    if (!scroll) {
      view.x = at[i][0];
      view.y = at[i][1];
    }
    draw();
    (scroll ? body.querySelector('[data-row="' + i + '"]') : map).scrollIntoView({ block: "nearest" });
  }

  find.addEventListener("input", () => { shown = AT_ONCE; list(); });
  day.addEventListener("change", () => { shown = AT_ONCE; view = null; list(); });
  order.addEventListener("change", () => { sort = { by: order.value, down: order.value === "dark" || order.value === "waste" }; list(); });
  list();
  gz.done = true;
})(geozone);
