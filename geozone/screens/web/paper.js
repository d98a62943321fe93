// Printing: the map is set to the size that it has on paper, drawn finely and in light colours, with a key below it; then
// everything is set back. What the sheets look like on which paper is in print.css.
(function (gz) {
  "use strict";

  function entry(picture, text) {
    const item = gz.el("li");
    item.append(picture, gz.el("span", "", text));
    return item;
  }

  function copied(sign) {
    const canvas = document.createElement("canvas");
    canvas.className = "sign";
    canvas.width = sign.width;
    canvas.height = sign.height;
    canvas.getContext("2d").drawImage(sign, 0, 0);
    return canvas;
  }

  // The signs and lines that the map shows, on the sheet of the map, whatever becomes of the legend.
  function key(map) {
    const part = gz.el("section", "paper-key"), list = gz.el("ul");
    part.setAttribute("aria-label", "Signs and lines of the map");
    const signs = gz.view === "shared" ? ".counts li" : '[data-only="' + gz.view + '"] .sign-list li';
    for (const item of document.querySelectorAll("#legend " + signs)) {
      const words = item.querySelector(".count-words") || item.querySelector("span");
      list.append(entry(copied(item.querySelector("canvas")), words.firstChild.textContent));
    }
    for (const { key, name, layer } of gz.switchable) {
      const box = document.querySelector('#legend .switches input[data-part="' + key + '"]');
      if (map.hasLayer(layer) && box) list.append(entry(box.parentNode.querySelector("svg").cloneNode(true), name));
    }
    part.append(list);
    return part;
  }

  // Chromium prints a canvas from a record of its strokes, whose scale comes out up to five per cent too small: signs would
  // miss their outlines by millimetres. A finished bitmap is printed where it stands.
  function stills(map) {
    if (typeof OffscreenCanvas !== "function") return () => {};
    const undo = [...map.getContainer().querySelectorAll("canvas")].filter(canvas => canvas.width && canvas.height).map(function (canvas) {
      const drawn = new OffscreenCanvas(canvas.width, canvas.height), still = document.createElement("canvas");
      drawn.getContext("2d").drawImage(canvas, 0, 0);
      still.className = canvas.className + " still";
      still.setAttribute("aria-hidden", "true");
      still.width = canvas.width;
      still.height = canvas.height;
      still.style.cssText = canvas.style.cssText;
      still.getContext("bitmaprenderer").transferFromImageBitmap(drawn.transferToImageBitmap());
      canvas.before(still);
      canvas.hidden = true;
      return function () {
        still.remove();
        canvas.hidden = false;
      };
    });
    return () => undo.forEach(act => act());
  }

  gz.paper = function (map, page) {
    const root = document.documentElement;
    let before = null, paperKey = null, asDrawn = null;

    function redrawn() {
      page.siteLayer.redraw();
      gz.gridLayer.redraw();
      gz.placeLabels();
    }

    window.addEventListener("beforeprint", function () {
      if (gz.printing) return;
      before = { centre: map.getCenter(), zoom: map.getZoom(), bounds: map.getBounds() };
      gz.printing = true;
      gz.setScheme();
      root.classList.add("printing");
      paperKey = key(map);
      document.querySelector(".body").append(paperKey);
      map.invalidateSize({ animate: false, pan: false });
      if (before.zoom === map.options.fitZoom && map.project(before.centre).distanceTo(map.project(map.options.fitCentre)) < 8) gz.showAll(map, page);
      else map.fitBounds(before.bounds, { animate: false });
      redrawn();
      asDrawn = stills(map);
    });
    window.addEventListener("afterprint", function () {
      if (!gz.printing) return;
      gz.printing = false;
      root.classList.remove("printing");
      paperKey.remove();
      asDrawn();
      gz.setScheme();
      map.invalidateSize({ animate: false, pan: false });
      map.setView(before.centre, before.zoom, { animate: false });
      redrawn();
    });
  };
})(geozone);
