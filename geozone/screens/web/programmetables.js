// What the settings, clocks and timetables do to switching programmes, as tables under them.
(function (gz) {
  "use strict";

  const n = value => value.toLocaleString("en");
  const many = (count, word) => n(count) + " " + word + (count === 1 ? "" : "s");
  const within = (page, text) => page.programmes.currency ? text + " " + page.programmes.currency : text;

  function pairs(rows) {
    const list = gz.el("dl");
    for (const [name, text] of rows) if (text) list.append(gz.el("dt", "", name), gz.el("dd", "theirs", text));
    return list;
  }

  function comparison(page) {
    const { comparison: rows, saved, without_load: without } = page.programmes, part = gz.el("div", "ways");
    part.append(gz.el("h3", "", "Ways to set the switches"));
    const money = rows.some(row => row.cost), table = gz.el("table", "figures"), head = gz.el("tr"), body = gz.el("tbody");
    const names = ["Keyed", "Unlit h", "Lit too long h", ...(rows.some(row => row.kwh) ? ["kWh"] : [])];
    names.forEach(function (name, k) {
      const cell = gz.el("th", k ? "num" : "", name);
      cell.scope = "col";
      head.append(cell);
    });
    table.append(gz.el("caption", "", "Hours of the year, all sites together" + (money ? "; below the energy its cost" + (page.programmes.currency ? " in " + page.programmes.currency : "") : "")), gz.el("thead"), body);
    table.querySelector("thead").append(head);
    for (const row of rows) {
      const line = gz.el("tr"), name = gz.el("th", "", row.words);
      name.scope = "row";
      line.dataset.way = row.way;
      line.append(name, gz.el("td", "num", row.dark_h), gz.el("td", "num", row.excess_h));
      if (row.kwh) {
        const energy = gz.el("td", "num", row.kwh);
        if (row.cost) energy.append(gz.el("small", "", row.cost));
        line.append(energy);
      }
      body.append(line);
    }
    part.append(table);
    if (page.programmes.dearer) part.append(gz.el("p", "small dearer", page.programmes.dearer));
    if (saved) {
      const more = [saved.kwh && saved.kwh + " kWh", saved.cost && within(page, saved.cost)].filter(Boolean);
      part.append(gz.el("p", "small theirs saved", "Against dusk to dawn everywhere the programmes save " + saved.site_h + " operating hours a year (" + saved.share + ")"
        + (more.length ? ", " + more.join(", ") : "") + (saved.cost_more ? ", but cost " + within(page, saved.cost_more) + " more" : "") + "."));
    }
    if (without) part.append(gz.el("p", "small", many(without, "site") + " without a known load: not in energy and cost."));
    return part;
  }

  function clocks(page) {
    const wrong = page.programmes.clocks.filter(row => !row.exact), part = gz.el("div", "clocks");
    if (!wrong.length) return part;
    part.append(gz.el("h3", "", "Clocks that cannot be keyed exactly"));
    for (const row of wrong) {
      part.append(pairs([["Legal clock", row.clock + ", " + many(row.sites, "site")], ["Nearest", row.keyed], ["Wrong", row.wrong],
        ["Costs", row.dark_h + " h unlit and " + row.excess_h + " h lit too long a year, all its sites together"]]));
    }
    return part;
  }

  function timetable(page) {
    const dated = page.programmes.timetable, part = gz.el("div", "dated");
    if (!dated) return part;
    part.append(gz.el("h3", "", "As a dated timetable"));
    if (dated.dark) part.append(gz.el("p", "", "New clock times each " + dated.period + ", to " + many(dated.rounding_min, "minute") + ": at worst "
      + dated.dark + " min unlit and " + dated.excess + " min lit too long at any one switching."));
    if (dated.not_kept) part.append(gz.el("p", "small unproved", "In " + many(dated.not_kept, "period") + " no clock times keep the minutes unlit within tolerance."));
    if (dated.left_out) part.append(gz.el("p", "small", "Without " + many(dated.left_out, "site") + " whose programmes have faulty nights."));
    return part;
  }

  const rest = page => [comparison(page), clocks(page), timetable(page)].filter(part => part.firstChild);

  gz.programmeTables = { rest, pairs, many, within, n };
})(geozone);
