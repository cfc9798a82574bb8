"use strict";
// Line charts and plans in SVG, drawn at the pixel size of their place.

const SVG = "http://www.w3.org/2000/svg";

function svg(tag, attributes = {}, ...children) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

// Round numbers from low to high, at most `most` steps.
function roundTicks(low, high, most) {
  const need = (high - low) / most || 1;
  const power = 10 ** Math.floor(Math.log10(need));
  const step = [1, 2, 2.5, 5, 10].map((m) => m * power).find((s) => s >= need * (1 - 1e-9));
  const ticks = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + 1e-9 * step; k++) ticks.push(k * step);
  return ticks;
}

function plain(value, decimals = 6) {
  if (Math.abs(value) >= 1e7) return value.toExponential(1);
  return Number(value.toPrecision(decimals)).toLocaleString("en-US", { maximumFractionDigits: 4 });
}

// One chart. All numbers in display units.
//   x: {values, from, to, title, ends}  from > to draws a pull against the route's stations, so that
//                                       the feed is on the left; ends: what stands at either side
//   y: {values, title}                  the curve; null parts it
//   limits: [{values, words, kind}]     lines of their own, the one to stay below first; those far
//                                       above the curve are named in the key alone
//   bands: [[x, x, words, number], ...] stretches such as bends
//   over: [bool, ...]                   where the curve is above the first of the limits
//   zero: false                         the axis need not begin at zero
function lineChart(place, { x, y, limits = [], bands = [], over = [], zero = true }) {
  const width = Math.max(220, place.clientWidth);
  const height = Math.max(96, place.clientHeight);
  const known = y.values.filter((v) => v !== null && Number.isFinite(v));
  let low = zero ? 0 : Math.min(...known);
  let high = Math.max(...known, zero ? 1e-9 : -Infinity);
  const lines = limits.map((l) => ({ ...l, told: l.values.filter((v) => v !== null && Number.isFinite(v)) })).filter((l) => l.told.length);
  const near = lines.filter((l) => Math.min(...l.told) <= 2.5 * high);
  const reach = 2.5 * high;
  for (const l of near) high = Math.max(high, Math.min(Math.max(...l.told), reach));
  if (high - low < 1e-9) high = low + 1;
  high += (high - low) * 0.06;
  if (!zero) low -= (high - low) * 0.06;
  const keys = lines.map((l) => ({ ...l, seen: near.includes(l), words: near.includes(l) ? l.words : `${l.words}: above` }));
  const rows = keyRows(keys, wide(y.title, true), width - 18);
  const ends = x.ends.map((words) => cut(words, (width - 30) / 2));
  const longest = Math.max(...ends.map((words) => wide(words, true)));
  const named = wide(x.title) / 2 + longest + 20 > width / 2; // the axis' title in a row of its own
  const pad = { left: 58, right: 14, top: 20 + 16 * (rows.length - 1) + (bands.length ? 14 : 0),
    bottom: 20 + 15 + (named ? 15 : 0) };
  const px = (v) => pad.left + ((v - x.from) / (x.to - x.from || 1)) * (width - pad.left - pad.right);
  const py = (v) => height - pad.bottom - ((v - low) / (high - low)) * (height - pad.top - pad.bottom);
  const root = svg("svg", { class: "chart", viewBox: `0 0 ${width} ${height}`, height, role: "img",
    "aria-label": `${y.title}, ${x.title}` });
  const foot = height - pad.bottom;
  root.append(...bandMarks(bands, px, pad.top, foot));
  for (const t of roundTicks(low, high, Math.max(2, Math.floor(height / 44)))) {
    root.append(svg("line", { class: "axis", x1: pad.left, x2: width - pad.right, y1: py(t), y2: py(t) }));
    root.append(text(pad.left - 6, py(t) + 4, plain(t), "end"));
  }
  const [xa, xb] = [Math.min(x.from, x.to), Math.max(x.from, x.to)];
  for (const t of roundTicks(xa, xb, Math.max(2, Math.floor(width / 110)))) {
    root.append(svg("line", { class: "axis", x1: px(t), x2: px(t), y1: foot, y2: foot + 4 }));
    root.append(text(px(t), foot + 16, plain(t), "middle"));
  }
  root.append(text(4, 12, y.title, "start", "title"));
  rows.forEach((row, i) => root.append(...keyOf(row, 12 + 16 * i, width - pad.right)));
  root.append(...footOf());
  root.append(svg("path", { class: "curve", d: pathOf(x.values, y.values, px, py) }));
  for (const l of [...near].reverse()) {
    const shown = l.values.map((v) => (v === null ? null : Math.min(v, high)));
    root.append(svg("path", { class: `limit ${l.kind || ""}`, d: pathOf(x.values, shown, px, py) }));
  }
  root.append(svg("path", { class: "over", d: pathOf(x.values, y.values.map((v, i) => (over[i] ? v : null)), px, py) }));
  place.replaceChildren(root);
  return { root, px, py, width, height, pad };

  // What each end is, and between them what the axis shows.
  function footOf() {
    const at = foot + 31;
    const parts = ends.map((words, i) => text(i ? width - pad.right : 4, at, words, i ? "end" : "start", "end-name"));
    return [...parts, text(width / 2, named ? at + 15 : at, x.title, "middle", "axis-title")];
  }
}

