// Names and figures on the map: placed anew after every move, never over each other, as clear of the sites as can be.
(function (gz) {
  "use strict";

  // A border that winds along a river is labelled along its course, not along each of its turns [pixels].
  const COURSE = 14;
  const GAP = 5, CELL = 10, EDGE = 6;

  // A group's letter that finds no room on its own ground stands beside it, as far off as this, with a line to its ground.
  const BESIDE = [4, 14, 28, 46, 70, 100, 140], AROUND = 16;

  // What a box would cover: how many signs of sites, to the pixel, and how much of the lines that carry a meaning, coarsely.
  function ground(siteLayer, lines, view) {
    const nx = Math.ceil(view.w / CELL) + 1, ny = Math.ceil(view.h / CELL) + 1;
    const cells = new Uint16Array(nx * ny), first = new Int32Array(nx * ny).fill(-1), next = new Int32Array(siteLayer.nSeen);
    const cell = function (px, py) {
      const x = Math.floor((px - view.x) / CELL), y = Math.floor((py - view.y) / CELL);
      return x >= 0 && y >= 0 && x < nx && y < ny ? y * nx + x : -1;
    };
    for (let k = 0; k < siteLayer.nSeen; k++) {
      const at = cell(siteLayer.seenX[k], siteLayer.seenY[k]);
      if (at < 0) continue;
      next[k] = first[at];
      first[at] = k;
    }
    for (const { p } of lines) {
      const at = cell(p.x, p.y);
      if (at >= 0) cells[at]++;
    }
    const reach = siteLayer.nSeen ? siteLayer.radius() * 1.3 + 1 : 0;
    const covers = function (box, k) {
      const x = siteLayer.seenX[k], y = siteLayer.seenY[k];
      return x > box.x - reach && x < box.x + box.w + reach && y > box.y - reach && y < box.y + box.h + reach;
    };
    function over(box, margin, count) {
      let n = 0;
      const x0 = Math.max(0, Math.floor((box.x - view.x - margin) / CELL)), x1 = Math.min(nx - 1, Math.floor((box.x + box.w - view.x + margin) / CELL));
      const y0 = Math.max(0, Math.floor((box.y - view.y - margin) / CELL)), y1 = Math.min(ny - 1, Math.floor((box.y + box.h - view.y + margin) / CELL));
      for (let y = y0; y <= y1; y++) for (let x = x0; x <= x1; x++) n += count(y * nx + x);
      return n;
    }
    return {
      lines: box => over(box, 4, at => cells[at]),
      sites: box => over(box, reach, function (at) {
        let n = 0;
        for (let k = first[at]; k >= 0; k = next[k]) if (covers(box, k)) n++;
        return n;
      }),
      // The same as no sites, and quicker where there are thousands.
      clear(box) {
        const x0 = Math.max(0, Math.floor((box.x - view.x - reach) / CELL)), x1 = Math.min(nx - 1, Math.floor((box.x + box.w - view.x + reach) / CELL));
        const y0 = Math.max(0, Math.floor((box.y - view.y - reach) / CELL)), y1 = Math.min(ny - 1, Math.floor((box.y + box.h - view.y + reach) / CELL));
        for (let y = y0; y <= y1; y++) for (let x = x0; x <= x1; x++) {
          for (let k = first[y * nx + x]; k >= 0; k = next[k]) if (covers(box, k)) return false;
        }
        return true;
      },
    };
  }

  const apart = (a, b, gap) => a.x + a.w + gap <= b.x || b.x + b.w + gap <= a.x || a.y + a.h + gap <= b.y || b.y + b.h + gap <= a.y;
  const within = (box, view) => box.x >= view.x + EDGE && box.y >= view.y + EDGE
    && box.x + box.w <= view.x + view.w - EDGE && box.y + box.h <= view.y + view.h - EDGE;
  const centred = (p, size) => ({ x: p.x - size.w / 2, y: p.y - size.h / 2, w: size.w, h: size.h });

  // Points at even steps along the part of a line that is seen, each with the direction there.
  function along(map, latLngs, view, step, most, course) {
    let points = latLngs.map(p => map.latLngToLayerPoint(p));
    if (course) points = L.LineUtil.simplify(points, course);
    const found = [];
    let toGo = step / 2;
    for (let k = 1; k < points.length; k++) {
      const a = points[k - 1], b = points[k], length = a.distanceTo(b);
      if (Math.max(a.x, b.x) < view.x || Math.min(a.x, b.x) > view.x + view.w
        || Math.max(a.y, b.y) < view.y || Math.min(a.y, b.y) > view.y + view.h) continue;
      let at = toGo;
      for (; at < length && found.length < 4000; at += step) {
        const p = L.point(a.x + (b.x - a.x) * at / length, a.y + (b.y - a.y) * at / length);
        if (p.x > view.x && p.y > view.y && p.x < view.x + view.w && p.y < view.y + view.h) {
          found.push({ p, dx: (b.x - a.x) / length, dy: (b.y - a.y) / length });
        }
      }
      toGo = Math.max(0, at - length);
    }
    const every = Math.ceil(found.length / most);
    return found.filter((_, k) => k % every === 0);
  }

  // Whether a ring of points holds a point.
  function holds(ring, x, y) {
    let inside = false;
    for (let k = 0, j = ring.length - 1; k < ring.length; j = k++) {
      const a = ring[k], b = ring[j];
      if (a.y > y !== b.y > y && x < (b.x - a.x) * (y - a.y) / (b.y - a.y) + a.x) inside = !inside;
    }
    return inside;
  }

  function beside(point, size, side) {
    const nx = point.dy * side, ny = -point.dx * side; // side +1: left as one walks along the line, y pointing down
    const off = Math.abs(nx) * size.w / 2 + Math.abs(ny) * size.h / 2 + 7;
    return centred(L.point(point.p.x + nx * off, point.p.y + ny * off), size);
  }

  gz.labels = function (map, page) {
    const pane = map.getPane(gz.pane(map, "labels"));
    pane.setAttribute("aria-hidden", "true");
    const made = new Map();
    const planned = page.outlines.drift.flatMap(({ kind, label, more, lines }) =>
      lines.map(line => ({ kind, label, more, latLngs: gz.line(line) })));
    const borders = page.outlines.boundaries.map(border => Object.assign({ latLngs: gz.line(border.line) }, border));
    const areas = page.outlines.areas.map(area => ({ name: area.name, places: pairs(area.places) }));

    const lettersOf = rows => rows.map(row => ({ row, places: row.places.map(pairs), rings: row.rings.map(rings => gz.line(rings[0])) }));
    const letters = { hulls: lettersOf(page.groups ? page.groups.settings : []), ground: lettersOf(page.zoning ? page.zoning.rows : []) };
    const leaders = gz.svg ? gz.svg("svg", "gz-leaders leaflet-zoom-hide", { width: 1, height: 1 }) : null;
    if (leaders) pane.append(leaders);

    function pairs(steps) {
      const places = [];
      for (let k = 0; k < steps.length; k += 2) places.push([steps[k + 1] / gz.STEPS_PER_DEG, steps[k] / gz.STEPS_PER_DEG]);
      return places;
    }

    // The element of a label and its size; made once, then only moved, shown and hidden.
    function label(className, name, more, copy) {
      const key = [className, name, more, copy].join("\n");
      if (!made.has(key)) {
        const element = gz.el("div", "gz-label leaflet-zoom-hide " + className);
        element.append(gz.el("span", "theirs", name));
        if (more) element.append(gz.el("small", "theirs", more));
        pane.append(element);
        made.set(key, { element, w: element.offsetWidth, h: element.offsetHeight });
        element.hidden = true;
      }
      return made.get(key);
    }

    // Zoom buttons, scale bar and an open panel: no label goes under them.
    function controls(corner, selector) {
      const frame = map.getContainer().getBoundingClientRect();
      return [...document.querySelectorAll(selector)].map(function (control) {
        const box = control.getBoundingClientRect();
        return { x: corner.x + box.left - frame.left, y: corner.y + box.top - frame.top, w: box.width, h: box.height };
      });
    }

    const shown = key => gz.switchable.some(part => part.key === key && map.hasLayer(part.layer));

    function place() {
      for (const { element } of made.values()) element.hidden = true;
      // While something is tried its own line stands in for the plan's.
      const lines = !page.triedLines ? planned : planned.filter(({ kind }) => kind === "dusk").concat(page.triedLines.lines.map(latLngs =>
        ({ kind: "tolerance", label: page.triedLines.label, more: "", latLngs })));
      const size = map.getSize(), corner = map.containerPointToLayerPoint([0, 0]);
      const view = { x: corner.x, y: corner.y, w: size.x, h: size.y };
      const heavy = [...(shown("tolerance") ? lines.filter(line => line.kind === "tolerance") : []),
        ...(shown("boundaries") ? borders.filter(border => !border.same_clock) : [])];
      // A zone's name must not reach over a border into another zone.
      const strays = ground({ nSeen: 0 }, borders.filter(border => !border.same_clock)
        .flatMap(({ latLngs }) => along(map, latLngs, view, CELL, 4000)), view).lines;
      const under = ground(page.siteLayer, heavy.flatMap(({ latLngs }) => along(map, latLngs, view, CELL, 4000)), view);
      const taken = [...controls(corner, ".leaflet-control, #panel:not([hidden], .glance)"), ...gz.gridLayer.boxes];
      const chosen = gz.chosenPoint && gz.chosenPoint();
      if (chosen) taken.push(centred(chosen, { w: 30, h: 30 }));

      const fits = box => within(box, view) && taken.every(other => apart(box, other, GAP));
      function put(text, box) {
        text.element.hidden = false;
        L.DomUtil.setPosition(text.element, L.point(Math.round(box.x), Math.round(box.y)));
        taken.push(box);
      }
      // The best of several boxes. No label hides a site: where none is clear of them, there is no label.
      function best(text, boxes, extra) {
        let choice = null, least = Infinity;
        boxes.forEach(function (box, wish) {
          const wished = wish / boxes.length * 8;
          if (wished >= least || !fits(box) || !under.clear(box)) return;
          const cost = wished + under.lines(box) + (extra ? extra(box) : 0);
          if (cost < least) [choice, least] = [box, cost];
        });
        if (choice) put(text, choice);
        return choice;
      }
      // Middle of the line first, then outwards.
      const fromMiddle = points => points.slice().sort((a, b) =>
        Math.abs(points.indexOf(a) - points.length / 2) - Math.abs(points.indexOf(b) - points.length / 2));

      function onLines(kind, className, shortest) {
        const placed = [];
        const seen = lines.filter(line => line.kind === kind).map(line => ({ line, points: along(map, line.latLngs, view, 30, 60) }))
          .filter(({ points }) => points.length >= shortest).sort((a, b) => b.points.length - a.points.length);
        seen.slice(0, 40).forEach(function ({ line, points }, copy) {
          const text = label(className, kind === "tolerance" && !/tolerance/i.test(line.label) ? "Tolerance: " + line.label : line.label, line.more, copy);
          const boxes = fromMiddle(points).map(({ p }) => centred(p, text))
            .filter(box => placed.every(other => other.label !== line.label || apart(box, other.box, 170)));
          const box = best(text, boxes);
          if (box) placed.push({ label: line.label, box });
        });
      }

      function onBorders(same) {
        const done = new Set(), placed = [];
        // The same name close by says nothing new.
        const again = (name, box) => placed.some(other => other.name === name && !apart(other.box, box, 220)) ? 30 : 0;
        const seen = borders.filter(border => border.same_clock === same)
          .map(border => ({ border, points: along(map, border.latLngs, view, 30, 60, COURSE) }))
          .filter(({ points }) => points.length >= 2).sort((a, b) => b.points.length - a.points.length);
        for (const { border, points } of seen) {
          const key = [border.left[0], border.right[0]].sort().join("\n");
          if (done.has(key)) continue;
          const className = same ? "gz-label-zone-same" : "gz-label-zone";
          const [left, right] = [border.left, border.right].map(([zone, clock]) => label(className, zone, same ? "" : clock, key));
          let choice = null, least = Infinity;
          fromMiddle(points).forEach(function (point, wish) {
            const pair = [beside(point, left, 1), beside(point, right, -1)];
            const cost = under.lines(pair[0]) + under.lines(pair[1]) + again(border.left[0], pair[0]) + again(border.right[0], pair[1])
              + wish / points.length * 8;
            if (same && (strays(pair[0]) || strays(pair[1]))) return;
            if (cost < least && pair.every(box => fits(box) && under.clear(box))) [choice, least] = [pair, cost];
          });
          if (choice) {
            put(left, choice[0]);
            put(right, choice[1]);
            placed.push({ name: border.left[0], box: choice[0] }, { name: border.right[0], box: choice[1] });
          } else if (!same) {
            best(left, fromMiddle(points).map(point => beside(point, left, 1)));
            best(right, fromMiddle(points).map(point => beside(point, right, -1)));
          }
          done.add(key);
        }
      }

      // Every group, or zone, has its letter: on its own ground where that hides no site, else beside it, never on another group's
      // ground if that can be helped. Only where sites lie so thick that nothing is clear does it cover the fewest.
      function placeLetters(letters) {
        const small = letters.length > 9 && view.w < 600 ? " gz-label-small" : "";
        const grounds = letters.map(({ row, rings }) => ({ row, rings: rings.map(ring => ring.map(at => map.latLngToLayerPoint(at))) }));
        const foreign = (row, box) => grounds.some(other => other.row !== row && other.rings.some(ring => holds(ring, box.x + box.w / 2, box.y + box.h / 2))) ? 40 : 0;
        const late = [], covered = controls(corner, "#panel:not([hidden], .glance)");
        for (const { row, places } of letters) {
          places.forEach(function (spots, piece) {
            const text = label("gz-label-group gz-label-hue-" + row.hue + small, row.name, "", piece);
            const own = spots.map(spot => centred(map.latLngToLayerPoint(spot), text));
            // A piece beside the main one goes without its letter rather than have it somewhere else.
            if (!best(text, own) && !piece) late.push({ row, text, own, anchor: map.latLngToLayerPoint(spots[0]) });
          });
        }
        for (const { row, text, own, anchor } of late) {
          // Ground out of sight, or under the panel, needs no letter.
          const holdsAnchor = box => anchor.x > box.x && anchor.y > box.y && anchor.x < box.x + box.w && anchor.y < box.y + box.h;
          if (!holdsAnchor(view) || covered.some(holdsAnchor)) continue;
          const beside = BESIDE.flatMap(far => Array.from({ length: AROUND }, function (_, k) {
            const a = 2 * Math.PI * k / AROUND, ux = Math.cos(a), uy = Math.sin(a);
            const off = Math.min(text.w / 2 / Math.max(Math.abs(ux), 1e-6), text.h / 2 / Math.max(Math.abs(uy), 1e-6)) + far;
            return centred(L.point(anchor.x + ux * off, anchor.y + uy * off), text);
          }));
          let box = best(text, beside, box => foreign(row, box));
          if (!box) {
            const possible = [...own, ...beside].filter(fits);
            const hidden = possible.map(under.sites);
            box = possible[hidden.indexOf(Math.min(...hidden))];
            if (box) put(text, box);
          }
          if (box) leader(row, anchor, box);
        }
      }

      function leader(row, from, box) {
        const to = L.point(Math.max(box.x, Math.min(from.x, box.x + box.w)), Math.max(box.y, Math.min(from.y, box.y + box.h)));
        // It ends before the sign of the site that it points at.
        const far = from.distanceTo(to), clear = page.siteLayer.radius() + 5;
        if (far < clear + 4) return;
        from = from.add(to.subtract(from).multiplyBy(clear / far));
        for (const className of ["gz-leader-rim", "gz-leader gz-leader-hue-" + row.hue]) {
          leaders.append(gz.svg("line", className, { x1: from.x, y1: from.y, x2: to.x, y2: to.y }));
        }
      }

      if (leaders) leaders.replaceChildren();
      if (shown("setting")) {
        const { lat_deg: lat, lon_deg: lon, position } = gz.settingNow(page), p = map.latLngToLayerPoint([lat, lon]);
        taken.push(centred(p, { w: 20, h: 20 }));
        const text = label("gz-label-setting", "Shared setting", position, "");
        best(text, [17, 30, 48].flatMap(far => [[1, 0], [-1, 0], [0, 1], [0, -1], [1, 1], [-1, 1], [1, -1], [-1, -1]].map(([dx, dy]) =>
          centred(L.point(p.x + dx * (text.w / 2 + far), p.y + dy * (text.h / 2 + far)), text))));
      }
      for (const kind of ["hulls", "ground"]) if (shown(kind)) placeLetters(letters[kind]);
      if (shown("boundaries")) onBorders(false);
      if (shown("tolerance")) onLines("tolerance", "gz-label-tolerance", 1);
      // Asked for by hand, and nothing without their hours: before names and side lines.
      if (shown("dusk")) onLines("dusk", "gz-label-dusk", 2);
      if (shown("areas")) {
        for (const [k, area] of areas.entries()) {
          const text = label("gz-label-area", area.name, "", k);
          best(text, area.places.map(place => centred(map.latLngToLayerPoint(place), text)));
        }
      }
      if (shown("drift")) onLines("drift", "gz-label-drift", 4);
      if (shown("boundaries")) onBorders(true);
    }

    map.on("moveend zoomend resize", L.Util.throttle(place, 60));
    map.on("gz-chosen", place);
    gz.placeLabels = place;
    place();
  };
})(geozone);
