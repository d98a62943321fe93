// The signs of the map: each has its own shape, so that a grey print says the same as the colours.
// within = a lamp: warm disc, dark rim.   beyond = a dark lozenge.   other clock = a white square with a clock's hands.
(function (gz) {
  "use strict";

  let lamp, lampRim, ink, paper, clock;
  gz.onScheme(() => { ({ lamp, lampRim, ink, paper, clock } = gz.COLOURS); });

  const draw = {
    "within"(ctx, x, y, r) {
      ctx.beginPath();
      ctx.arc(x, y, r, 0, 2 * Math.PI);
      ctx.fillStyle = lamp;
      ctx.fill();
      ctx.lineWidth = Math.max(1, r * 0.28);
      ctx.strokeStyle = lampRim;
      ctx.stroke();
    },
    "beyond"(ctx, x, y, r) {
      const a = r * 1.75;
      ctx.beginPath();
      ctx.moveTo(x, y - a);
      ctx.lineTo(x + a, y);
      ctx.lineTo(x, y + a);
      ctx.lineTo(x - a, y);
      ctx.closePath();
      ctx.lineWidth = Math.max(1.6, r * 0.5);
      ctx.lineJoin = "round";
      ctx.strokeStyle = paper;
      ctx.stroke();
      ctx.fillStyle = ink;
      ctx.fill();
    },
    "other clock"(ctx, x, y, r) {
      const a = r * 1.05;
      ctx.fillStyle = paper;
      ctx.fillRect(x - a, y - a, 2 * a, 2 * a);
      ctx.lineWidth = Math.max(1.4, r * 0.36);
      ctx.strokeStyle = clock;
      ctx.strokeRect(x - a, y - a, 2 * a, 2 * a);
      if (r >= 3.4) {
        ctx.lineWidth = Math.max(1, r * 0.22);
        ctx.beginPath();
        ctx.moveTo(x, y - a * 0.66);
        ctx.lineTo(x, y);
        ctx.lineTo(x + a * 0.55, y);
        ctx.stroke();
      }
    },
  };

  // A dashed ring round any sign: the legal zone must be confirmed on site.
  function confirmRing(ctx, x, y, r) {
    ctx.beginPath();
    ctx.arc(x, y, r * 2.3, 0, 2 * Math.PI);
    ctx.lineWidth = Math.max(1.1, r * 0.25);
    ctx.strokeStyle = ink;
    ctx.setLineDash([r * 0.9, r * 0.62]);
    ctx.stroke();
    ctx.setLineDash([]);
  }

  gz.signs = {
    reach: 2.9, // half the size of the largest sign, in units of the radius

    draw(ctx, verdict, confirm, x, y, r) {
      if (confirm) confirmRing(ctx, x, y, r);
      draw[verdict](ctx, x, y, r);
    },

    ring: confirmRing,

    // One sign drawn once, to be stamped thousands of times: a finished bitmap where the browser has them, because a
    // canvas as a source is looked over again at every stamp.
    stamp(paint, reach, pixelRatio) {
      const pixels = 2 * Math.ceil(reach * pixelRatio), middle = pixels / 2 / pixelRatio;
      const bitmaps = typeof OffscreenCanvas === "function" && OffscreenCanvas.prototype.transferToImageBitmap;
      const canvas = bitmaps ? new OffscreenCanvas(pixels, pixels) : document.createElement("canvas");
      canvas.width = canvas.height = pixels;
      const ctx = canvas.getContext("2d");
      ctx.scale(pixelRatio, pixelRatio);
      paint(ctx, middle, middle);
      return bitmaps ? canvas.transferToImageBitmap() : canvas;
    },

    // A small picture of a sign for the legend and the panel.
    picture(paint, side) {
      const canvas = document.createElement("canvas");
      canvas.width = canvas.height = side * 3;
      canvas.className = "sign";
      canvas.setAttribute("aria-hidden", "true");
      const ctx = canvas.getContext("2d");
      ctx.scale(3, 3);
      canvas.repaint = function () {
        ctx.clearRect(0, 0, side, side);
        paint(ctx, side / 2, side / 2);
      };
      canvas.repaint();
      return canvas;
    },
  };
})(geozone);
