// The controls of one night: a strip of the year to choose it from, the time, play, and what switches the lamps.
(function (gz) {
  "use strict";

  const WAYS = { shared: "the shared setting", groups: "its group's setting", sun: "the sun at each site" };
  const KINDS = [[gz.AT.UNLIT, "unlit, light needed"], [gz.AT.WASTE, "lit without need"], [gz.AT.LIT, "lit as meant"], [gz.AT.OFF, "off as meant"],
    [gz.AT.NONE, "in no group"]];
  // Each stretch in which something changes is played so long; a minute on either side goes with it.
  const STRETCH_S = 8, BESIDE_MIN = 6, JUMP_S = 0.8;

  // The night that the page begins with: today's, in the plan's year.
  gz.tonight = function (page) {
    const today = new Date(), day = Math.round((Date.UTC(page.year, today.getMonth(), today.getDate()) - Date.UTC(page.year, 0, 1)) / 86400000);
    return Math.max(0, Math.min(page.sky.nights - 1, day));
  };

  // "18:42 on 21 June", on the shared setting's clock.
  gz.clockTime = function (page, utc) {
    const shown = Math.floor(utc + gz.clockAt(page.sky.clock, utc) + 0.5), day = Math.floor(shown / 1440), minute = shown - 1440 * day;
    return String(Math.floor(minute / 60)).padStart(2, "0") + ":" + String(minute % 60).padStart(2, "0") + " on " + gz.words.night(gz.nightDate(page, day), page.year);
  };

  // The dark hours of every night at the middle of the sites, as a picture of the year.
  function yearStrip(page) {
    const sky = page.trial.sky(), [south, west, north, east] = page.first, turn = 360 * page.sites.columns.turn[0];
    const place = gz.placeAt((south + north) / 2, (west + east) / 2 + turn), top = [], foot = [], out = { from: [0], to: [0] };
    for (let k = 0; k < sky.n; k++) {
      gz.darkSpan(sky, k, place, out, 0);
      const noon = gz.noonOf(sky, k, place, 0), inNight = at => Math.max(0, Math.min(1440, at - noon));
      if (out.from[0] >= out.to[0]) out.from[0] = out.to[0] = noon + 720;
      top.push(k + " " + inNight(out.from[0]).toFixed(0));
      foot.unshift(k + " " + inNight(out.to[0]).toFixed(0));
    }
    const strip = gz.svg("svg", "year-strip", { viewBox: "0 0 " + (sky.n - 1) + " 1440", preserveAspectRatio: "none", "aria-hidden": "true" });
    strip.append(gz.svg("rect", "strip-day", { width: sky.n - 1, height: 1440 }), gz.svg("path", "strip-night", { d: "M" + top.concat(foot).join("L") + "Z" }));
    for (let month = 1; month < 12; month++) {
      const x = Math.round((Date.UTC(page.year, month, 1) - Date.UTC(page.year, 0, 1)) / 86400000);
      strip.append(gz.svg("path", "strip-month", { d: "M" + x + " 0V1440" }));
    }
    return strip;
  }

  gz.moment = function (map, page, legend) {
    const bar = document.getElementById("moment"), root = document.documentElement, painter = gz.nightPainter(page), { siteLayer: layer } = page;
    const part = gz.el("section", "moment"), open = gz.el("button", "quiet", "Show a night");
    let night = null, utc = 0, playing = 0, begun = 0, way = "shared", shown = false, built = false;
    const ui = {};

    open.type = "button";
    part.append(gz.el("h2", "", "One night, minute by minute"), gz.el("p", "small", "How dusk and dawn sweep over the sites, and which lamps are lit."), open);
    legend.append(part);

    function slider(className, label, attributes) {
      const input = gz.el("input", className);
      Object.assign(input, { type: "range", step: "1", ...attributes });
      input.setAttribute("aria-label", label);
      return input;
    }

    function build() {
      built = true;
      const head = gz.el("div", "moment-head"), time = gz.el("div", "moment-time"), ways = gz.el("label", "moment-ways");
      const close = gz.el("button", "close");
      close.type = "button";
      close.setAttribute("aria-label", "Close the night");
      close.append(gz.el("span", "", "×"));
      close.addEventListener("click", () => { leave(); open.focus({ preventScroll: true }); if (!open.checkVisibility({ visibilityProperty: true })) map.getContainer().focus({ preventScroll: true }); });
      ui.day = slider("day", "Night of the year", { min: "0", max: String(page.sky.nights - 1), value: String(gz.tonight(page)) });
      ui.dayText = gz.el("output", "moment-day");
      ui.strip = gz.el("div", "strip-holder");
      ui.strip.append(yearStrip(page), ui.day);
      head.append(ui.dayText, ui.strip, close);
      ui.play = gz.el("button", "play", "Play");
      ui.play.type = "button";
      ui.time = slider("time", "Time", { min: "0", max: "1440", value: "0" });
      ui.timeText = gz.el("output", "moment-clock");
      time.append(ui.play, ui.timeText, ui.time);
      ui.way = gz.el("select");
      for (const [key, text] of Object.entries(WAYS)) {
        if (key === "groups" && !page.sky.groups.length) continue;
        const option = gz.el("option", "", text);
        option.value = key;
        ui.way.append(option);
      }
      ui.way.value = way;
      ui.way.addEventListener("change", function () {
        way = ui.way.value;
        gz.switchedBy(page, night, way);
        begin(utc);
      });
      ways.append(gz.el("span", "", "Lamps switched by"), ui.way);
      ui.counts = gz.el("ul", "moment-counts");
      ui.counts.rows = KINDS.map(function ([kind, text]) {
        const item = gz.el("li"), figure = gz.el("b");
        item.append(gz.momentSign(kind), figure, " " + text);
        ui.counts.append(item);
        return { kind, item, figure };
      });
      bar.append(head, time, ways, ui.counts, gz.el("p", "small", "Times: the shared setting's clock."
        + (page.sky.aside ? " Programmes left aside: as if all lamps were lit from dusk to dawn." : "")));
      ui.day.addEventListener("input", () => choose(Number(ui.day.value)));
      ui.time.addEventListener("input", () => { stop(); at(Number(ui.time.value)); });
      ui.play.addEventListener("click", () => playing ? stop() : play());
    }

    function enter() {
      if (!built && gz.view === "groups") way = "groups";
      if (!built) build();
      shown = true;
      gz.closeSide();
      bar.hidden = false;
      root.classList.add("night-open");
      layer.night = painter;
      choose(Number(ui.day.value));
      layer.redraw();
      ui.play.focus({ preventScroll: true });
    }

    function leave() {
      stop();
      shown = false;
      bar.hidden = true;
      root.classList.remove("night-open");
      layer.night = null;
      layer.redraw();
    }

    // Another night: at the same part of it as before, or at its dusk.
    function choose(k) {
      stop();
      const part = night ? (utc - 1440 * night.k) : null;
      night = gz.nightOf(page, k, way);
      map.fire("gz-night");
      ui.dayText.textContent = "Night of " + gz.words.night(gz.nightDate(page, k), page.year);
      ui.day.setAttribute("aria-valuetext", gz.words.night(gz.nightDate(page, k), page.year));
      begin(part === null ? null : part + 1440 * k);
    }

    // The span of the slider: all that changes in this night, or from noon to noon where nothing does.
    function begin(wanted) {
      const changes = gz.changesOf(night), noon = Math.round(gz.noonOf(page.trial.sky(), night.k, page.trial.placeOf(0), 0));
      night.changes = changes;
      const first = changes.length ? changes[0][0] - 20 : noon, last = changes.length ? changes[changes.length - 1][1] + 20 : noon + 1440;
      ui.time.min = String(first);
      ui.time.max = String(last);
      const dusk = changes.length ? Math.round((changes[0][0] + changes[0][1]) / 2) : noon + 720;
      at(wanted === null ? dusk : Math.max(first, Math.min(last, wanted)));
    }

    function at(minute) {
      utc = minute;
      const counts = painter.set(night, utc), text = gz.clockTime(page, utc);
      ui.time.value = String(Math.round(utc));
      ui.timeText.textContent = text;
      ui.time.setAttribute("aria-valuetext", text + ": " + KINDS.filter(([kind], place) => place < 2).map(([kind, words]) => gz.many(counts[kind], "site") + " " + words).join(", "));
      for (const { kind, item, figure } of ui.counts.rows) {
        figure.textContent = gz.count(counts[kind]);
        item.hidden = kind === gz.AT.NONE && !counts[kind];
      }
      layer.frame();
    }

    // ---- play: the stretches in which something changes, slowly; what lies between them, in a jump.
    function path() {
      const legs = [], beside = ([first, last]) => [first - BESIDE_MIN, last + BESIDE_MIN];
      const stretches = night.changes.length ? night.changes.map(beside) : [[Number(ui.time.min), Number(ui.time.max)]];
      stretches.forEach(function ([first, last], place) {
        if (place && first > stretches[place - 1][1]) legs.push({ first: stretches[place - 1][1], last: first, s: JUMP_S });
        legs.push({ first: place ? Math.max(first, stretches[place - 1][1]) : first, last, s: STRETCH_S });
      });
      return legs;
    }

    function play() {
      const legs = path(), whole = legs.reduce((sum, leg) => sum + leg.s, 0);
      const secondsTo = function (minute) {
        let s = 0;
        for (const leg of legs) {
          if (minute < leg.last) return s + leg.s * Math.max(0, (minute - leg.first) / (leg.last - leg.first));
          s += leg.s;
        }
        return 0; // at the end: from the start again
      };
      const minuteAt = function (seconds) {
        for (const leg of legs) {
          if (seconds < leg.s) return leg.first + (leg.last - leg.first) * seconds / leg.s;
          seconds -= leg.s;
        }
        return legs[legs.length - 1].last;
      };
      ui.play.textContent = "Pause";
      begun = performance.now() - 1000 * secondsTo(utc);
      gz.frames = [];
      const step = function () {
        const seconds = (performance.now() - begun) / 1000;
        gz.frames.push(performance.now());
        at(minuteAt(seconds));
        if (seconds >= whole) stop();
        else playing = requestAnimationFrame(step);
      };
      playing = requestAnimationFrame(step);
    }

    function stop() {
      if (playing) cancelAnimationFrame(playing);
      playing = 0;
      if (ui.play) ui.play.textContent = "Play";
    }

    open.addEventListener("click", enter);
    map.on("gz-trying gz-tried", function () {
      if (!shown || way !== "shared") return;
      gz.switchedBy(page, night, way);
      begin(utc);
    });
    // On paper stands the year's answer.
    window.addEventListener("beforeprint", () => { stop(); layer.night = null; });
    window.addEventListener("afterprint", () => { if (shown) { layer.night = painter; layer.redraw(); } });
    gz.onScheme(() => { if (shown) layer.redraw(); }, false);
    gz.nightNow = () => ({ k: shown ? night.k : built ? Number(ui.day.value) : gz.tonight(page), utc: shown ? utc : null });
    gz.showNight = function (k, minute, by) {
      if (!shown) enter();
      ui.day.value = String(k);
      if (by) {
        way = by;
        ui.way.value = by;
      }
      choose(k);
      if (minute !== undefined) at(minute);
      return painter.counts;
    };
  };
})(geozone);
