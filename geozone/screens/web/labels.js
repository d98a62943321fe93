// Names and figures on the map: placed anew after every move, never over each other, as clear of the sites as can be.
(function (gz) {
  "use strict";

  // A border that winds along a river is labelled along its course, not along each of its turns [pixels].
  const COURSE = 14;
  const GAP = 5, CELL = 10, EDGE = 6;

  // A site under a label weighs as much as twenty cells of a line that carries a meaning.
  const SITE = 20;

  // How much a box would hide, from a coarse count.
  function crowd(siteLayer, lines, view) {
    const nx = Math.ceil(view.w / CELL) + 1, ny = Math.ceil(view.h / CELL) + 1;
    const cells = new Uint16Array(nx * ny);
    for (let k = 0; k < siteLayer.nSeen; k++) {
      const x = Math.floor((siteLayer.seenX[k] - view.x) / CELL), y = Math.floor((siteLayer.seenY[k] - view.y) / CELL);
      if (x >= 0 && y >= 0 && x < nx && y < ny) cells[y * nx + x] += SITE;
    }
    for (const { p } of lines) {
      const x = Math.floor((p.x - view.x) / CELL), y = Math.floor((p.y - view.y) / CELL);
      if (x >= 0 && y >= 0 && x < nx && y < ny) cells[y * nx + x]++;
    }
    return function (box) {
      let n = 0;
      const x0 = Math.max(0, Math.floor((box.x - view.x - 4) / CELL)), x1 = Math.min(nx - 1, Math.floor((box.x + box.w - view.x + 4) / CELL));
      const y0 = Math.max(0, Math.floor((box.y - view.y - 4) / CELL)), y1 = Math.min(ny - 1, Math.floor((box.y + box.h - view.y + 4) / CELL));
      for (let y = y0; y <= y1; y++) for (let x = x0; x <= x1; x++) n += cells[y * nx + x];
      return n;
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

  function beside(point, size, side) {
    const nx = point.dy * side, ny = -point.dx * side; // side +1: left as one walks along the line, y pointing down
    const off = Math.abs(nx) * size.w / 2 + Math.abs(ny) * size.h / 2 + 7;
    return centred(L.point(point.p.x + nx * off, point.p.y + ny * off), size);
  }

  gz.labels = function (map, page) {
    const pane = map.getPane(gz.pane(map, "labels"));
    pane.setAttribute("aria-hidden", "true");
    const made = new Map();
    const lines = page.outlines.drift.flatMap(({ kind, label, more, lines }) =>
      lines.map(line => ({ kind, label, more, latLngs: gz.line(line) })));
    const borders = page.outlines.boundaries.map(border => Object.assign({ latLngs: gz.line(border.line) }, border));
    const areas = page.outlines.areas.map(area => ({ name: area.name, places: pairs(area.places) }));

    const letters = page.groups ? page.groups.settings.map(row => ({ row, places: row.places.map(pairs) })) : [];

    const witnesses = page.groups ? page.groups.why.sites.map(id => page.sites.id.indexOf(id)).filter(row => row >= 0) : [];

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
    function controls(corner) {
      const frame = map.getContainer().getBoundingClientRect();
      return [...map.getContainer().querySelectorAll(".leaflet-control"), ...document.querySelectorAll("#panel:not([hidden], .glance)")].map(function (control) {
        const box = control.getBoundingClientRect();
        return { x: corner.x + box.left - frame.left, y: corner.y + box.top - frame.top, w: box.width, h: box.height };
      });
    }

    const shown = key => gz.switchable.some(part => part.key === key && map.hasLayer(part.layer));

    function place() {
      for (const { element } of made.values()) element.hidden = true;
      const size = map.getSize(), corner = map.containerPointToLayerPoint([0, 0]);
      const view = { x: corner.x, y: corner.y, w: size.x, h: size.y };
      const heavy = [...(shown("tolerance") ? lines.filter(line => line.kind === "tolerance") : []),
        ...(shown("boundaries") ? borders.filter(border => !border.same_clock) : [])];
      // A zone's name must not reach over a border into another zone.
      const strays = crowd({ nSeen: 0 }, borders.filter(border => !border.same_clock)
        .flatMap(({ latLngs }) => along(map, latLngs, view, CELL, 4000)), view);
      const hidden = crowd(page.siteLayer, heavy.flatMap(({ latLngs }) => along(map, latLngs, view, CELL, 4000)), view);
      const taken = [...controls(corner), ...gz.gridLayer.boxes];
      const chosen = gz.chosenPoint && gz.chosenPoint();
      if (chosen) taken.push(centred(chosen, { w: 30, h: 30 }));

      const fits = box => within(box, view) && taken.every(other => apart(box, other, GAP));
      function put(text, box) {
        text.element.hidden = false;
        L.DomUtil.setPosition(text.element, L.point(Math.round(box.x), Math.round(box.y)));
        taken.push(box);
      }
      // The best of several boxes: few sites under it, then early in the list of wishes.
      function best(text, boxes, most) {
        let choice = null, least = Infinity;
        boxes.forEach(function (box, wish) {
          const cost = hidden(box) + wish / boxes.length * 8;
          if (cost < least && hidden(box) < (most || Infinity) && fits(box)) [choice, least] = [box, cost];
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
          const box = best(text, boxes, kind === "tolerance" ? Infinity : SITE); // a side line's label hides no site
          if (box) placed.push({ label: line.label, box });
        });
      }

      function onBorders(same) {
        const done = new Set(), placed = [];
        // The same name close by says nothing new.
        const again = (name, box) => placed.some(other => other.name === name && !apart(other.box, box, 220)) ? 1.5 * SITE : 0;
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
            const cost = hidden(pair[0]) + hidden(pair[1]) + again(border.left[0], pair[0]) + again(border.right[0], pair[1])
              + wish / points.length * 8;
            if (same && (strays(pair[0]) || strays(pair[1]))) return;
            if (cost < least && fits(pair[0]) && fits(pair[1])) [choice, least] = [pair, cost];
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

      if (shown("setting")) {
        const p = map.latLngToLayerPoint([page.setting.lat_deg, page.setting.lon_deg]);
        taken.push(centred(p, { w: 20, h: 20 }));
        const text = label("gz-label-setting", "Shared setting", page.setting.position, "");
        best(text, [[1, 0], [-1, 0], [0, 1], [0, -1], [1, 1], [-1, 1], [1, -1], [-1, -1]].map(([dx, dy]) =>
          centred(L.point(p.x + dx * (text.w / 2 + 17), p.y + dy * (text.h / 2 + 17)), text)));
      }
      if (shown("hulls")) {
        // No label hides a witness, as long as they are few.
        if (witnesses.length <= 24) for (const row of witnesses) taken.push(centred(map.latLngToLayerPoint(page.siteLayer.latLng(row)), { w: 16, h: 16 }));
        for (const { row, places } of letters) {
          places.forEach(function (spots, piece) {
            const text = label("gz-label-group gz-label-hue-" + row.hue, row.name, "", piece);
            // A piece beside the main one goes without its letter rather than have it hide a site.
            best(text, spots.map(spot => centred(map.latLngToLayerPoint(spot), text)), piece ? SITE : Infinity);
          });
        }
      }
      if (shown("boundaries")) onBorders(false);
      if (shown("tolerance")) onLines("tolerance", "gz-label-tolerance", 1);
      if (shown("areas")) {
        for (const [k, area] of areas.entries()) {
          const text = label("gz-label-area", area.name, "", k);
          // The only area needs no name on top of its sites; several areas are told apart by theirs.
          best(text, area.places.map(place => centred(map.latLngToLayerPoint(place), text)), areas.length === 1 ? SITE : Infinity);
        }
      }
      if (shown("drift")) onLines("drift", "gz-label-drift", 4);
      if (shown("boundaries")) onBorders(true);
      if (shown("dusk")) onLines("dusk", "gz-label-dusk", 3);
    }

    map.on("moveend zoomend resize", L.Util.throttle(place, 60));
    map.on("gz-chosen", place);
    gz.placeLabels = place;
    place();
  };
})(geozone);
