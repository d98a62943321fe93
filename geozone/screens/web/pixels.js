// Signs written pixel by pixel: without soft edges, but for thousands of sites in a few milliseconds, where stamped pictures take ten
// times as long. For what moves.
(function (gz) {
  "use strict";

  // A sign as plain pixels round its middle: `paint(ctx, x, y)` draws it, no further out than `reach`.
  gz.pixelsOf = function (paint, reach, ratio) {
    const side = 2 * Math.ceil((reach + 1) * ratio), canvas = document.createElement("canvas"), dx = [], dy = [], colour = [];
    canvas.width = canvas.height = side;
    const ctx = canvas.getContext("2d", { willReadFrequently: true });
    ctx.scale(ratio, ratio);
    paint(ctx, side / 2 / ratio, side / 2 / ratio);
    const { data } = ctx.getImageData(0, 0, side, side);
    for (let k = 0; k < side * side; k++) {
      if (data[4 * k + 3] < 128) continue;
      dx.push(k % side - side / 2);
      dy.push(Math.floor(k / side) - side / 2);
      colour.push((255 << 24 | data[4 * k + 2] << 16 | data[4 * k + 1] << 8 | data[4 * k]) >>> 0);
    }
    return { dx: Int16Array.from(dx), dy: Int16Array.from(dy), colour: Uint32Array.from(colour), half: side / 2, at: new Int32Array(dx.length), width: 0 };
  };

  // A picture of the size of a canvas: begin, put signs, end. `begin` says false where the canvas has no size.
  gz.pixelPicture = function () {
    let image = null;
    const picture = {
      pixels: new Uint32Array(0),
      begin({ canvas: { width, height } }) {
        if (!width || !height) return false;
        if (!image || image.width !== width || image.height !== height) {
          image = new ImageData(width, height);
          picture.pixels = new Uint32Array(image.data.buffer);
        } else picture.pixels.fill(0);
        return true;
      },
      put(sign, x, y) {
        const { width, height } = image, { pixels } = picture, { dx, dy, colour, half, at } = sign;
        if (x >= half && y >= half && x < width - half && y < height - half) {
          if (sign.width !== width) for (let p = 0; p < at.length; p++) at[p] = dy[p] * width + dx[p];
          sign.width = width;
          for (let p = 0, middle = y * width + x; p < at.length; p++) pixels[middle + at[p]] = colour[p];
          return;
        }
        for (let p = 0; p < colour.length; p++) {
          const px = x + dx[p], py = y + dy[p];
          if (px >= 0 && px < width && py >= 0 && py < height) pixels[py * width + px] = colour[p];
        }
      },
      end(ctx) { ctx.putImageData(image, 0, 0); },
    };
    return picture;
  };
})(geozone);
