"use strict";
/* The city map: colouring, filters, search and the card of a tree. */

const MOST_FOUND = 12;
/* As in text.py: the texts on the page have none of these. */
const DIRECTION_MARKS = /[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]/g;
const numberText = (value) => value.toLocaleString("en");
const many = (number, word) => numberText(number) + " " + word + (number === 1 ? "" : "s");

function element(tag, properties, ...children) {
  const made = Object.assign(document.createElement(tag), properties);
  children.forEach((child) => made.append(child));
  return made;
}

function byId(id) {
  return document.getElementById(id);
}

function dateOf(days) {
  return new Date(days * 86400000);
}

function dateText(days) {
  if (Number.isNaN(days)) return "";
  const format = { day: "numeric", month: "long", year: "numeric", timeZone: "UTC" };
  return dateOf(days).toLocaleDateString("en-GB", format);
}

function showCity(map, aboutId, treesId, groundId) {
  const ground = dataOf(groundId);
  addBackdrop(map, ground);
  map.createPane("trees").style.zIndex = 400;
  unpack(treesId)
    .then((columns) => {
      new City(map, dataOf(aboutId), columns);
      byId("loading").remove();
    })
    .catch((error) => {
      byId("loading").textContent = "The trees cannot be unpacked: " + error.message;
      throw error;
    });
}

class City {
  constructor(map, about, columns) {
    this.map = map;
    this.about = about;
    this.columns = columns;
    this.trees = columns.x.rows;
    const planned = columns.planned_on.codes;
    const place = [columns.x.positions, columns.y.positions];
    this.layer = new TreesLayer(place[0], place[1], planned, { pane: "trees" });
    this.choice = "all";
    this.buildColourings();
    this.buildFilters();
    this.buildSearch();
    this.showAll();
    this.layer.addTo(map);
    map.on("click", (event) => this.select(this.layer.nearest(event.latlng, 16)));
    document.addEventListener("keydown", (event) => {
      if (event.key === "Escape") this.select(-1);
    });
    byId("toggle").addEventListener("click", () => this.togglePanel());
    window.addEventListener("hashchange", () => this.follow());
    this.follow();
  }

  /** Show the whole city. */
  showAll() {
    if (!this.trees) return;
    this.showTrees(Array.from({ length: this.trees }, (_, i) => i));
  }

  showTrees(rows) {
    const { x, y } = this.layer;
    let west = Infinity, north = Infinity, east = -Infinity, south = -Infinity;
    for (const i of rows) {
      if (x[i] < west) west = x[i];
      if (x[i] > east) east = x[i];
      if (y[i] < north) north = y[i];
      if (y[i] > south) south = y[i];
    }
    const bounds = L.latLngBounds(latLngOf(west, north), latLngOf(east, south));
    this.map.fitBounds(bounds, { padding: [20, 20], maxZoom: 18, animate: false });
  }

  togglePanel(open) {
    const isOpen = byId("panel").classList.toggle("open", open);
    byId("toggle").setAttribute("aria-expanded", String(isOpen));
    byId("toggle").textContent = isOpen ? "Show the map" : "Legend, search, filter";
  }

  /* Colouring */

  buildColourings() {
    this.colourButtons = this.about.colourings.map((colouring) => {
      const button = element("button", { type: "button", textContent: colouring.label });
      button.addEventListener("click", () => this.colour(colouring));
      byId("colourings").append(button);
      return button;
    });
    this.colour(this.about.colourings[0]);
  }

  colour(colouring) {
    this.colouring = colouring;
    this.about.colourings.forEach((other, k) =>
      this.colourButtons[k].setAttribute("aria-pressed", String(other === colouring))
    );
    this.layer.colour(this.classes(colouring), colouring.classes);
    this.tellLegend();
  }

  /** The class of each tree. */
  classes(colouring) {
    const column = this.columns[colouring.column];
    const classOf = new Uint8Array(this.trees);
    if (column.vocabulary) return classOf.map((_, i) => column.codes[i]);
    if (colouring.classes[0].month === undefined) {
      return classOf.map((_, i) => column.codes[i] - 1);
    }
    const known = new Map([[0, 0]]);
    column.codes.forEach((code, i) => {
      if (!known.has(code)) {
        const month = dateOf(column.value(i)).toISOString().slice(0, 7);
        known.set(code, colouring.classes.findIndex((entry) => entry.month === month));
      }
      classOf[i] = known.get(code);
    });
    return classOf;
  }

