"use strict";
/* Unpacks what packing.py packed. */

function bytesOf(base64) {
  const text = atob(base64);
  const bytes = new Uint8Array(text.length);
  for (let i = 0; i < bytes.length; i++) bytes[i] = text.charCodeAt(i);
  return bytes;
}

function inflated(bytes) {
  const size = new DataView(bytes.buffer).getUint32(0, true);
  const deflated = bytes.subarray(4);
  if (typeof DecompressionStream === "undefined") {
    return Promise.resolve(tinyInflate(deflated.subarray(2), new Uint8Array(size)));
  }
  const stream = new Blob([deflated]).stream().pipeThrough(new DecompressionStream("deflate"));
  return new Response(stream).arrayBuffer().then((buffer) => new Uint8Array(buffer));
}

/** A column with `text(row)` or `value(row)`, and `codes` where it has a vocabulary. */
function unpackIntegers(entry, raw) {
  const rows = raw.length / entry.bytes;
  const codes = new { 1: Uint8Array, 2: Uint16Array, 4: Uint32Array }[entry.bytes](rows);
  for (let plane = 0; plane < entry.bytes; plane++) {
    const from = plane * rows, shift = 8 * plane;
    for (let i = 0; i < rows; i++) codes[i] |= raw[from + i] << shift;
  }
  const column = { name: entry.name, rows, codes };
  if (entry.path) {
    column.positions = new Float64Array(rows);
    let here = 0;
    for (let i = 0; i < rows; i++) {
      here += codes[i] % 2 ? -(codes[i] + 1) / 2 : codes[i] / 2;
      column.positions[i] = here;
    }
    column.codes = null;
  } else if (entry.vocabulary) {
    column.vocabulary = entry.vocabulary;
    column.text = (row) => entry.vocabulary[codes[row]];
    column.find = (query, most) => {
      const hits = entry.vocabulary.map((word) => word.toLowerCase().includes(query.toLowerCase()));
      const found = [];
      for (let i = 0; i < rows && found.length < most; i++) if (hits[codes[i]]) found.push(i);
      return found;
    };
  } else {
    const first = entry.first || 0;
    column.value = (row) => (codes[row] ? first + (codes[row] - 1) * entry.step : NaN);
  }
  return column;
}

function unpackLines(entry, raw) {
  let starts = new Uint32Array(1024), rows = 1;
  for (let i = 0; i < raw.length; i++) {
    if (raw[i] !== 10) continue;
    if (rows + 1 >= starts.length) {
      const longer = new Uint32Array(starts.length * 2);
      longer.set(starts);
      starts = longer;
    }
    starts[rows++] = i + 1;
  }
  starts[rows] = raw.length + 1;
  const decoder = new TextDecoder();
  return {
    name: entry.name,
    rows,
    find: (query, most) => findLines(raw, starts, rows, query, most),
    text: (row) => decoder.decode(raw.subarray(starts[row], starts[row + 1] - 1)),
  };
}

const lowerLetter = (byte) => (byte >= 65 && byte <= 90 ? byte + 32 : byte);

/** Rows whose line holds the query, as typed, in small letters or in capitals. */
function findLines(raw, starts, rows, query, most) {
  const spellings = new Set([query, query.toLowerCase(), query.toUpperCase()]);
  const wanted = Array.from(spellings, (text) => new TextEncoder().encode(text).map(lowerLetter));
  const found = [];
  for (let row = 0; row < rows && found.length < most; row++) {
    const start = starts[row], end = starts[row + 1] - 1;
    if (wanted.some((bytes) => holds(raw, start, end, bytes))) found.push(row);
  }
  return found;
}

function holds(raw, start, end, bytes) {
  for (let at = start; at <= end - bytes.length; at++) {
    let same = 0;
    while (same < bytes.length && lowerLetter(raw[at + same]) === bytes[same]) same++;
    if (same === bytes.length) return true;
  }
  return false;
}

/** A promise of the columns by name. */
function unpack(id) {
  return inflated(bytesOf(document.getElementById(id).textContent)).then((bytes) => {
    const length = new DataView(bytes.buffer, bytes.byteOffset).getUint32(0, true);
    const header = JSON.parse(new TextDecoder().decode(bytes.subarray(4, 4 + length)));
    const columns = {};
    let start = 4 + length;
    header.forEach((entry) => {
      const raw = bytes.subarray(start, start + entry.length);
      start += entry.length;
      columns[entry.name] = (entry.kind === "lines" ? unpackLines : unpackIntegers)(entry, raw);
    });
    return columns;
  });
}
