// The phone's page: find a site, read what to key and what the display must read, type what it reads instead.
(function (gz) {
  "use strict";

  const page = JSON.parse(document.getElementById("geozone-data").textContent), w = page.words;
  const main = document.getElementById("main");
  const MOST = 30;

  // Every text reaches the page as text only.
  function el(name, text, className) {
    const node = document.createElement(name);
    if (text !== undefined) node.textContent = text;
    if (className) node.className = className;
    return node;
  }
  const filled = (text, values) => text.replace(/\{(\w+)\}/g, (whole, name) => name in values ? String(values[name]) : whole);
  const slipText = slip => filled(w["slip_" + slip.key], slip.values);
  const groupHead = group => (group.name ? filled(w.card, { group: group.name }) : w.settings) + (group.programmes.length ? ": " + group.programmes.join(", ") : "");

  document.getElementById("title").textContent = page.title;
  const cautions = document.getElementById("cautions");
  for (const text of page.cautions) cautions.append(el("p", text));
  cautions.append(el("p", page.versions));

  const label = el("label", w.find);
  const find = el("input");
  find.type = "search";
  find.id = "find";
  find.autocomplete = "off";
  label.htmlFor = "find";
  const found = el("div");
  found.id = "found";
  found.setAttribute("role", "status");
  const card = el("article");
  card.id = "card";
  main.append(label, find, found, card);

  const entries = [];
  page.groups.forEach((group, place) => {
    entries.push({ text: groupHead(group), group: place, site: null });
    for (const site of group.sites) entries.push({ text: site.filter(Boolean).join(" · "), group: place, site });
  });
  for (const site of page.unserved) entries.push({ text: site.filter(Boolean).join(" · "), group: null, site });
  const plain = text => text.normalize("NFKD").replace(/[\u0300-\u036f]/g, "").toLowerCase();

  find.addEventListener("input", search);
  function search() {
    const wanted = plain(find.value.trim());
    found.replaceChildren();
    const hits = entries.filter(entry => wanted ? plain(entry.text).includes(wanted) : entry.site === null);
    for (const entry of hits.slice(0, MOST)) {
      const go = el("button", entry.site && entry.group !== null ? entry.text + " → " + groupHead(page.groups[entry.group]) : entry.text);
      go.type = "button";
      go.addEventListener("click", () => show(entry));
      found.append(go);
    }
    if (!hits.length) found.append(el("p", w.page_nothing));
    if (hits.length > MOST) found.append(el("p", filled(w.and_more, { n: hits.length - MOST })));
  }

  function show(entry) {
    card.replaceChildren();
    if (entry.group === null) {
      card.append(el("h2", entry.text), el("p", w.card_unserved_one));
      card.scrollIntoView();
      return;
    }
    const group = page.groups[entry.group];
    card.append(el("h2", (entry.site ? entry.site.filter(Boolean).join(" · ") + " – " : "") + groupHead(group)));
    if (group.master) card.append(el("p", group.master));
    card.append(el("h3", w.card_key));
    const list = el("dl");
    for (const row of group.key) {
      const value = el("dd", row.value);
      if (row.more) value.append(el("small", row.more));
      list.append(el("dt", row.name), value);
    }
    card.append(list, el("h3", w.card_check));
    const checks = el("ol");
    for (const text of group.checks) checks.append(el("li", text));
    card.append(checks, el("p", w.check_note));
    card.append(el("h3", w.card_readings));
    if (group.wrong_clock) card.append(el("p", group.wrong_clock));
    card.append(readingPart(group));
    card.scrollIntoView();
  }

  function field(id, text, type, value) {
    const label = el("label", text), input = el("input");
    label.htmlFor = input.id = id;
    input.type = type;
    if (value) input.value = value;
    return [label, input];
  }

  function box(id, text) {
    const label = el("label", undefined, "box"), input = el("input");
    input.type = "checkbox";
    input.id = id;
    label.append(input, el("span", text));
    return [input, label];
  }

  function readingPart(group) {
    const part = el("div");
    const now = new Date(), inYear = now.getFullYear() === page.year;
    const iso = inYear ? now.getFullYear() + "-" + String(now.getMonth() + 1).padStart(2, "0") + "-" + String(now.getDate()).padStart(2, "0") : page.year + "-01-01";
    const [dayLabel, day] = field("day", w.readings_day, "date", iso);
    day.min = page.year + "-01-01";
    day.max = page.year + "-12-31";
    const right = el("div");
    right.id = "right";
    const [duskLabel, dusk] = field("dusk", w.readings_dusk, "time");
    const [dawnLabel, dawn] = field("dawn", w.readings_dawn, "time");
    const pair = el("div", undefined, "pair"), one = el("div"), two = el("div");
    const [noDusk, noDuskBox] = box("no-dusk", w.no_time), [noDawn, noDawnBox] = box("no-dawn", w.no_time);
    one.append(duskLabel, dusk, noDuskBox);
    two.append(dawnLabel, dawn, noDawnBox);
    pair.append(one, two);
    const answer = el("div", undefined, "answer");
    answer.id = "answer";
    answer.setAttribute("role", "status");
    answer.hidden = true;
    part.append(dayLabel, day, right, el("h3", w.type_reading), pair, answer);

    const chosen = () => { const [y, m, d] = day.value.split("-").map(Number); return y === page.year ? gz.dayOf(page.year, y, m - 1, d) : null; };
    function times() {
      right.replaceChildren();
      const d = chosen();
      if (d === null) {
        right.append(el("p", filled(w.page_outside, { year: page.year })));
        return;
      }
      const modes = page.display.offsets === null && (group.right.dusk || group.right.dawn) ? [true, false] : [page.display.offsets !== false];
      const edges = page.display.dawn === null ? [["dusk", w.readings_dusk], ["dawn", w.readings_dawn], ["coming", w.readings_coming]]
        : [["dusk", w.readings_dusk], [page.display.dawn === "coming" ? "coming" : "dawn", w.readings_dawn]];
      for (const mode of modes) {
        const line = el("div", undefined, "pair");
        for (const [edge, name] of edges) {
          const value = el("p", gz.clockText(page, gz.reading(page, group.right, d, edge, mode)), "reading");
          value.append(el("small", name + (modes.length > 1 ? " " + (mode ? w.readings_with : w.readings_without) : "")));
          line.append(value);
        }
        right.append(line);
      }
    }
    const minutes = text => { const parts = /^(\d\d):(\d\d)/.exec(text); return parts ? Number(parts[1]) * 60 + Number(parts[2]) : undefined; };
    function judge() {
      const d = chosen(), shown = { dusk: noDusk.checked ? NaN : minutes(dusk.value), dawn: noDawn.checked ? NaN : minutes(dawn.value) };
      answer.hidden = d === null || (shown.dusk === undefined && shown.dawn === undefined);
      answer.replaceChildren();
      if (answer.hidden) return;
      const found = gz.explain(page, group, d, shown);
      if (Number.isNaN(shown.dusk) || Number.isNaN(shown.dawn)) answer.append(el("p", w.else_none));
      answer.append(el("p", found.right ? w.page_answer_right : found.slips.length ? w.page_answer_slips : w.page_answer_none));
      const list = el("ul");
      for (const likelihood of ["usual", "now_and_then", "rare"]) {
        for (const slip of found.slips.filter(one => one.class === likelihood)) {
          const item = el("li", slipText(slip));
          item.append(el("small", w[likelihood] + " · " + w.else_next + ": " + w["about_" + slip.about] + " · " + w.else_mend + ": " + w["mend_" + slip.about] + (slip.lamps ? " · " + w.lamps_right : "")));
          item.dataset.slip = slip.key;
          list.append(item);
        }
      }
      answer.append(list);
      if (!found.right) answer.append(el("p", w.mend));
    }
    day.addEventListener("change", () => { times(); judge(); });
    for (const [time, none] of [[dusk, noDusk], [dawn, noDawn]]) {
      time.addEventListener("input", () => { none.checked = false; judge(); });
      none.addEventListener("change", () => { if (none.checked) time.value = ""; judge(); });
    }
    times();
    return part;
  }

  search();
})(geozone);
