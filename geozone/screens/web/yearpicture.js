// A year at a glance: one night a column, the hours from noon to noon upwards, lamps shaded where they burn.
(function (gz) {
  "use strict";

  const DAY = 1440, HALF = 720;
  const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
  // Light that outlasts the dark by less is no waste worth a hatch: slivers of a shifted dusk.
  const HATCHED_FROM_MIN = 60;
  const SHADES = [["day", "daylight"], ["dark", "dark, lamps off"], ["lit", "lamps on"], ["waste", "lamps on in daylight, over 1 h"]];
  let serial = 0;

  // Packed columns (see mapyears.py) to [start, stop] in minutes since 1 January 00:00 UTC; pieces that touch are joined.
  gz.unpackIntervals = function (packed, base, nights) {
    const rows = nights + 2, unpack = column => gz.column(column, rows);
    const count = unpack(packed.count), from = packed.from.map(unpack), to = packed.to.map(unpack), found = [];
    for (let row = 0; row < rows; row++) {
      const begin = (row - 1) * DAY + HALF - base;
      for (let nth = 0; nth < count[row]; nth++) {
        const start = begin + from[nth][row], stop = begin + to[nth][row], last = found[found.length - 1];
        if (last && start <= last[1]) last[1] = stop;
        else found.push([start, stop]);
      }
    }
    return found;
  };

  function offsetAt(clock, utc) {
    let offset = clock.first;
    for (const [start, next] of clock.changes) if (utc >= start) offset = next;
    return offset;
  }

  // Rectangles {night, low, high} of intervals in minutes after noon on the wall: cut where the clock is changed and at noon.
  function boxes(intervals, clock, nights) {
    const found = [];
    intervals.forEach(function ([from, to], of) {
      const marks = [from, ...clock.changes.map(change => change[0]).filter(utc => utc > from && utc < to), to];
      for (let k = 0; k + 1 < marks.length; k++) {
        const offset = offsetAt(clock, (marks[k] + marks[k + 1]) / 2), stop = marks[k + 1] + offset;
        let start = marks[k] + offset;
        while (start < stop) {
          const night = Math.floor((start - HALF) / DAY), noon = night * DAY + HALF, end = Math.min(stop, noon + DAY);
          if (night >= 0 && night < nights) found.push({ night, low: start - noon, high: end - noon, of });
          start = end;
        }
      }
    });
    return found;
  }

  // What is in `a` and not in `b`; both in order.
  function without(a, b) {
    const found = [];
    let k = 0;
    for (const [from, to] of a) {
      let start = from;
      while (k > 0 && b[k - 1][1] > from) k--;
      while (k < b.length && b[k][1] <= from) k++;
      for (; k < b.length && b[k][0] < to; k++) {
        if (b[k][0] > start) found.push([start, b[k][0]]);
        start = Math.max(start, b[k][1]);
      }
      if (start < to) found.push([start, to]);
    }
    return found;
  }

  // What a picture shows, worked out when it is first looked at.
  gz.yearOf = function (page, picture) {
    if (picture.shapes) return picture.shapes;
    const { nights, darks } = page.programmes.years, { clock } = picture, base = Math.round(clock.first);
    const dark = gz.unpackIntervals(darks[picture.dark], base, nights), lit = gz.unpackIntervals(picture.lit, base, nights);
    const bare = without(lit, dark), waste = boxes(bare, clock, nights).filter(box => box.high - box.low > HATCHED_FROM_MIN);
    // A day of burning counts for the night that it follows, although its afternoon stands in the next column.
    const nightOf = utc => Math.floor((utc + offsetAt(clock, utc) - HALF) / DAY);
    const wasteNights = new Set(bare.filter(([from, to]) => to - from > HATCHED_FROM_MIN).map(([from]) => nightOf(from)).filter(night => night >= 0 && night < nights)).size;
    const changes = [];
    let before = clock.first;
    for (const [utc, after] of clock.changes) {
      const night = Math.floor((utc + before - HALF) / DAY) + 1;
      if (night > 0 && night < nights) changes.push({ night, minutes: Math.round(after - before) });
      before = after;
    }
    picture.shapes = { dark: boxes(dark, clock, nights), lit: boxes(lit, clock, nights), waste, changes, nights, wasteNights };
    return picture.shapes;
  };

  function clockText(minute) {
    const whole = Math.round(minute) + HALF;
    return String(Math.floor(whole / 60) % 24).padStart(2, "0") + ":" + String(whole % 60).padStart(2, "0");
  }
  const dateOf = (page, night) => new Date(Date.UTC(page.year, 0, 1 + night));
  const dateText = (page, night) => gz.words.night(dateOf(page, night).toISOString().slice(0, 10), page.year);

  // "19:41 to 22:30 and 05:00 to 06:45"; what goes on over a change of the clock is one stretch.
  function stretches(shapes, kind, night) {
    const joined = [];
    for (const box of shapes[kind]) {
      if (box.night !== night) continue;
      const last = joined[joined.length - 1];
      if (last && last.of === box.of) last.high = box.high;
      else joined.push({ ...box });
    }
    const at = minute => minute === 0 || minute === DAY ? "noon" : clockText(minute);
    return joined.map(box => at(box.low) + " to " + at(box.high)).join(" and ");
  }

  // One night in words.
  gz.nightWords = function (page, picture, night) {
    const shapes = gz.yearOf(page, picture), lit = stretches(shapes, "lit", night), dark = stretches(shapes, "dark", night);
    const wasted = shapes.waste.filter(box => box.night === night).reduce((sum, box) => sum + box.high - box.low, 0);
    return "Night of " + dateText(page, night) + ": " + (dark ? "dark " + dark : "it does not get dark") + "; "
      + (lit ? "lamps on " + lit : "no lamp on")
      + (wasted ? "; in daylight for " + Math.floor(wasted / 60) + " h " + String(Math.round(wasted % 60)).padStart(2, "0") + " min" : "") + ".";
  };

  // The essentials for those who do not see the picture.
  function description(page, picture) {
    const shapes = gz.yearOf(page, picture), name = page.programmes.list[picture.programme].name;
    const long = new Float64Array(shapes.nights);
    for (const box of shapes.dark) long[box.night] += box.high - box.low;
    const most = long.indexOf(Math.max(...long)), least = long.indexOf(Math.min(...long));
    const span = night => Math.floor(long[night] / 60) + " h " + Math.round(long[night] % 60) + " min on " + dateText(page, night);
    return "A year at a glance: " + name + ", " + picture.said + ", " + page.year + ". "
      + (picture.lit_h ? "Lamps are on " + picture.lit_h + " hours a year at one site. " : "")
      + (shapes.wasteNights ? "They are on in daylight for more than an hour on " + shapes.wasteNights + (shapes.wasteNights === 1 ? " night. " : " nights. ")
        : "They are never on in daylight for more than an hour. ")
      + "The dark lasts from " + span(least) + " to " + span(most) + ".";
  }

  // The picture as SVG of so many units; the units are pixels where it is shown in that size.
  gz.yearPicture = function (page, picture, W, H) {
    const LEFT = W > 700 ? 44 : 36, RIGHT = 6, TOP = 19, BOTTOM = 19;
    const shapes = gz.yearOf(page, picture), { nights } = shapes;
    const x = night => LEFT + night / nights * (W - LEFT - RIGHT), y = minute => TOP + (1 - minute / DAY) * (H - TOP - BOTTOM);
    const svg = gz.svg("svg", "year-picture", { viewBox: "0 0 " + W + " " + H, role: "img", "aria-label": description(page, picture) });
    const draw = (tag, className, attributes, text) => svg.appendChild(gz.svg(tag, className, attributes, text));
    const hatch = "gz-waste-" + ++serial, pattern = gz.svg("pattern", "", { id: hatch, width: 5, height: 5, patternUnits: "userSpaceOnUse", patternTransform: "rotate(-45)" });
    pattern.append(gz.svg("rect", "year-waste", { width: 5, height: 5 }), gz.svg("path", "year-hatch", { d: "M0 0H5" }));
    draw("defs", "", {}).append(pattern);
    draw("rect", "year-day", { x: x(0), y: y(DAY), width: x(nights) - x(0), height: y(0) - y(DAY) });
    const column = box => "M" + x(box.night).toFixed(2) + " " + y(box.high).toFixed(2) + "H" + x(box.night + 1).toFixed(2) + "V" + y(box.low).toFixed(2)
      + "H" + x(box.night).toFixed(2) + "Z";
    for (const kind of ["dark", "lit", "waste"]) {
      const path = draw("path", "year-" + kind, { d: shapes[kind].map(column).join(""), "data-kind": kind });
      if (kind === "waste") path.setAttribute("fill", "url(#" + hatch + ")");
    }
    for (let minute = 0; minute <= DAY; minute += 180) {
      draw("path", minute === HALF ? "year-midnight" : "year-grid", { d: "M" + x(0) + " " + y(minute) + "H" + x(nights) });
      draw("text", "year-tick", { x: LEFT - 4, y: y(minute) + 3.6, "text-anchor": "end" }, clockText(minute));
    }
    for (let month = 0; month < 12; month++) {
      const first = (Date.UTC(page.year, month, 1) - Date.UTC(page.year, 0, 1)) / 864e5, next = (Date.UTC(page.year, month + 1, 1) - Date.UTC(page.year, 0, 1)) / 864e5;
      if (month) draw("path", "year-grid", { d: "M" + x(first).toFixed(2) + " " + y(0) + "V" + y(DAY) });
      draw("text", "year-tick", { x: ((x(first) + x(next)) / 2).toFixed(1), y: H - 6, "text-anchor": "middle" }, MONTHS[month]);
    }
    for (const { night, minutes } of shapes.changes) {
      draw("path", "year-change", { d: "M" + x(night).toFixed(2) + " " + y(0) + "V" + (TOP - 4) });
      draw("text", "year-tick", { x: Math.max(LEFT + 32, Math.min(W - RIGHT - 32, x(night))).toFixed(1), y: TOP - 7, "text-anchor": "middle" },
        "clock " + (minutes < 0 ? "−" : "+") + Math.abs(minutes) + " min");
    }
    draw("rect", "year-frame", { x: x(0), y: y(DAY), width: x(nights) - x(0), height: y(0) - y(DAY) });
    const cursor = draw("path", "year-cursor", { d: "" });
    svg.nightAt = clientX => {
      const box = svg.getBoundingClientRect();
      return Math.max(0, Math.min(nights - 1, Math.floor(((clientX - box.left) / box.width * W - LEFT) / (W - LEFT - RIGHT) * nights)));
    };
    svg.mark = night => cursor.setAttribute("d", "M" + x(night + 0.5).toFixed(2) + " " + (y(0) + 4) + "V" + (y(DAY) - 4));
    svg.sides = [LEFT / W, RIGHT / W];
    return svg;
  };

  function shade(kind) {
    const box = gz.svg("svg", "shade", { viewBox: "0 0 22 13", "aria-hidden": "true" });
    box.append(gz.svg("rect", "year-" + kind, { x: 0.5, y: 0.5, width: 21, height: 12 }));
    if (kind === "waste") box.append(gz.svg("path", "year-hatch", { d: "M1 8L8 1M3 12L14 1M9 12L20 1M15 12L21 6" }));
    box.append(gz.svg("rect", "year-frame", { x: 0.5, y: 0.5, width: 21, height: 12 }));
    return box;
  }

  gz.yearShades = function (page, picture) {
    const list = gz.el("ul", "shades");
    for (const [kind, words] of SHADES) {
      if (kind === "waste" && !gz.yearOf(page, picture).waste.length) continue;
      const item = gz.el("li");
      item.append(shade(kind), gz.el("span", "", words));
      list.append(item);
    }
    return list;
  };

  // The picture with its shades and, for the screen, a slider that reads one night after the other.
  gz.yearFigure = function (page, picture, W, H) {
    const figure = gz.el("figure", "year"), svg = gz.yearPicture(page, picture, W, H);
    figure.append(svg);
    const slider = gz.el("input", "year-slider"), words = gz.el("p", "year-night");
    words.textContent = "Point at the picture, or move the slider, to read a night.";
    slider.type = "range";
    slider.min = 0;
    slider.max = gz.yearOf(page, picture).nights - 1;
    slider.value = 0;
    slider.setAttribute("aria-label", "Night of the year");
    slider.style.marginLeft = (svg.sides[0] * 100).toFixed(2) + "%";
    slider.style.width = ((1 - svg.sides[0] - svg.sides[1]) * 100).toFixed(2) + "%";
    const show = function (night) {
      slider.value = night;
      words.textContent = gz.nightWords(page, picture, night);
      slider.setAttribute("aria-valuetext", words.textContent);
      svg.mark(night);
    };
    slider.setAttribute("aria-valuetext", gz.nightWords(page, picture, 0));
    slider.addEventListener("input", () => show(Number(slider.value)));
    for (const kind of ["pointermove", "pointerdown"]) svg.addEventListener(kind, event => show(svg.nightAt(event.clientX)));
    figure.append(slider, words, gz.yearShades(page, picture));
    return figure;
  };
})(geozone);