  tellLegend() {
    const { classes } = this.colouring;
    const entries = classes.map((style, k) => {
      const label = element("span", { textContent: style.label });
      const number = element("span", { className: "number", textContent: numberText(this.layer.counts[k]) });
      return element("li", {}, this.sign(style), label, number);
    });
    byId("legend").replaceChildren(...entries);
    const short = classes.map((style) => element("li", {}, this.sign(style), style.short || style.label));
    byId("key").replaceChildren(...short);
  }

  sign(style) {
    const canvas = element("canvas", { width: 48, height: 48 });
    canvas.style.width = canvas.style.height = "24px";
    const context = canvas.getContext("2d");
    context.scale(2, 2);
    drawSign(context, style, 12, 12, 5.5 + style.size, false);
    canvas.setAttribute("aria-hidden", "true");
    return canvas;
  }

  /* Filters */

  buildFilters() {
    const choices = [["all", "All"], ["planned", "Planned"], ["rest", "Not planned"]];
    this.choiceButtons = choices.map(([value, label]) => {
      const button = element("button", { type: "button", textContent: label, value });
      button.addEventListener("click", () => {
        this.choice = value;
        this.filter();
      });
      byId("planned").append(button);
      return button;
    });
    this.selects = this.about.filters.map((filter) => this.buildSelect(filter)).filter(Boolean);
    byId("reset").addEventListener("click", () => {
      this.choice = "all";
      this.selects.forEach((select) => (select.value = ""));
      this.filter();
    });
    this.filter();
  }

  buildSelect({ column, label, empty }) {
    const { vocabulary } = this.columns[column];
    if (!vocabulary || vocabulary.length < 2) return null;
    const select = element("select", { id: "filter-" + column });
    select.append(element("option", { value: "", textContent: "all" }));
    const entries = vocabulary.map((word, code) => [word || empty || "not known", code]);
    const ordered = ["age_class", "recall_state"].includes(column);
    if (!ordered) entries.sort((a, b) => a[0].localeCompare(b[0]));
    entries.forEach(([word, code]) => select.append(element("option", { value: code, textContent: word })));
    select.addEventListener("change", () => this.filter());
    select.column = column;
    byId("filters").append(element("label", { htmlFor: select.id, textContent: label }), select);
    return select;
  }

  filter() {
    const wanted = this.selects
      .filter((select) => select.value !== "")
      .map((select) => [this.columns[select.column].codes, Number(select.value)]);
    const planned = this.columns.planned_on.codes;
    const shown = new Uint8Array(this.trees);
    let count = 0;
    for (let i = 0; i < shown.length; i++) {
      if (this.choice === "planned" && !planned[i]) continue;
      if (this.choice === "rest" && planned[i]) continue;
      if (!wanted.every(([codes, code]) => codes[i] === code)) continue;
      shown[i] = 1;
      count++;
    }
    this.choiceButtons.forEach((button) =>
      button.setAttribute("aria-pressed", String(button.value === this.choice))
    );
    byId("reset").disabled = count === this.trees;
    byId("count").textContent = numberText(count) + " of " + numberText(this.trees) + " trees shown";
    this.layer.filter(shown);
    this.tellLegend();
  }

  /* Search */

  buildSearch() {
    let waiting = 0;
    byId("query").addEventListener("input", () => {
      clearTimeout(waiting);
      waiting = setTimeout(() => this.search(byId("query").value), 120);
    });
    byId("search").addEventListener("submit", (event) => {
      event.preventDefault();
      this.search(byId("query").value);
      const first = byId("found").querySelector("button");
      if (first) first.click();
    });
  }