// The width of words as a chart prints them.
const wide = (() => {
  const pen = document.createElement("canvas").getContext("2d");
  return (words, bold = false) => {
    pen.font = `${bold ? 650 : 400} 12px ${getComputedStyle(document.body).fontFamily}`;
    return pen.measureText(words).width;
  };
})();

const keyWide = (k) => wide(k.words, true) + (k.seen ? 28 : 0) + 14;

// The keys by rows: beside the title as far as there is room, the rest below.
function keyRows(keys, title, width) {
  const found = [[]];
  let taken = title;
  for (const k of keys) {
    if (taken + keyWide(k) > width) {
      found.push([]);
      taken = 0;
    }
    found[found.length - 1].push(k);
    taken += keyWide(k);
  }
  return found;
}

// The lines by name, in a row that ends at the right.
function keyOf(keys, y, right) {
  const parts = [];
  let at = right;
  for (const k of [...keys].reverse()) {
    const begin = at - wide(k.words, true);
    if (k.seen) parts.push(svg("line", { class: `limit ${k.kind || ""}`, x1: begin - 28, x2: begin - 5, y1: y - 4, y2: y - 4 }));
    parts.push(text(begin, y, k.words, "start", "limit-text"));
    at = begin - (k.seen ? 28 : 0) - 14;
  }
  return parts;
}

// Bends as bands with their numbers above, as far as there is room for those.
function bandMarks(bands, px, top, foot) {
  const placed = bands.map(([a, b, words, number]) => [...[px(a), px(b)].sort((p, q) => p - q), words, number]).sort((p, q) => p[0] - q[0]);
  const shades = placed.map(([l, r, words]) =>
    svg("rect", { class: "bend", x: l, y: top, width: Math.max(2, r - l), height: foot - top },
      Object.assign(svg("title"), { textContent: words })));
  const named = (before) => {
    let taken = -Infinity;
    return placed.flatMap(([l, r, , number]) => {
      const middle = l + Math.max(2, r - l) / 2;
      const half = wide(before + number) / 2 + 3;
      if (middle - half <= taken) return [];
      taken = middle + half;
      return [text(middle, top - 4, before + number, "middle", "bend-number")];
    });
  };
  const long = named("bend ");
  return [...shades, ...(long.length === placed.length ? long : named(""))];
}

// As much of a name as there is room for.
function cut(words, room) {
  let kept = words;
  while (kept.length > 6 && wide(kept, true) > room) kept = `${kept.slice(0, -2)}…`;
  return kept;
}

function text(x, y, words, anchor, kind = "") {
  const element = svg("text", { x, y, "text-anchor": anchor, class: kind });
  element.textContent = words;
  return element;
}

function pathOf(xs, ys, px, py) {
  let d = "";
  let pen = "M";
  ys.forEach((v, i) => {
    if (v === null || !Number.isFinite(v)) {
      pen = "M";
      return;
    }
    d += `${pen}${px(xs[i]).toFixed(1)} ${py(v).toFixed(1)}`;
    pen = "L";
  });
  return d;
}

// A plan of the route, each piece in its colour; for browsers without 3D, and for no other use.
function planPicture(place, line, colourAt, ends) {
  const width = Math.max(240, place.clientWidth);
  const height = Math.max(150, place.clientHeight);
  const step = Math.max(1, Math.ceil(line.count / 1500));
  const keep = [];
  for (let i = 0; i < line.count; i += step) keep.push(i);
  if (keep[keep.length - 1] !== line.count - 1) keep.push(line.count - 1);
  const xs = keep.map((i) => line.xyz[3 * i]);
  const ys = keep.map((i) => line.xyz[3 * i + 1]);
  const [x0, x1] = [Math.min(...xs), Math.max(...xs)];
  const [y0, y1] = [Math.min(...ys), Math.max(...ys)];
  const scale = Math.min((width - 130) / (x1 - x0 || 1), (height - 70) / (y1 - y0 || 1));
  const px = (v) => width / 2 + (v - (x0 + x1) / 2) * scale;
  const py = (v) => height / 2 - (v - (y0 + y1) / 2) * scale;
  const root = svg("svg", { class: "chart", viewBox: `0 0 ${width} ${height}`, height, role: "img", "aria-label": "Plan of the route" });
  root.append(text(4, 14, "Plan, north up", "start", "title"));
  for (let k = 0; k < keep.length - 1; k++) {
    root.append(svg("line", { x1: px(xs[k]), y1: py(ys[k]), x2: px(xs[k + 1]), y2: py(ys[k + 1]),
      stroke: colourAt(keep[k + 1]), "stroke-width": 6, "stroke-linecap": "round" }));
  }
  const last = keep.length - 1;
  [[0, ends[0]], [last, ends[1]]].forEach(([k, words], n) => {
    const apart = Math.abs(px(xs[0]) - px(xs[last])) > 40 || Math.abs(py(ys[0]) - py(ys[last])) > 40;
    root.append(svg("circle", { class: "dot", cx: px(xs[k]), cy: py(ys[k]), r: 7 }));
    const x = Math.min(width - 60, Math.max(60, px(xs[k])));
    root.append(text(x, py(ys[k]) + (n && !apart ? -16 : 24), words, "middle", "halo"));
  });
  place.replaceChildren(root);
}
