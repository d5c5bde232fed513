"use strict";
/* The ground that every map is drawn on: canvas layers in world units (see backdrop.py). */

const WORLD = Math.pow(2, 28);

function dataOf(id) {
  return JSON.parse(document.getElementById(id).textContent);
}

function latLngOf(x, y) {
  return L.CRS.EPSG3857.pointToLatLng(L.point((x / WORLD) * 256, (y / WORLD) * 256), 0);
}

/** Undo backdrop.steps: a first point and then steps. */
function pointsOf(steps) {
  const points = new Float64Array(steps.length);
  for (let i = 0; i < steps.length; i++) points[i] = steps[i] + (i > 1 ? points[i - 2] : 0);
  return points;
}

function boxOf(points) {
  let west = Infinity, north = Infinity, east = -Infinity, south = -Infinity;
  for (let i = 0; i < points.length; i += 2) {
    west = Math.min(west, points[i]);
    east = Math.max(east, points[i]);
    north = Math.min(north, points[i + 1]);
    south = Math.max(south, points[i + 1]);
  }
  return { west, north, east, south };
}

/** A canvas that covers the view and is drawn anew after every move. */
const CanvasLayer = L.Renderer.extend({
  options: { padding: 0.15 },

  _initContainer() {
    this._container = document.createElement("canvas");
    this._container.setAttribute("aria-hidden", "true");
  },

  _destroyContainer() {
    this._container.remove();
    this._container = null;
  },

  _update() {
    if (this._map._animatingZoom && this._bounds) return;
    L.Renderer.prototype._update.call(this);
    const size = this._bounds.getSize();
    const ratio = Math.min(window.devicePixelRatio || 1, 2);
    const canvas = this._container;
    canvas.width = size.x * ratio;
    canvas.height = size.y * ratio;
    canvas.style.width = size.x + "px";
    canvas.style.height = size.y + "px";
    L.DomUtil.setPosition(canvas, this._bounds.min);
    const corner = this._map.getPixelOrigin().add(this._bounds.min);
    const scale = (256 * Math.pow(2, this._zoom)) / WORLD;
    const view = {
      zoom: this._zoom,
      scale,
      ratio,
      left: corner.x,
      top: corner.y,
      width: size.x,
      height: size.y,
      west: corner.x / scale,
      north: corner.y / scale,
      east: (corner.x + size.x) / scale,
      south: (corner.y + size.y) / scale,
    };
    this.draw(canvas.getContext("2d"), view);
  },

  redraw() {
    if (this._map) this._update();
  },
});

const INK = "#4a4a45";
const FONT = "system-ui, -apple-system, 'Segoe UI', Roboto, sans-serif";

const BackdropLayer = CanvasLayer.extend({
  initialize(data, options) {
    CanvasLayer.prototype.initialize.call(this, options);
    const shapes = (entries) =>
      entries.map((entry) => ({
        name: entry[0],
        parts: entry.slice(1).map((part) => {
          const points = pointsOf(part);
          return { points, box: boxOf(points) };
        }),
      }));
    this.streets = shapes(data.streets);
    this.wards = shapes(data.wards);
    this.parks = shapes(data.parks);
    this.depots = data.depots;
  },

  clear(context, view) {
    context.setTransform(view.ratio, 0, 0, view.ratio, 0, 0);
    context.clearRect(0, 0, view.width, view.height);
    context.lineJoin = context.lineCap = "round";
  },

  draw(context, view) {
    this.clear(context, view);
    this.fill(context, view, this.parks, "#dcebd3");
    this.drawStreets(context, view);
    this.drawWards(context, view);
  },

  trace(context, view, entries) {
    context.beginPath();
    entries.forEach((entry) =>
      entry.parts.forEach(({ points, box }) => {
        if (box.west > view.east || box.east < view.west) return;
        if (box.north > view.south || box.south < view.north) return;
        for (let i = 0; i < points.length; i += 2) {
          const x = points[i] * view.scale - view.left;
          const y = points[i + 1] * view.scale - view.top;
          if (i) context.lineTo(x, y);
          else context.moveTo(x, y);
        }
      })
    );
  },

  fill(context, view, entries, colour) {
    this.trace(context, view, entries);
    context.fillStyle = colour;
    context.fill("evenodd");
  },

  stroke(context, colour, width) {
    context.strokeStyle = colour;
    context.lineWidth = width;
    context.stroke();
  },

  drawStreets(context, view) {
    this.trace(context, view, this.streets);
    const width = Math.max(0.8, Math.pow(1.75, view.zoom - 14));
    if (view.zoom < 14) {
      this.stroke(context, "#c9c6bd", width);
      return;
    }
    this.stroke(context, "#c4c1b8", Math.min(width, 22) + 1.6);
    this.stroke(context, "#ffffff", Math.min(width, 22));
  },

  drawWards(context, view) {
    this.trace(context, view, this.wards);
    context.setLineDash([9, 4, 2, 4]);
    this.stroke(context, "#8f8a9c", 1.4);
    context.setLineDash([]);
  },
});

