// The legend of the fewest settings: the settings table, why fewer will not do, the curve, today's groups, the unserved.
(function (gz) {
  "use strict";

  const n = gz.count, many = gz.many;

  function heading(name, className) {
    const part = gz.only(gz.el("section", className || ""), "groups");
    part.append(gz.el("h2", "", name));
    return part;
  }

  function cell(tag, className, text) {
    const element = gz.el(tag, className, text);
    if (tag === "th") element.scope = "col";
    return element;
  }

  // "2.4 (R05-002, 22 December)"
  function worst(page, [minutes, site, night]) {
    if (!site) return minutes || "0.0";
    return minutes + " (" + site + ", " + gz.words.night(night, page.year) + ")";
  }

  // The clock to key; in small the zone that it is for, and when it is not that zone's time.
  function clockWords({ to_key: text, zone }) {
    const [key, wrong] = text.split("; not legal time: "), words = gz.el("span", "theirs to-key", key || zone);
    return key ? [words, " ", gz.el("small", "theirs zone", zone + (wrong ? "; not legal time " + wrong : ""))] : [words];
  }

  function settingsTable(map, page) {
    // Positions in tenths of a degree fit on one line; finer ones may break before N, S, E or W.
    const short = page.groups.settings.every(row => row.lat.length <= 8 && row.lon.length <= 8);
    const table = gz.el("table", short ? "settings short" : "settings"), head = gz.el("tr");
    table.append(gz.el("caption", "", many(page.groups.count, "setting") + ", group by group"), gz.el("thead"));
    for (const [name, className] of [["Group", ""], ["Latitude", ""], ["Longitude", ""], ["Dusk", "num"], ["Dawn", "num"], ["Sites", "num"]]) {
      head.append(cell("th", className, name));
    }
    table.querySelector("thead").append(head);
    for (const row of page.groups.settings) {
      const body = gz.el("tbody"), first = gz.el("tr"), second = gz.el("tr"), third = gz.el("tr");
      body.dataset.group = row.name;
      const name = gz.el("th", "group-name"), go = gz.el("button", "group-go");
      name.scope = "rowgroup";
      name.rowSpan = 3;
      go.type = "button";
      go.setAttribute("aria-label", "Show group " + row.name + " on the map");
      go.title = "Show group " + row.name + " on the map";
      go.append(gz.groupMark(row));
      go.addEventListener("click", function () {
        gz.closeSide();
        gz.clear();
        const still = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
        if (row.outline.length) map.fitBounds(L.polygon(row.outline).getBounds(), { padding: [30, 30], maxZoom: 14, animate: !still });
      });
      name.append(go);
      first.append(name, cell("td", "theirs", row.lat), cell("td", "theirs", row.lon), cell("td", "num", row.dusk),
        cell("td", "num", row.dawn), cell("td", "num", n(row.sites)));
      const clock = cell("td", "clock-cell"), drift = cell("td", "drift-cell");
      clock.colSpan = drift.colSpan = 5;
      clock.append("Clock: ", ...clockWords(row));
      if (row.within) clock.append(gz.el("small", "theirs", page.groups.within + ": " + row.within));
      drift.append("Worst: unlit ", gz.el("span", "theirs worst-dark", worst(page, row.dark)), ", lit too long ",
        gz.el("span", "theirs worst-excess", worst(page, row.excess)));
      second.append(clock);
      third.append(drift);
      body.append(first, second, third);
      table.append(body);
    }
    return table;
  }

  function signs(page) {
    const list = gz.el("ul", "sign-list");
    const add = function (paint, text) {
      const item = gz.el("li");
      item.append(gz.signs.picture(paint, 32), gz.el("span", "", text));
      list.append(item);
    };
    if (page.groups.settings.length) add((ctx, x, y) => gz.signs.member(ctx, page.groups.settings[0], x, y, 5.5), "a site, in the hue and shape of its group");
    if (page.groups.why.sites.length) add((ctx, x, y) => gz.signs.witness(ctx, page.groups.settings[0], x, y, 3.5), "a proof site: see “" + whyHeading(page) + "”");
    if (page.groups.without) add((ctx, x, y) => gz.signs.without(ctx, x, y, 4), "in no group");
    if (page.counts.confirm) add((ctx, x, y) => gz.signs.ring(ctx, x, y, 5.5), n(page.counts.confirm) + " to confirm the zone on site");
    return list;
  }

  function settings(map, page) {
    const groups = page.groups, part = heading("What to key in", "answer");
    if (groups.settings.length) {
      part.append(settingsTable(map, page));
      part.append(gz.el("p", "small", "Dusk and dawn: offset in minutes, minus is earlier. Clock: to key, and its legal zone. "
        + "Worst: the most minutes at any one switching of the year" + (page.programmes ? ", for lamps lit from dusk to dawn" : "")
        + ", with the site and the evening that the night begins; allowed are " + page.tolerance.dark + " min unlit and " + page.tolerance.excess + " min lit too long."));
    }
    part.append(signs(page));
    if (groups.keep_together) part.append(gz.el("p", "small theirs", "Sites with the same “" + groups.keep_together + "” share a setting: they are one unit."));
    if (groups.within) part.append(gz.el("p", "small theirs", "No group reaches over the limits of one “" + groups.within + "”."));
    if (!groups.offsets) part.append(gz.el("p", "small", "No offsets are keyed: the job rules them out."));
    if (groups.shared_spots) part.append(gz.el("p", "small", "Some sites of different groups stand at the very same position; no outline can part them."));
    return part;
  }

  const MOST_WITNESSES = 24;
  const whyHeading = page => page.groups.proved ? "Why not fewer" : "How many are needed at least";

  function why(page) {
    const groups = page.groups, { sentence, reason, sites, weights } = groups.why;
    const part = heading(whyHeading(page), "why");
    if (sentence) part.append(gz.el("p", "theirs why-sentence", sentence));
    if (reason) part.append(gz.el("p", "small theirs why-reason", reason));
    if (sites.length) {
      const list = gz.el("ul", "witnesses");
      sites.slice(0, MOST_WITNESSES).forEach(function (id, k) {
        const row = page.sites.id.indexOf(id), item = gz.el("li");
        if (row < 0) item.append(gz.el("span", "theirs", id));
        else {
          const go = gz.el("button", "witness"), member = gz.groupOf(page, row);
          go.type = "button";
          go.append(gz.signs.picture((ctx, x, y) => gz.signs.witness(ctx, member, x, y, 3.2), 24), gz.el("span", "theirs", id));
          const more = [member ? "group " + member.name : "no group", ...(weights.length ? ["weight " + weights[k]] : [])];
          go.append(gz.el("small", "", more.join(", ")));
          go.addEventListener("click", () => { gz.closeSide(); gz.choose(row); });
          item.append(go);
        }
        list.append(item);
      });
      part.append(list);
      if (sites.length > MOST_WITNESSES) {
        part.append(gz.el("p", "small", "The first " + MOST_WITNESSES + " of " + n(sites.length) + "; the map marks them all with a star."));
      }
    }
    for (const note of groups.notes) part.append(gz.el("p", "small theirs", note));
    return part;
  }

  function curve(page) {
    const part = heading("One setting fewer, one more", "curve-part");
    if (page.groups.curve_words) part.append(gz.el("p", "paying", page.groups.curve_words));
    if (page.groups.curve.some(point => point.dark !== null)) {
      part.append(gz.curvePlot(page));
      part.append(gz.el("p", "small", "Filled: proved to 0.1 minute. Open: the best found."
        + (page.groups.curve.some(point => point.plan) ? " Shaded: this plan." : page.groups.curve.some(point => point.k === page.groups.count)
          ? " Shaded: as many settings as the plan has." : "")
        + (page.groups.without ? " For all sites, those in no group too." : "")
        + (page.groups.curve.some(point => point.dark === null) ? " No point: no plan with so few." : "")));
    }
    part.append(gz.curveTable(page));
    return part;
  }

  function existing(page) {
    const { column, groups, needed, saved, proved, one_setting: good, rows, more, several_clocks: clocks, more_clocks: others, without } = page.groups.existing;
    const part = heading("The groups of today", "existing");
    if (needed) {
      part.append(gz.el("p", "theirs existing-sentence", column + ": " + (proved ? "" : "at most ") + many(needed, "setting") + " needed today, the plan "
        + (saved > 0 ? "saves " + (proved ? "" : "at most ") + n(saved) : saved < 0 ? "needs " + (proved ? "" : "at least ") + n(-saved) + " more"
          : "needs " + (proved ? "as many" : "no fewer")) + "."));
    }
    part.append(gz.el("p", "small", good === 0 ? "No group is served by a single setting." : groups === 1 ? "A single setting serves it."
      : "A single setting serves " + (good === groups ? "each" : n(good)) + " of " + n(groups) + " groups."));
    if (without) part.append(gz.el("p", "small", many(without, "site") + (without === 1 ? " names" : " name") + " no group of today: left out here, on both sides."));
    if (clocks.length) {
      part.append(gz.el("p", "small theirs several-clocks", "One setting for each clock that they keep: " + clocks.join(", ")
        + (others ? " and " + n(others) + " more" : "") + "."));
    }
    if (!rows.length) return part;
    part.append(gz.el("p", "small", "More than one setting on one and the same clock:"));
    const table = gz.el("table", "figures existing-table"), head = gz.el("tr");
    for (const [name, className] of [[column, "theirs"], ["Sites", "num"], ["Needs", "num"], ["At best, one setting is off by", ""]]) head.append(cell("th", className, name));
    table.append(gz.el("thead"), gz.el("tbody"));
    table.querySelector("thead").append(head);
    for (const row of rows) {
      const line = gz.el("tr"), name = cell("th", "theirs", row.name), reasons = gz.el("td", "reason");
      name.scope = "row";
      for (const { clock, sites, dark, excess } of row.beyond) {
        reasons.append(gz.el("p", "theirs", dark + " min unlit, " + excess + " min lit too long"
          + (row.clocks > 1 ? ", " + many(sites, "site") + " on " + clock.split(",")[0] : "")));
      }
      line.append(name, gz.el("td", "num", n(row.sites)), gz.el("td", "num", n(row.needed)), reasons);
      table.querySelector("tbody").append(line);
    }
    part.append(table);
    if (more) part.append(gz.el("p", "small", "and " + n(more) + " more, see existing.csv"));
    return part;
  }

  function unserved(page) {
    const { rows, more } = page.groups.unserved;
    const part = heading("No setting was found for them", "unserved");
    part.append(gz.el("p", "small", "These are in no group. With so many minutes allowed at one switching they would be served:"));
    const table = gz.el("table", "figures unserved-table"), head = gz.el("tr");
    for (const [name, className] of [[page.groups.keep_together || "Site", "theirs"], ["Sites", "num"], ["Unlit", "num"], ["Lit too long", "num"]]) head.append(cell("th", className, name));
    table.append(gz.el("thead"), gz.el("tbody"));
    table.querySelector("thead").append(head);
    for (const row of rows) {
      const line = gz.el("tr"), name = cell("th", "theirs", row.unit);
      name.scope = "row";
      line.append(name, gz.el("td", "num", n(row.sites)), gz.el("td", "num", row.dark), gz.el("td", "num", row.excess));
      table.querySelector("tbody").append(line);
    }
    part.append(table);
    if (more) part.append(gz.el("p", "small", "and " + n(more) + " more, see unserved.csv"));
    return part;
  }

  // The answer and its proof, first in the legend.
  gz.groupLegend = function (map, page, legend) {
    if (!page.groups) return;
    const lead = gz.only(gz.el("div", "lead"), "groups");
    gz.ofPlan(lead).append(settings(map, page), ...(page.groups.unserved.rows.length ? [unserved(page)] : []), ...(page.groups.count ? [why(page)] : []));
    legend.append(lead);
  };

  // What can be read after it: other numbers of settings, and the groups of today.
  gz.groupDetails = function (page, parent) {
    if (!page.groups) return;
    if (page.groups.curve.length) parent.append(gz.ofPlan(curve(page)));
    if (page.groups.existing) parent.append(gz.ofPlan(existing(page)));
  };

  // The part of a site's panel that says its group and what to key in.
  gz.groupPanel = function (page, row) {
    const part = gz.el("section", "group-part"), member = gz.groupOf(page, row);
    const { group_dark: dark, group_excess: excess, witness } = page.sites.columns;
    if (!member) {
      part.append(gz.el("p", "group-line without theirs", "In no group: " + page.groups.no_setting + (page.groups.unserved.proved ? " that the keypad holds keeps " : " was found that keeps ")
        + (page.groups.keep_together ? "its “" + page.groups.keep_together + "”" : "this site") + " within tolerance."));
      return part;
    }
    const line = gz.el("p", "group-line");
    line.append(gz.groupMark(member), gz.el("strong", "", "Group " + member.name));
    part.append(line);
    const list = gz.el("dl");
    for (const [name, text] of [["Key in", member.lat + ", " + member.lon], ["Clock", ""], ["At dusk", member.dusk_words], ["At dawn", member.dawn_words]]) {
      const value = gz.el("dd", text ? "theirs" : "");
      value.append(...(text ? [text] : clockWords(member)));
      list.append(gz.el("dt", "", name), value);
    }
    part.append(list);
    const tenth = value => gz.figure((value / 10).toFixed(1));
    part.append(gz.el("p", "group-worst", "With this setting at most " + tenth(dark[row]) + " min unlit and " + tenth(excess[row])
      + " min lit too long at any one switching" + (page.programmes ? ", lit from dusk to dawn." : ".")));
    if (witness[row]) part.append(gz.el("p", "small", "A proof site: it is part of the proof of how many settings are needed at least."));
    return part;
  };
})(geozone);
