"use strict";
/* A crew's week: the map follows the list of stops, and the list the map. */

function showWeek(map, daysId, groundId) {
  addBackdrop(map, dataOf(groundId));
  const days = dataOf(daysId).map((data) => new Day(map, data));
  const bar = {
    previous: document.getElementById("previous"),
    next: document.getElementById("next"),
    position: document.getElementById("position"),
  };
  let open = null;

  function openDay() {
    const wanted = decodeURIComponent(location.hash.slice(1));
    const now = new Date();
    const today = [now.getFullYear(), now.getMonth() + 1, now.getDate()]
      .map((part) => String(part).padStart(2, "0"))
      .join("-");
    const day = days.find((d) => d.id === wanted) || days.find((d) => d.id >= today) || days[0];
    if (open) open.hide();
    open = day;
    day.show();
    tellPosition();
  }

  function go(number) {
    open.select(number);
    tellPosition();
  }

  function tellPosition() {
    const { current, stops } = open;
    bar.previous.disabled = current < 0;
    bar.next.disabled = current >= stops.length - 1;
    bar.next.textContent = current < 0 ? "First stop" : "Next stop";
    bar.position.textContent =
      current < 0 ? stops.length + " stops" : "Stop " + (current + 1) + " of " + stops.length;
  }

  days.forEach((day) => day.onSelect(go));
  bar.next.addEventListener("click", () => go(open.current + 1));
  bar.previous.addEventListener("click", () => go(open.current - 1));
  window.addEventListener("hashchange", openDay);
  document.body.classList.add("script");
  map.invalidateSize();
  openDay();
}

class Day {
  constructor(map, data) {
    this.map = map;
    this.id = data.id;
    this.current = -1;
    this.section = document.getElementById(data.id);
    this.items = Array.from(this.section.querySelectorAll(".stop"));
    this.link = document.querySelector('.day-link[href="#' + data.id + '"]');
    this.stops = data.points.map((point) => latLngOf(point[0], point[1]));
    this.ways = data.legs.map((leg) => {
      const points = pointsOf(leg), way = [];
      for (let i = 0; i < points.length; i += 2) way.push(latLngOf(points[i], points[i + 1]));
      return way;
    });
    this.layer = L.layerGroup();
    this.drawWays();
    this.markers = this.stops.map((place, index) => this.marker(place, index));
    this.highlight = L.polyline([], { color: "#d55e00", weight: 7, interactive: false }).addTo(this.layer);
    this.items.forEach((item, index) => {
      const { lat, lng } = this.stops[index];
      item.querySelector(".way").href = "geo:" + lat.toFixed(6) + "," + lng.toFixed(6);
    });
  }

  drawWays() {
    const drawn = this.ways.filter((way) => way.length);
    L.polyline(drawn, { color: "#ffffff", weight: 8, opacity: 0.9, interactive: false }).addTo(this.layer);
    L.polyline(drawn, { color: "#0b5fa5", weight: 4, interactive: false }).addTo(this.layer);
    drawn.forEach((way) => this.arrow(way));
  }

  /** An arrow head on the middle of a leg's longest stretch, if it is long enough. */
  arrow(way) {
    let best = 0, at = 0;
    for (let i = 1; i < way.length; i++) {
      const length = this.map.distance(way[i - 1], way[i]);
      if (length > best) [best, at] = [length, i];
    }
    if (best < 45) return;
    const from = this.map.project(way[at - 1], 18), to = this.map.project(way[at], 18);
    const angle = (Math.atan2(to.y - from.y, to.x - from.x) * 180) / Math.PI;
    const middle = this.map.unproject(from.add(to).divideBy(2), 18);
    const html = '<span style="transform:rotate(' + angle.toFixed(0) + 'deg)">\u27A4</span>';
    const icon = L.divIcon({ className: "heading", html, iconSize: [14, 14] });
    L.marker(middle, { icon, interactive: false, keyboard: false }).addTo(this.layer);
  }

  marker(place, index) {
    const warned = this.items[index].querySelector(".warns") ? " warned" : "";
    const icon = L.divIcon({ className: "marker" + warned, html: String(index + 1), iconSize: [30, 30] });
    return L.marker(place, { icon, title: "Stop " + (index + 1), riseOnHover: true }).addTo(this.layer);
  }

  onSelect(go) {
    this.markers.forEach((marker, index) => marker.on("click", () => go(index)));
    this.items.forEach((item, index) =>
      item.querySelector(".head").addEventListener("click", () => go(index === this.current ? -1 : index))
    );
  }

  show() {
    this.section.classList.add("open");
    this.link.setAttribute("aria-current", "page");
    this.layer.addTo(this.map);
    this.select(this.current);
  }

  hide() {
    this.section.classList.remove("open");
    this.link.removeAttribute("aria-current");
    this.layer.remove();
  }

  select(index) {
    this.current = index;
    this.items.forEach((item, i) => {
      item.classList.toggle("current", i === index);
      item.querySelector(".head").setAttribute("aria-expanded", String(i === index));
    });
    this.markers.forEach((marker, i) => {
      marker.setZIndexOffset(i === index ? 10000 : 0);
      if (marker.getElement()) marker.getElement().classList.toggle("current", i === index);
    });
    this.highlight.setLatLngs(index >= 0 && this.ways[index] ? this.ways[index] : []);
    if (index < 0) {
      this.map.fitBounds(L.latLngBounds(this.stops), { padding: [40, 40], maxZoom: 18, animate: false });
      this.section.scrollIntoView({ block: "start" });
      return;
    }
    const there = L.latLngBounds([this.stops[index]]);
    if (index > 0) there.extend(this.stops[index - 1]);
    this.map.fitBounds(there, { padding: [60, 60], maxZoom: 18, animate: false });
    this.items[index].scrollIntoView({ block: "start" });
  }
}