/** Names and depots: above the routes, below the stops. */
const NameLayer = BackdropLayer.extend({
  draw(context, view) {
    this.clear(context, view);
    const taken = [];
    this.depots.forEach((depot) => this.drawDepot(context, view, depot, taken));
    if (view.zoom < 16) this.nameAreas(context, view, this.wards, taken);
    if (view.zoom >= 14) this.nameStreets(context, view, taken);
  },

  drawDepot(context, view, depot, taken) {
    const x = depot[1] * view.scale - view.left;
    const y = depot[2] * view.scale - view.top;
    const half = view.zoom < 13 ? 6 : 9;
    context.fillStyle = "#222";
    context.fillRect(x - half, y - half, 2 * half, 2 * half);
    context.fillStyle = "#fff";
    context.font = "bold " + Math.round(1.45 * half) + "px " + FONT;
    context.textAlign = "center";
    context.textBaseline = "middle";
    context.fillText("D", x, y + 0.5);
    taken.push([x - half - 2, y - half - 2, x + half + 2, y + half + 2]);
    if (view.zoom >= 13) this.label(context, depot[0], x, y + 19, 0, taken);
  },

  nameAreas(context, view, entries, taken) {
    context.font = "600 14px " + FONT;
    entries.forEach((entry) => {
      const box = boxOf(entry.parts.length ? entry.parts[0].points : []);
      const x = ((box.west + box.east) / 2) * view.scale - view.left;
      const y = ((box.north + box.south) / 2) * view.scale - view.top;
      const room = (box.east - box.west) * view.scale;
      if (context.measureText(entry.name).width < room) {
        this.label(context, entry.name, x, y, 0, taken, "600 14px " + FONT);
      }
    });
  },

  nameStreets(context, view, taken) {
    const font = (view.zoom >= 17 ? 13 : 11) + "px " + FONT;
    context.font = font;
    this.streets.forEach((street) => {
      if (!street.name) return;
      const width = context.measureText(street.name).width;
      const placed = [];
      street.parts.forEach(({ points, box }) => {
        if (box.west > view.east || box.east < view.west) return;
        if (box.north > view.south || box.south < view.north) return;
        const place = this.straightPlace(points, width + 8, view, placed);
        if (place && this.label(context, street.name, place.x, place.y, place.angle, taken, font)) {
          placed.push(place);
        }
      });
    });
  },

  /** The nearly straight stretch nearest to the view's middle that is long enough for a name. */
  straightPlace(points, width, view, placed) {
    let best = null;
    for (let i = 0; i + 2 < points.length; i += 2) {
      const end = straightEnd(points, i, width / view.scale);
      const inside = clip(
        points[i] * view.scale - view.left, points[i + 1] * view.scale - view.top,
        points[end] * view.scale - view.left, points[end + 1] * view.scale - view.top,
        view.width, view.height
      );
      if (!inside) continue;
      const [ax, ay, bx, by] = inside;
      if (Math.hypot(bx - ax, by - ay) < width) continue;
      const x = (ax + bx) / 2, y = (ay + by) / 2;
      if (placed.some((other) => Math.hypot(other.x - x, other.y - y) < 260)) continue;
      const far = Math.hypot(x - view.width / 2, y - view.height / 2);
      if (best && best.far <= far) continue;
      let angle = Math.atan2(by - ay, bx - ax);
      if (angle > Math.PI / 2) angle -= Math.PI;
      if (angle <= -Math.PI / 2) angle += Math.PI;
      best = { x, y, angle, far };
    }
    return best;
  },

  /** Write a text with a halo where no other text stands; whether there was room. */
  label(context, text, x, y, angle, taken, font) {
    context.font = font || "12px " + FONT;
    const half = context.measureText(text).width / 2 + 3;
    const wide = Math.abs(Math.cos(angle)) * half + 7;
    const high = Math.abs(Math.sin(angle)) * half + 7;
    const box = [x - wide, y - high, x + wide, y + high];
    const hit = (o) => o[0] < box[2] && o[2] > box[0] && o[1] < box[3] && o[3] > box[1];
    if (taken.some(hit)) return false;
    taken.push(box);
    context.save();
    context.translate(x, y);
    context.rotate(angle);
    context.textAlign = "center";
    context.textBaseline = "middle";
    context.strokeStyle = "rgba(255,255,255,0.9)";
    context.lineWidth = 3.5;
    context.strokeText(text, 0, 0);
    context.fillStyle = INK;
    context.fillText(text, 0, 0);
    context.restore();
    return true;
  },
});

const MOST_BEND = (15 * Math.PI) / 180;

/** Where a path from point i is long enough for a name, or bends too much to go on. */
function straightEnd(points, i, enough) {
  const heading = (k) => Math.atan2(points[k + 3] - points[k + 1], points[k + 2] - points[k]);
  const first = heading(i);
  let end = i + 2;
  while (end + 2 < points.length) {
    if (Math.hypot(points[end] - points[i], points[end + 1] - points[i + 1]) >= enough) break;
    const turn = heading(end) - first;
    if (Math.cos(turn) < Math.cos(MOST_BEND)) break;
    end += 2;
  }
  return end;
}

/** The part of a segment inside 0..width, 0..height (Liang and Barsky), or null. */
function clip(ax, ay, bx, by, width, height) {
  let from = 0, to = 1;
  const dx = bx - ax, dy = by - ay;
  const edges = [[-dx, ax], [dx, width - ax], [-dy, ay], [dy, height - ay]];
  for (const [slope, room] of edges) {
    if (slope === 0 && room < 0) return null;
    if (slope < 0) from = Math.max(from, room / slope);
    if (slope > 0) to = Math.min(to, room / slope);
  }
  return from < to ? [ax + from * dx, ay + from * dy, ax + to * dx, ay + to * dy] : null;
}

function addBackdrop(map, data) {
  [["ground", 250], ["names", 450]].forEach(([name, height]) => {
    map.createPane(name).style.zIndex = height;
    map.getPane(name).style.pointerEvents = "none";
  });
  const us = data.units === "us";
  L.control.zoom({ position: "topright" }).addTo(map);
  L.control.scale({ position: "bottomright", imperial: us, metric: !us }).addTo(map);
  new BackdropLayer(data, { pane: "ground" }).addTo(map);
  new NameLayer(data, { pane: "names" }).addTo(map);
}
