// Switching programmes in the legend, in a site's panel and on paper: faulty nights first, then each programme with its
// events, hours and years at a glance, then what the settings, clocks and timetables do to them.
(function (gz) {
  "use strict";

  const { rest, pairs, many, within, n } = gz.programmeTables;

  function bullets(texts, className) {
    const list = gz.el("ul", className || "plain");
    for (const text of texts) list.append(gz.el("li", "theirs", text));
    return list;
  }

  function button(text, act, className) {
    const made = gz.el("button", className || "quiet", text);
    made.type = "button";
    made.addEventListener("click", () => act(made));
    return made;
  }

  // "1 January to 11 January, 19 September to 1 October"
  function spanWords(page, story) {
    const day = text => gz.words.night(text, page.year);
    const said = story.spans.map(([first, last]) => first === last ? day(first) : day(first) + " to " + day(last));
    return said.join(", ") + (story.more_spans ? " and " + many(story.more_spans, "more stretch").replace(/stretchs$/, "stretches") : "");
  }

  function hoursWords(story) {
    if (Number(story.hours.replace(/,/g, "")) === 0) return "";
    const one = (story.several ? "up to " : "") + story.hours + " hours a year at one site";
    const all = story.sites > 1 ? ", " + story.site_hours + " at all of them" : "";
    return (story.at_stake ? "At stake if the switch misses or repeats it: " : "Light not as meant: ") + one + all + ".";
  }

  // The lines to copy: shown on demand. Copying uses the browser's clipboard; where that refuses, the lines are selected.
  function lines(cure) {
    const box = gz.el("div", "cure-lines"), text = gz.el("pre", "theirs", cure.toml), said = gz.el("p", "small");
    text.tabIndex = 0;
    text.setAttribute("aria-label", "Lines for the job file");
    said.setAttribute("role", "status");
    const select = function () {
      const range = document.createRange();
      range.selectNodeContents(text);
      const chosen = window.getSelection();
      chosen.removeAllRanges();
      chosen.addRange(range);
      text.focus({ preventScroll: true });
      said.textContent = "The lines are selected: copy them with the keyboard or the menu.";
    };
    const copy = button("Copy the lines", function () {
      if (!navigator.clipboard || !window.isSecureContext) select();
      else navigator.clipboard.writeText(cure.toml).then(() => { said.textContent = "Copied."; }, select);
    });
    const body = gz.el("div");
    body.hidden = true;
    body.append(gz.el("p", "small", "Put these in the place of the programme in the job file."), text, copy, said);
    const show = button("Show the lines for the job file", function (made) {
      body.hidden = !body.hidden;
      made.textContent = body.hidden ? "Show the lines for the job file" : "Hide the lines";
      made.setAttribute("aria-expanded", String(!body.hidden));
    });
    show.setAttribute("aria-expanded", "false");
    box.append(show, body);
    return box;
  }

  function cureWords(page, cure) {
    const part = gz.el("div", "cure");
    part.append(gz.el("h3", "", "What to do"), bullets(cure.changes), gz.el("p", "small", "The programme then reads:"), bullets(cure.events, "events"));
    part.append(gz.el("p", cure.verified ? "small" : "small unproved", cure.verified
      ? "Run through the year at every switch: no faulty night is left. Hours a year not as meant, " + (cure.sites > 1 ? "its " + many(cure.sites, "site") + " together" : "at its one site")
        + ": " + cure.before_h + " before, " + cure.after_h + " after."
      : "Not a full correction. Left: " + cure.left.join("; ")));
    part.append(gz.el("p", "small price", cure.price));
    if (cure.clock_note) part.append(gz.el("p", "small unproved theirs", cure.clock_note));
    return part;
  }

  // Faulty nights of one programme, with its correction.
  function warning(map, page, place, paper) {
    const { foolish, cures, list } = page.programmes, box = gz.el("div", "foolish");
    for (const story of foolish.filter(one => one.programme === place)) {
      box.append(gz.el("p", "foolish-sentence", story.sentence));
      const why = gz.el("p", "small");
      why.append("Programme ", gz.el("b", "theirs", list[place].name), story.event ? ", “" : ": ");
      if (story.event) why.append(gz.el("span", "theirs", story.event), "”: ");
      why.append(story.why + ".");
      box.append(why);
      const when = spanWords(page, story);
      if (when) box.append(gz.el("p", "small", (story.at_stake ? "Days: " : "Nights: ") + when + "."));
      const hours = hoursWords(story);
      if (hours) box.append(gz.el("p", "small", hours));
      const at = gz.el("p", "small foolish-sites");
      at.append("At: ");
      story.site_ids.forEach(function (id) {
        const row = paper ? -1 : page.sites.id.indexOf(id);
        at.append(row < 0 ? gz.el("span", "theirs", id) : button(id, () => { gz.closeSide(); gz.choose(row); }, "theirs foolish-site"), " ");
      });
      if (story.sites > story.site_ids.length) at.append("and " + n(story.sites - story.site_ids.length) + " more");
      box.append(at);
    }
    const sum = page.programmes.foolish_sums[place];
    if (sum) box.append(gz.el("p", "small", sum));
    const cure = cures.find(one => one.programme === place);
    if (cure) {
      box.append(cureWords(page, cure));
      if (!paper) box.append(lines(cure));
      else box.append(gz.el("p", "small", "The lines for the job file: corrections.toml."));
    }
    return box;
  }

  function warnings(map, page, paper) {
    const { foolish, more_foolish: more } = page.programmes, part = gz.el("div", "warnings");
    if (!foolish.length) return part;
    for (const place of new Set(foolish.map(story => story.programme))) part.append(warning(map, page, place, paper));
    if (more) part.append(gz.el("p", "small", "and " + n(more) + " more in faulty.csv"));
    return part;
  }

  function figures(page, row) {
    const one = row.sites > 1 ? "each of " + many(row.sites, "site") + ", on average" : "its one site";
    const shifted = row.dark_h === "0.0" && row.excess_h === "0.0" ? "" : row.dark_h + " h unlit, " + row.excess_h + " h lit too long, all its sites together";
    return pairs([["Operating hours", row.lit_h + " h a year, " + one], ["In all", row.sites > 1 && row.site_h + " h a year"],
      ["Energy", row.kwh && row.kwh + " kWh a year" + (row.loaded < row.sites ? ", " + many(row.loaded, "site") + " with a known load" : "")],
      ["Cost", row.cost && within(page, row.cost) + " a year"], ["Off by", shifted], ["Areas", row.areas.join(", ")]]);
  }

  function eventsOf(row) {
    const part = gz.el("div");
    part.append(bullets(row.events, "events"));
    if (row.events.some(text => / min (after|before) (dusk|dawn)/.test(text))) {
      part.append(gz.el("p", "small", "As ordered; the offset to key, the setting's offset and this shift added, stands with each site and in sites.csv."));
    }
    if (row.events.some(text => / at \d\d:\d\d/.test(text))) part.append(gz.el("p", "small", "Its " + row.night_rule + "."));
    return part;
  }

  // Pictures of one programme; the one that opens is where a faulty night shows most, else the first.
  function picturesOf(page, place) {
    const mine = page.programmes.years.pictures.filter(picture => picture.programme === place);
    const wasted = picture => picture.foolish ? 1 + gz.yearOf(page, picture).wasteNights : 0;
    return { mine, first: mine.reduce((best, one) => best && wasted(best) >= wasted(one) ? best : one, null) };
  }

  const label = (picture, all) => picture.said + (all.some(other => other !== picture && other.said === picture.said) ? ", " + picture.clock_text : "")
    + " (" + many(picture.sites, "site") + ")";

  function underPicture(page, picture) {
    return gz.el("p", "small theirs year-rests", page.year + ", " + picture.said + ", clock " + picture.clock_text + "; dark: " + page.threshold.text + ", at the keyed position.");
  }

  function enlarge(page, picture) {
    const dialog = gz.el("dialog", "year-large"), name = page.programmes.list[picture.programme].name;
    const head = gz.el("header"), titles = gz.el("div");
    titles.append(gz.el("h2", "theirs", name), underPicture(page, picture));
    head.append(titles, button("Close", () => dialog.close(), "quiet"));
    const W = Math.max(320, Math.min(1240, Math.round(window.innerWidth * 0.94)) - 44), H = Math.max(220, Math.min(560, window.innerHeight - 300));
    dialog.append(head, gz.yearFigure(page, picture, W, H));
    dialog.setAttribute("aria-label", "A year at a glance: " + name);
    dialog.addEventListener("close", () => dialog.remove());
    dialog.addEventListener("keydown", event => event.stopPropagation());
    document.body.append(dialog);
    dialog.showModal();
  }

  function glance(page, place) {
    const { mine, first } = picturesOf(page, place), part = gz.el("div", "glance-part");
    if (!first) return part;
    part.append(gz.el("h3", "", "A year at a glance"));
    const holder = gz.el("div");
    let shown = first;
    const show = function (picture) {
      shown = picture;
      const W = Math.max(280, Math.min(640, Math.round(holder.clientWidth) || 340));
      holder.replaceChildren(gz.yearFigure(page, picture, W, Math.round(W * 0.68)), underPicture(page, picture));
    };
    if (mine.length > 1) {
      const choice = gz.el("label", "year-choice"), list = gz.el("select");
      mine.forEach(function (picture, k) {
        const option = gz.el("option", "", label(picture, mine));
        option.value = String(k);
        option.selected = picture === first;
        list.append(option);
      });
      list.addEventListener("change", () => show(mine[Number(list.value)]));
      choice.append(gz.el("span", "", "Keyed as"), list);
      part.append(choice);
    }
    part.append(holder, button("Enlarge the picture", () => enlarge(page, shown), "quiet enlarge"));
    part.open = () => { if (!holder.firstChild) show(shown); };
    return part;
  }

  function programme(page, row, place) {
    const part = gz.el("details", "programme"), summary = gz.el("summary"), foolish = page.programmes.foolish.some(story => story.programme === place);
    summary.append(gz.el("span", "theirs programme-name", row.name), gz.el("small", "", many(row.sites, "site") + " · " + row.lit_h + " h a year each"
      + (foolish ? " · faulty nights" : "")));
    const picture = glance(page, place);
    part.append(summary, eventsOf(row), figures(page, row), picture);
    part.addEventListener("toggle", () => { if (part.open && picture.open) picture.open(); });
    return part;
  }

  function section(map, page) {
    const part = gz.el("section", "programmes"), heading = gz.el("h2", "", "Programmes");
    heading.tabIndex = -1;
    gz.ofPlan(part).append(heading, warnings(map, page, false));
    page.programmes.list.forEach((row, place) => part.append(programme(page, row, place)));
    part.append(...rest(page));
    return part;
  }

  // For paper: nothing folded, every programme with one picture.
  function sheet(map, page) {
    const part = gz.el("section", "programme-sheet"), grid = gz.el("div", "sheet-grid"), foot = gz.el("div", "sheet-foot");
    part.append(gz.el("h2", "", "Programmes"), warnings(map, page, true));
    page.programmes.list.forEach(function (row, place) {
      const { mine, first } = picturesOf(page, place), box = gz.el("div", "sheet-programme");
      box.append(gz.el("h3", "theirs", row.name));
      const words = gz.el("div", "sheet-words");
      words.append(eventsOf(row), figures(page, row));
      box.append(words);
      if (first) {
        const words = underPicture(page, first);
        if (mine.length > 1) words.append(" " + many(mine.length - 1, "more picture") + " on the screen.");
        box.append(gz.yearPicture(page, first, 512, 196), gz.yearShades(page, first), words);
      }
      grid.append(box);
    });
    foot.append(...rest(page));
    part.append(grid, foot);
    return part;
  }

  // A site's programme and hours, at the head of its facts.
  function panelPart(page, row, panel) {
    const { programme: place, lit, kwh, foolish } = page.sites.columns, head = panel.querySelector("header"), facts = panel.querySelector(":scope > dl");
    const tenth = value => (value / 10).toLocaleString("en", { minimumFractionDigits: 1, maximumFractionDigits: 1 });
    const rows = [["Programme", page.programmes.list[place[row]].name], ["Operating hours", tenth(lit[row]) + " h a year"],
      ["Energy", kwh[row] === gz.MISSING ? "" : tenth(kwh[row]) + " kWh a year"]];
    const made = rows.flatMap(([name, text]) => text ? [gz.el("dt", "", name), gz.el("dd", "theirs", text)] : []);
    facts.prepend(...made);
    const events = gz.el("section", "key-events"), list = page.programmes.key_events[page.sites.columns.key_events[row]];
    const nearest = page.groups && !gz.groupOf(page, row) ? ", with the setting that comes nearest" : "";
    events.append(gz.el("h3", "second", "What to key " + page.programmes.keyed_at + nearest), bullets(list, "events"));
    if (list.some(text => / \(.*(setting|programme) [+-]/.test(text))) events.append(gz.el("p", "small", "Offset to key: the sum of the setting's offset and the programme's shift. Key it once."));
    const idle = ["dusk", "dawn"].filter(edge => !list.some(text => new RegExp("(at|after|before) " + edge).test(text)));
    if (idle.length) events.append(gz.el("p", "small", "Nothing is switched at " + idle.join(" or ") + " here: " + (idle.length > 1 ? "the setting's offsets have" : "the setting's offset for it has") + " no effect."));
    const plan = panel.querySelector(".group-part");
    if (plan) plan.append(events);
    else facts.before(events);
    if (foolish[row] !== gz.MISSING) head.after(gz.el("p", "foolish-here", page.programmes.foolish_here[foolish[row]]));
  }

  gz.programmes = function (map, page) {
    const legend = document.getElementById("legend"), part = section(map, page);
    // After the answer about the settings and what belongs to it.
    legend.querySelector(".on-the-map").before(part);
    if (page.programmes.foolish.length) {
      const alert = button("", function () {
        part.scrollIntoView({ block: "start" });
        part.querySelector("h2").focus({ preventScroll: true });
      }, "programme-alert");
      alert.append(gz.el("strong", "", page.programmes.foolish[0].sentence),
        gz.el("small", "", page.programmes.foolish.length + page.programmes.more_foolish > 1
          ? "and " + many(page.programmes.foolish.length + page.programmes.more_foolish - 1, "more finding") + ". See Programmes" : "See Programmes"));
      legend.prepend(gz.ofPlan(alert));
    }
    const wrong = page.programmes.clocks.filter(row => !row.exact);
    if (wrong.length) {
      // Before everything else: the settings are right for dusk and dawn only.
      const alert = button("", function () {
        part.scrollIntoView({ block: "start" });
        part.querySelector("h2").focus({ preventScroll: true });
      }, "programme-alert clock-alert");
      alert.append(gz.el("strong", "", "This keypad cannot show the legal time of " + many(wrong.reduce((sum, row) => sum + row.sites, 0), "site") + " all year: clock times come wrong there."),
        gz.el("small", "", "See Clocks that cannot be keyed exactly, under Programmes"));
      legend.prepend(gz.ofPlan(alert));
    }
    map.on("gz-filled", ({ row, panel }) => panelPart(page, row, panel));

    let paper = null;
    window.addEventListener("beforeprint", function () {
      if (paper) return;
      paper = sheet(map, page);
      document.body.append(paper);
    });
    window.addEventListener("afterprint", function () {
      if (paper) paper.remove();
      paper = null;
    });
  };
})(geozone);
