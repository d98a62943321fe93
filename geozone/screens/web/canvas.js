// A canvas that follows the map: the part that the sites and the grid have in common.
(function (gz) {
  "use strict";

  gz.pixelRatio = () => gz.printing ? 3 : Math.min(window.devicePixelRatio || 1, 3);

  // A subclass gives paint(ctx, bounds): bounds are Leaflet's layer points; ctx is already shifted to them.
  gz.Canvas = L.Renderer.extend({
    _initContainer() {
      this._container = document.createElement("canvas");
      this._container.setAttribute("aria-hidden", "true");
      this._ctx = this._container.getContext("2d");
    },

    _destroyContainer() {
      L.DomUtil.remove(this._container);
      delete this._container;
      delete this._ctx;
    },

    _update() {
      if (this._map._animatingZoom && this._bounds) return;
      L.Renderer.prototype._update.call(this);
      const bounds = this._bounds, size = bounds.getSize(), ratio = gz.pixelRatio();
      L.DomUtil.setPosition(this._container, bounds.min);
      this._container.width = Math.ceil(size.x * ratio);
      this._container.height = Math.ceil(size.y * ratio);
      this._container.style.width = size.x + "px";
      this._container.style.height = size.y + "px";
      this._ctx.setTransform(ratio, 0, 0, ratio, -bounds.min.x * ratio, -bounds.min.y * ratio);
      this.paint(this._ctx, bounds);
    },

    _reset() { this._update(); },
    _updatePaths() {},
    _onZoomEnd() {},
    redraw() { if (this._map) this._update(); },
  });

  // Longitude and latitude in steps to the whole world's square of 256 units, north up (Web Mercator).
  gz.worldX = lonSteps => (lonSteps / gz.STEPS_PER_DEG + 180) / 360 * 256;
  gz.worldY = function (latSteps) {
    const lat = Math.max(-85.05, Math.min(85.05, latSteps / gz.STEPS_PER_DEG)) * Math.PI / 180;
    return (1 - Math.asinh(Math.tan(lat)) / Math.PI) / 2 * 256;
  };
})(geozone);
