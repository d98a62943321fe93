// Parallels and meridians, for orientation without a background map: one degree of longitude is four minutes of dusk.
(function (gz) {
  "use strict";

  const STEPS_DEG = [20, 10, 5, 2, 1, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001];

  function text(value, decimals, positive, negative) {
    const wrapped = positive === "E" ? ((value + 540) % 360) - 180 : value;
    const side = Math.abs(wrapped) < 1e-9 || (positive === "E" && Math.abs(Math.abs(wrapped) - 180) < 1e-9) ? "" : " " + (wrapped > 0 ? positive : negative);
    return Math.abs(wrapped).toFixed(decimals) + "°" + side;
  }

  gz.Grid = gz.Canvas.extend({
    options: { padding: 0 },

    paint(ctx, bounds) {
      const map = this._map;
      const pixelsPerDeg = 256 * Math.pow(2, map.getZoom()) / 360;
      const step = STEPS_DEG.slice().reverse().find(deg => deg * pixelsPerDeg >= 105) || 20;
      const decimals = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
      const northWest = map.layerPointToLatLng(bounds.min), southEast = map.layerPointToLatLng(bounds.max);
      ctx.lineWidth = 1;
      ctx.strokeStyle = gz.COLOURS.grid;
      ctx.fillStyle = gz.COLOURS.gridText;
      ctx.font = "11px system-ui, 'Segoe UI', Roboto, 'Liberation Sans', Arial, sans-serif";
      const labels = /** @type {[string, number, number, CanvasTextAlign][]} */ ([]);
      ctx.beginPath();
      for (let k = Math.ceil(northWest.lng / step); k * step <= southEast.lng; k++) {
        const x = Math.round(map.latLngToLayerPoint([0, k * step]).x) + 0.5;
        ctx.moveTo(x, bounds.min.y);
        ctx.lineTo(x, bounds.max.y);
        if (x - bounds.min.x > 160 && bounds.max.x - x > 70) labels.push([text(k * step, decimals, "E", "W"), x + 4, bounds.max.y - 7, "left"]);
      }
      for (let k = Math.ceil(Math.max(southEast.lat, -85) / step); k * step <= Math.min(northWest.lat, 85); k++) {
        const y = Math.round(map.latLngToLayerPoint([k * step, 0]).y) + 0.5;
        ctx.moveTo(bounds.min.x, y);
        ctx.lineTo(bounds.max.x, y);
        if (y - bounds.min.y > 20 && bounds.max.y - y > 30) labels.push([text(k * step, decimals, "N", "S"), bounds.max.x - 6, y - 4, "right"]);
      }
      ctx.stroke();
      this.boxes = [];
      for (const [label, x, y, align] of labels) {
        const width = ctx.measureText(label).width;
        this.boxes.push({ x: align === "left" ? x : x - width, y: y - 11, w: width, h: 13 });
        ctx.textAlign = align;
        ctx.fillText(label, x, y);
      }
    },
  });

  gz.grid = function (map) {
    gz.gridLayer = new gz.Grid({ pane: gz.pane(map, "grid") }).addTo(map);
  };
})(geozone);