  search(text) {
    const query = text.normalize("NFC").replace(DIRECTION_MARKS, "").trim();
    const found = query ? [...this.findStreets(query), ...this.findTrees(query)] : [];
    const entries = found.slice(0, MOST_FOUND).map(({ label, detail, go }) => {
      const button = element("button", { type: "button" }, element("b", {}, element("bdi", { textContent: label })));
      button.append(element("span", { className: "quiet", textContent: " " + detail }));
      button.addEventListener("click", () => {
        this.togglePanel(false);
        go();
      });
      return element("li", {}, button);
    });
    if (query && !entries.length) {
      entries.push(element("li", { className: "none", textContent: "Nothing found. Try a part of the name or id." }));
    }
    byId("found").replaceChildren(...entries);
  }

  findStreets(query) {
    const { vocabulary, codes } = this.columns.street;
    if (!vocabulary) return [];
    return vocabulary
      .map((name, code) => [name, code])
      .filter(([name]) => name.toLowerCase().includes(query.toLowerCase()))
      .sort((a, b) => a[0].length - b[0].length)
      .slice(0, MOST_FOUND - 4)
      .map(([name, code]) => {
        const rows = [];
        for (let i = 0; i < codes.length; i++) if (codes[i] === code) rows.push(i);
        return { label: name, detail: many(rows.length, "tree"), go: () => this.showTrees(rows) };
      });
  }

  findTrees(query) {
    const ids = this.columns.tree_id.find(query, 200);
    ids.sort((a, b) => this.text("tree_id", a).length - this.text("tree_id", b).length);
    const addresses = this.columns.address.find(query, MOST_FOUND);
    return [...new Set([...ids, ...addresses])].slice(0, MOST_FOUND).map((row) => ({
      label: this.text("tree_id", row),
      detail: this.place(row),
      go: () => this.goTo(row),
    }));
  }

  /** Follow a link such as city.html#tree=17. */
  follow() {
    const wanted = decodeURIComponent(location.hash.slice(1));
    if (!wanted.startsWith("tree=")) return;
    const id = wanted.slice(5);
    const rows = this.columns.tree_id.find(id, Infinity);
    const row = rows.find((i) => this.text("tree_id", i) === id);
    if (row !== undefined) this.goTo(row);
  }

  goTo(row) {
    const zoom = Math.max(18, this.map.getZoom());
    this.map.setView(latLngOf(this.layer.x[row], this.layer.y[row]), zoom, { animate: false });
    this.select(row);
  }

  /* The card */

  text(column, row) {
    return this.columns[column].text(row);
  }

  value(column, row) {
    return this.columns[column].value(row);
  }

  place(row) {
    const address = this.text("address", row), street = this.text("street", row);
    if (address.toLowerCase().includes(street.toLowerCase())) return address;
    return (address + " " + street).trim();
  }

  select(row) {
    this.layer.selected = row;
    this.layer.redraw();
    const card = byId("card");
    card.classList.toggle("hidden", row < 0);
    if (row < 0) return;
    const close = element("button", { type: "button", className: "close", textContent: "\u00d7" });
    close.setAttribute("aria-label", "Close");
    close.addEventListener("click", () => this.select(-1));
    card.replaceChildren(close, ...this.cardOf(row));
    card.scrollTop = 0;
    card.focus({ preventScroll: true });
    this.uncover(row, card);
  }

  /** Move the map if the card lies over the tree. */
  uncover(row, card) {
    const frame = this.map.getContainer().getBoundingClientRect();
    const box = card.getBoundingClientRect();
    const place = latLngOf(this.layer.x[row], this.layer.y[row]);
    const point = this.map.latLngToContainerPoint(place).add([frame.left, frame.top]);
    const margin = 30;
    if (point.x > box.right + margin || point.y < box.top - margin || point.y > box.bottom + margin) return;
    const above = box.width > 0.8 * frame.width;
    const moved = above ? [0, point.y - (frame.top + box.top) / 2] : [point.x - box.right - 80, 0];
    this.map.panBy(moved, { animate: false });
  }

