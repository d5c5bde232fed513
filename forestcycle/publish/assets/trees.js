"use strict";
/* Draws any number of trees on one canvas: pixels from afar, signs from near. */

const FEW_TREES = 5000;
/* Pixels of radius from which a sign has an edge, and one that is planned its ring. */
const EDGE_FROM = 3, RING_FROM = 4;
const PATHS = {
  circle: (context, r) => context.arc(0, 0, r, 0, 2 * Math.PI),
  square: (context, r) => context.rect(-0.88 * r, -0.88 * r, 1.76 * r, 1.76 * r),
  diamond: (context, r) => polygon(context, [[0, -1.25 * r], [1.25 * r, 0], [0, 1.25 * r], [-1.25 * r, 0]]),
  triangle: (context, r) => polygon(context, [[0, -1.25 * r], [1.15 * r, 0.85 * r], [-1.15 * r, 0.85 * r]]),
};

function polygon(context, corners) {
  corners.forEach((corner, i) => context[i ? "lineTo" : "moveTo"](corner[0], corner[1]));
  context.closePath();
}

function drawSign(context, style, x, y, radius, planned) {
  context.save();
  context.translate(x, y);
  context.beginPath();
  PATHS[style.shape](context, radius);
  context.fillStyle = style.colour;
  context.fill();
  const ringed = planned && radius >= RING_FROM;
  context.lineWidth = ringed ? Math.min(2.5, 0.4 * radius) : 0.8;
  context.strokeStyle = ringed ? "#000" : "rgba(0,0,0,0.55)";
  if (radius >= EDGE_FROM) context.stroke();
  if (style.mark && radius >= 8) {
    context.font = "bold " + Math.round(radius * 1.15) + "px " + FONT;
    context.textAlign = "center";
    context.textBaseline = "middle";
    context.lineWidth = 3;
    context.strokeStyle = "#fff";
    context.strokeText(style.mark, 0, 1);
    context.fillStyle = "#000";
    context.fillText(style.mark, 0, 1);
  }
  context.restore();
}

/** A colour as one little-endian RGBA number. */
function pixelOf(colour) {
  const value = parseInt(colour.slice(1), 16);
  return ((255 << 24) | ((value & 255) << 16) | (value & 0xff00) | (value >> 16)) >>> 0;
}

const TreesLayer = CanvasLayer.extend({
  initialize(x, y, planned, options) {
    CanvasLayer.prototype.initialize.call(this, options);
    this.x = x;
    this.y = y;
    this.planned = planned;
    this.classOf = new Uint8Array(x.length);
    this.shown = new Uint8Array(x.length).fill(1);
    this.order = new Uint32Array(0);
    this.styles = [];
    this.selected = -1;
  },

  /** Colour by another column: later classes are drawn over earlier ones. */
  colour(classOf, styles) {
    this.classOf = classOf;
    this.styles = styles;
    this.sort();
  },

  filter(shown) {
    this.shown = shown;
    this.sort();
  },

  /** Counting sort of the shown trees by class. */
  sort() {
    const starts = new Uint32Array(this.styles.length + 1);
    const { classOf, shown } = this;
    for (let i = 0; i < shown.length; i++) if (shown[i]) starts[classOf[i] + 1]++;
    this.counts = Array.from(starts.subarray(1));
    for (let k = 1; k < starts.length; k++) starts[k] += starts[k - 1];
    this.order = new Uint32Array(starts[starts.length - 1]);
    for (let i = 0; i < shown.length; i++) if (shown[i]) this.order[starts[classOf[i]]++] = i;
    this.redraw();
  },

  inView(view, most) {
    const found = [];
    for (let k = 0; k < this.order.length; k++) {
      const i = this.order[k], x = this.x[i], y = this.y[i];
      if (x < view.west || x > view.east || y < view.north || y > view.south) continue;
      found.push(i);
      if (found.length > most) return null;
    }
    return found;
  },

  draw(context, view) {
    context.setTransform(view.ratio, 0, 0, view.ratio, 0, 0);
    context.clearRect(0, 0, view.width, view.height);
    const few = this.inView(view, FEW_TREES);
    if (few) this.drawSigns(context, view, few);
    else this.drawPixels(context, view);
    if (this.selected >= 0) this.drawSelected(context, view);
  },

  radius(zoom, style) {
    const base = Math.max(1.6, Math.min(11, 1.6 * Math.pow(1.42, zoom - 13)));
    return base * (1 + 0.13 * style.size);
  },

  drawSigns(context, view, trees) {
    trees.forEach((i) => {
      const style = this.styles[this.classOf[i]];
      const x = this.x[i] * view.scale - view.left, y = this.y[i] * view.scale - view.top;
      drawSign(context, style, x, y, this.radius(view.zoom, style), this.planned[i]);
    });
  },

  drawPixels(context, view) {
    const width = context.canvas.width, height = context.canvas.height;
    const image = context.createImageData(width, height);
    const pixels = new Uint32Array(image.data.buffer);
    const colours = this.styles.map((style) => pixelOf(style.colour));
    const sides = this.styles.map((style) =>
      Math.max(1, Math.round(1.7 * view.ratio * this.radius(view.zoom, style) * 0.75))
    );
    const scale = view.scale * view.ratio, left = view.left * view.ratio, top = view.top * view.ratio;
    for (let k = 0; k < this.order.length; k++) {
      const i = this.order[k], style = this.classOf[i], side = sides[style];
      const x = (this.x[i] * scale - left - side / 2) | 0, y = (this.y[i] * scale - top - side / 2) | 0;
      if (x < 0 || y < 0 || x + side >= width || y + side >= height) continue;
      for (let row = y * width + x, end = row + side * width; row < end; row += width) {
        for (let column = 0; column < side; column++) pixels[row + column] = colours[style];
      }
    }
    context.putImageData(image, 0, 0);
  },

  drawSelected(context, view) {
    const i = this.selected;
    const x = this.x[i] * view.scale - view.left, y = this.y[i] * view.scale - view.top;
    [[7, "#fff"], [3, "#000"]].forEach(([width, colour]) => {
      context.beginPath();
      context.arc(x, y, 17, 0, 2 * Math.PI);
      context.lineWidth = width;
      context.strokeStyle = colour;
      context.stroke();
    });
  },

  /** The shown tree nearest to a place within a number of screen pixels, or -1. */
  nearest(latLng, pixels) {
    const point = L.CRS.EPSG3857.latLngToPoint(latLng, 0).multiplyBy(WORLD / 256);
    const reach = (pixels * WORLD) / (256 * Math.pow(2, this._map.getZoom()));
    let best = -1, bestDistance = reach * reach;
    for (let k = 0; k < this.order.length; k++) {
      const i = this.order[k], dx = this.x[i] - point.x, dy = this.y[i] - point.y;
      const distance = dx * dx + dy * dy;
      if (distance < bestDistance) [best, bestDistance] = [i, distance];
    }
    return best;
  },
});
