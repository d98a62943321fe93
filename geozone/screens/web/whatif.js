// Other tolerances and another shared setting, tried on the page: sliders and fields in the legend, the setting's ring on the map, and
// a strip in the head that says what is not as in the plan.
(function (gz) {
  "use strict";

  const TOLERANCES = [["dark", "Minutes unlit"], ["excess", "Minutes lit too long"]];
  const MOST_TOLERANCE_MIN = 120;

  // A sentence that holds for the plan only says so while something else is tried.
  gz.ofPlan = function (element) {
    element.prepend(gz.el(element.tagName === "BUTTON" ? "small" : "p", "plan-note", "As in the plan, not as tried."));
    return element;
  };

  // Where the shared setting stands now, as the map counts longitudes, and its position in words.
  gz.settingNow = function (page) {
    if (!page.trial.moved) return page.setting;
    const { lat, lon } = page.trial.asked;
    return { lat_deg: lat, lon_deg: lon + 360 * Math.round((page.setting.lon_deg - lon) / 360), position: gz.positionText(page, lat, lon) };
  };

  const offsetText = minutes => minutes === 0 ? "no offset" : Math.abs(minutes) + " min " + (minutes > 0 ? "later" : "earlier");

  // What is otherwise than in the plan, each with the plan's own.
  function differences(page) {
    const { asked, plan, now } = page.trial, said = [];
    for (const [name, words] of /** @type {[string, string][]} */ ([["dark", "min unlit"], ["excess", "min lit too long"]])) {
      if (asked[name] !== plan[name]) said.push(now.tolerance[name] + " " + words + " allowed (plan " + page.tolerance[name] + ")");
    }
    if (asked.lat !== plan.lat || asked.lon !== plan.lon) said.push("shared setting at " + gz.positionText(page, asked.lat, asked.lon) + " (plan " + page.setting.position + ")");
    for (const edge of ["dusk", "dawn"]) {
      if (asked[edge] !== plan[edge]) said.push("at " + edge + " " + offsetText(asked[edge]) + " (plan " + offsetText(plan[edge]) + ")");
    }
    return said;
  }

  function number(name, text, attributes, hint) {
    const label = gz.el("label", "try-field"), input = gz.el("input");
    input.type = "number";
    input.dataset.ask = name;
    Object.assign(input, attributes);
    label.append(gz.el("span", "", text));
    if (hint) label.firstChild.append(gz.el("small", "", hint));
    label.append(input);
    return { label, input };
  }

  gz.whatIf = function (map, page, legend) {
    const { trial, sky } = page, strip = document.getElementById("tried"), words = document.getElementById("tried-words");
    const part = gz.only(gz.el("section", "try"), "shared"), fields = [], sliders = [];
    let wanted = null, moving = false, frame = 0, ring = null;

    // At most once a frame, with the newest wish.
    function ask(wish, held) {
      wanted = { ...wanted, ...wish };
      moving = held;
      if (!held) now();
      else if (!frame) frame = requestAnimationFrame(now);
    }
    function now() {
      if (frame) cancelAnimationFrame(frame);
      frame = 0;
      const wish = wanted;
      wanted = null;
      if (wish) trial.ask(wish, moving, told);
    }

    // ---- what follows a change
    function told(exact) {
      const { asked } = trial, final = exact && !moving;
      delete document.documentElement.dataset.tried;
      for (const { input, name } of fields) if (document.activeElement !== input || final) input.value = String(asked[name]);
      for (const { input, name } of sliders) {
        input.value = String(asked[name]);
        input.setAttribute("aria-valuetext", asked[name] + " minutes");
      }
      gz.refreshCounts(page);
      gz.headline(page);
      page.siteLayer.refresh(!final);
      lines();
      place();
      // What makes room for itself waits until the hand has let go: nothing moves under it.
      if (!final) return map.fire("gz-trying");
      say();
      document.documentElement.dataset.tried = "exact";
      gz.placeLabels();
      map.fire("gz-tried");
      return post();
    }

    function say() {
      const { changed } = trial;
      document.documentElement.classList.toggle("tried", changed);
      strip.hidden = !changed;
      if (!changed && document.activeElement === back) part.focus({ preventScroll: true });
      back.disabled = !changed;
      if (back.disabled && document.activeElement === back) part.focus({ preventScroll: true });
      if (!changed) words.textContent = "";
      else {
        words.textContent = "Not as in the plan: " + differences(page).join("; ") + "."
          + (trial.moved && sky.aside ? " Programmes are left aside: counted as if all lamps were lit from dusk to dawn." : "")
          + (gz.view === "shared" ? "" : " This view shows the plan; the change shows under “One shared setting”.");
      }
    }

    // The page around this one may ask how many settings would be needed: six numbers, nothing else.
    function post() {
      if (window.parent === window) return;
      const { lat, lon, dusk, dawn, dark, excess } = trial.asked;
      window.parent.postMessage({ geozone: "tried", lat_deg: lat, lon_deg: lon, dusk_offset_min: dusk, dawn_offset_min: dawn, dark_min: dark, excess_min: excess }, "*");
    }

    function lines() {
      const { tolerance, drift } = gz.lineLayers;
      drift.setTried(trial.changed ? [] : null);
      if (!trial.changed) tolerance.setTried(null);
      else {
        const found = trial.lines();
        tolerance.setTried(found.lines);
        gaps.hidden = found.whole;
      }
      page.triedLines = trial.changed ? { lines: tolerance.tried, label: trial.now.tolerance.dark + " min unlit / " + trial.now.tolerance.excess + " min lit too long" } : null;
      if (!trial.changed) gaps.hidden = true;
      for (const part of ["tolerance", "drift"]) gz.showPart(map, part, gz.lineLayers[part].some());
    }

    // ---- tolerances
    const allowed = gz.el("fieldset");
    allowed.append(gz.el("legend", "", "Allowed at any one switching"));
    for (const [name, text] of TOLERANCES) {
      const most = Math.min(MOST_TOLERANCE_MIN, Math.max(5, Math.ceil(Math.max(2 * trial.plan[name], 1.1 * Number(String(page.worst[name]).replace(/,/g, ""))))));
      const { label, input } = number(name, text, { min: "0.1", max: String(MOST_TOLERANCE_MIN), step: "0.1", value: page.tolerance[name], inputMode: "decimal" });
      const slider = gz.el("input");
      Object.assign(slider, { type: "range", min: "0.1", max: String(most), step: "0.1", value: page.tolerance[name] });
      slider.setAttribute("aria-label", text + " allowed, slider");
      slider.setAttribute("aria-valuetext", page.tolerance[name] + " minutes");
      slider.addEventListener("input", () => ask({ [name]: Number(slider.value) }, true));
      slider.addEventListener("change", () => ask({ [name]: Number(slider.value) }, false));
      input.addEventListener("change", () => ask({ [name]: within(input, 0.1, MOST_TOLERANCE_MIN, trial.asked[name]) }, false));
      fields.push({ input, name });
      sliders.push({ input: slider, name });
      const row = gz.el("div", "try-tolerance");
      row.append(label, slider);
      allowed.append(row);
    }

    // What a field holds, within its limits; what is no number leaves things as they are.
    function within(input, least, most, before) {
      const value = Number(input.value);
      return input.value.trim() === "" || !Number.isFinite(value) ? before : Math.max(least, Math.min(most, value));
    }

    // ---- the setting
    const setting = gz.el("fieldset"), gaps = gz.el("p", "small", "The tolerance line is left out where the sun does not cross the dark threshold on some night, or hardly does.");
    gaps.hidden = true;
    setting.append(gz.el("legend", "", "The shared setting"), gz.el("p", "small", "Drag its ring on the map, or key it here: in the keypad's steps of " + sky.step + "°."));
    const pair = gz.el("div", "try-pair");
    for (const [name, text, hint, limit] of /** @type {[string, string, string, number][]} */ ([["lat", "Latitude", "south is negative", 90], ["lon", "Longitude", "west is negative", 180]])) {
      const { label, input } = number(name, text, { min: String(-limit), max: String(limit), step: String(sky.step), value: String(trial.plan[name]) }, hint);
      input.addEventListener("change", () => ask({ [name]: gz.onKeypad(within(input, -limit, limit, trial.asked[name]), sky.step) }, false));
      fields.push({ input, name });
      pair.append(label);
    }
    if (sky.offset_limit) {
      for (const [name, text] of [["dusk", "At dusk, min"], ["dawn", "At dawn, min"]]) {
        const { label, input } = number(name, text, { min: String(-sky.offset_limit), max: String(sky.offset_limit), step: "1", value: String(trial.plan[name]) }, "later; minus is earlier");
        input.addEventListener("change", () => ask({ [name]: Math.round(within(input, -sky.offset_limit, sky.offset_limit, trial.asked[name])) + 0 }, false));
        fields.push({ input, name });
        pair.append(label);
      }
    }
    setting.append(pair);
    if (!sky.offset_limit) setting.append(gz.el("p", "small", "This keypad holds no offsets."));
    if (sky.aside) setting.append(gz.el("p", "small aside", asideWords(page)));
    setting.append(gaps);

    const back = gz.el("button", "quiet as-planned", "As in the plan"), goBack = function () {
      wanted = null;
      moving = false;
      trial.back(told);
    };
    back.type = "button";
    back.disabled = true;
    back.addEventListener("click", goBack);
    const stripBack = document.getElementById("tried-back");
    stripBack.addEventListener("click", function () {
      goBack();
      map.getContainer().focus({ preventScroll: true }); // the button is gone
    });
    part.append(gz.el("h2", "", "Try other values"), gz.el("p", "small", "On this page only: the plan and its files stay as they are. How many settings would be needed then, only a new run finds."), allowed, setting, back);
    part.tabIndex = -1;
    legend.append(part);

    // ---- the ring on the map
    function place() {
      const { lat_deg: lat, lon_deg: lon, position } = gz.settingNow(page);
      gz.settingLayer.eachLayer(layer => { if (layer !== ring || !moving) layer.setLatLng([lat, lon]); });
      const icon = ring.getElement();
      if (icon) icon.setAttribute("aria-label", "Shared setting at " + position + ". Arrow keys move it by " + sky.step + "°.");
    }
    const move = at => ({ lat: gz.onKeypad(Math.max(-90, Math.min(90, at.lat)), sky.step), lon: gz.onKeypad(at.lng - 360 * Math.round(at.lng / 360), sky.step) });
    ring = L.marker([page.setting.lat_deg, page.setting.lon_deg], { draggable: true, keyboard: true, pane: gz.pane(map, "ring"), autoPan: true,
      icon: L.divIcon({ className: "gz-ring", iconSize: window.matchMedia("(pointer: coarse)").matches ? [44, 44] : [30, 30] }) });
    gz.settingLayer.addLayer(ring);
    ring.on("add", function () {
      const icon = ring.getElement();
      place();
      icon.addEventListener("keydown", function (event) {
        const by = { ArrowUp: [1, 0], ArrowDown: [-1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] }[event.key];
        if (!by || event.altKey || event.ctrlKey || event.metaKey) return;
        event.preventDefault();
        event.stopPropagation();
        const { lat_deg: lat, lon_deg: lon } = gz.settingNow(page), many = event.shiftKey ? 10 : 1;
        ask(move({ lat: lat + by[0] * sky.step * many, lng: lon + by[1] * sky.step * many }), false);
      });
    });
    ring.on("drag", () => ask(move(ring.getLatLng()), true));
    ring.on("dragend", () => ask(move(ring.getLatLng()), false));
    // A click on the ring means the sites under it, if there are any; open ground it is not.
    ring.on("click", function ({ originalEvent }) {
      if (originalEvent.clientX === undefined) return;
      const containerPoint = map.mouseEventToContainerPoint(originalEvent), latlng = map.containerPointToLatLng(containerPoint);
      if (page.siteLayer.near(containerPoint, page.siteLayer.radius() + 2).length) map.fire("click", { originalEvent, containerPoint, latlng });
    });
    map.on("gz-view", say);
    gz.tryValues = wish => ask(wish, false);
  };

  function asideWords(page) {
    const { sites, beyond } = page.sky.aside, all = "With another setting the programmes are left aside: every lamp counts as lit from dusk to dawn. ";
    if (!sites) return all + "Under the plan's setting that makes no difference at any site.";
    return all + "Under the plan's setting that changes the minutes of " + gz.many(sites, "site") + " and the result of " + (beyond ? gz.count(beyond) + "." : "none.");
  }
})(geozone);