  cardOf(row) {
    const common = this.text("common_name", row), species = this.text("species", row);
    const title = element("h2", {}, element("bdi", { textContent: common || species }));
    const facts = [
      ["Tree", this.text("tree_id", row)],
      ["Place", [this.place(row), this.text("ward", row)].filter(Boolean).join(", ")],
      ["Species", species],
      ["Trunk", this.trunk(row)],
      ["Age class", this.text("age_class", row)],
      ["Condition", this.text("condition", row)],
    ];
    const blocks = [title, this.list(facts), this.heading("What the plan says"), this.decision(row)];
    blocks.push(this.heading("Priority"), ...this.priority(row));
    blocks.push(this.heading("Pruning"), this.list(this.pruning(row)));
    blocks.push(this.heading("Recall"), this.list(this.recall(row)));
    const cautions = this.text("cautions", row);
    if (cautions) blocks.push(element("div", { className: "caution" }, element("bdi", { textContent: cautions })));
    return blocks;
  }

  heading(textContent) {
    return element("h3", { textContent });
  }

  list(pairs) {
    const list = element("dl", {});
    pairs
      .filter((pair) => pair[1])
      .forEach(([name, value]) =>
        list.append(
          element("dt", { textContent: name }),
          element("dd", {}, element("bdi", { textContent: value }))
        )
      );
    return list;
  }

  trunk(row) {
    const width = this.value("dbh", row), unit = this.about.units === "us" ? " in" : " cm";
    const measured = Number.isNaN(width) ? "not measured" : width.toFixed(1) + unit + " at breast height";
    return measured;
  }

  decision(row) {
    const box = element("div", {});
    const day = this.value("planned_on", row);
    if (!Number.isNaN(day)) {
      const link = element("a", { textContent: dateText(day) });
      link.href = this.text("page", row).split("#").map(encodeURI).join("#");
      const crew = element("bdi", { textContent: this.text("crew", row) });
      box.append(element("p", { className: "answer" }, "Planned for ", link, ", ", crew));
    } else {
      box.append(element("p", { className: "answer", textContent: "Not in this plan." }));
    }
    const reason = this.text("reason", row);
    if (reason) box.append(element("p", {}, element("bdi", { textContent: reason })));
    return box;
  }

  priority(row) {
    const parts = [
      ["Waiting", "priority_waiting"],
      ["Overdue", "priority_overdue"],
      ["What is below", "priority_target"],
      ["Requests", "priority_request"],
    ].map(([label, column]) => [label, this.value(column, row) || 0]);
    const most = Math.max(...parts.map((part) => part[1]), 1e-9);
    const total = parts.reduce((sum, part) => sum + part[1], 0);
    const digits = (value) => (value < 1 ? value.toFixed(2) : value.toPrecision(3));
    const rows = parts.map(([label, value]) => {
      const fill = element("span", {});
      fill.style.width = (100 * value) / most + "%";
      const number = element("span", { className: "number", textContent: digits(value) });
      return element("div", { className: "part" }, label, element("span", { className: "bar" }, fill), number);
    });
    return [element("p", {}, element("b", { textContent: digits(total) }), " in all, made up of"), ...rows];
  }

  pruning(row) {
    const percent = (name) => this.value(name, row) + " %";
    const visits = this.value("visits_needed", row);
    const defect = this.text("worst_defect", row);
    const prior = this.value("prior", row);
    const seen = prior ? " (assumed: none is on record)" : " (on record)";
    const dose = (prior ? "expect " : "take ") + percent("dose") + " of the live crown, never over " + percent("dose_limit");
    return [
      ["Worst defect", defect ? defect + seen : "none known"],
      ["Work", this.text("work", row)],
      ["This visit", this.value("dose", row) ? dose : "no live wood"],
      ["In all", (this.value("dose_needed", row) ? "about " + percent("dose_needed") + " in " : "") + many(visits, "visit")],
      ["Time", this.value("minutes", row) + " min for a crew"],
      ["Note", this.text("note", row)],
    ];
  }

  recall(row) {
    const due = this.value("due", row);
    return [
      ["State", this.text("recall_state", row)],
      ["Not before", dateText(due - this.value("early", row))],
      ["Due", dateText(due)],
      ["Overdue after", dateText(due + this.value("late", row))],
      ["Asked for by", this.value("mandatory", row) ? dateText(this.value("deadline", row)) || "a request" : ""],
    ];
  }
}
