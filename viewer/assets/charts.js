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
//   x: {values, from, to, title}       from > to draws a pull against the route's stations
//   y: {values, title}                 the curve; null parts it
//   limit: {values, words} or null     a line of its own; left out where far above the curve
//   bands: [[x, x, words], ...]        stretches such as bends
//   level: true                        the axis need not begin at zero, steps equal to those of x
function lineChart(place, { x, y, limit = null, bands = [], zero = true }) {
  const width = Math.max(220, place.clientWidth);
  const height = Math.max(96, place.clientHeight);
  const fits = (words) => 7 * words.length <= width;
  const title = `${y.title}, ${x.title}`;
  const titles = fits(title) ? [title] : [y.title, x.title];
  const known = y.values.filter((v) => v !== null && Number.isFinite(v));
  let low = zero ? 0 : Math.min(...known);
  let high = Math.max(...known, zero ? 1e-9 : -Infinity);
  const lines = limit ? limit.values.filter((v) => v !== null && Number.isFinite(v)) : [];
  const top = lines.length ? Math.max(...lines) : NaN;
  const near = Number.isFinite(top) && Math.min(...lines) <= 2.5 * high;
  // a limit far above is named beside the title, or below it where the line is full
  const above = lines.length && !near ? `${limit.words} is above` : "";
  const full = !fits(titles[titles.length - 1] + above);
  const pad = { left: 58, right: 14, top: 6 + 16 * (titles.length + (above && full ? 1 : 0)), bottom: 20 };
  if (near) high = Math.max(high, Math.min(top, 2.5 * high));
  if (high - low < 1e-9) high = low + 1;
  high += (high - low) * 0.06;
  if (!zero) low -= (high - low) * 0.06;
  const px = (v) => pad.left + ((v - x.from) / (x.to - x.from || 1)) * (width - pad.left - pad.right);
  const py = (v) => height - pad.bottom - ((v - low) / (high - low)) * (height - pad.top - pad.bottom);
  const root = svg("svg", { class: "chart", viewBox: `0 0 ${width} ${height}`, height, role: "img",
    "aria-label": title });
  for (const [a, b, words] of bands) {
    const [l, r] = [px(a), px(b)].sort((p, q) => p - q);
    const w = Math.max(2, r - l);
    root.append(svg("rect", { class: "bend", x: l, y: pad.top, width: w, height: height - pad.top - pad.bottom },
      Object.assign(svg("title"), { textContent: words })));
  }
  for (const t of roundTicks(low, high, Math.max(2, Math.floor(height / 44)))) {
    root.append(svg("line", { class: "axis", x1: pad.left, x2: width - pad.right, y1: py(t), y2: py(t) }));
    root.append(text(pad.left - 6, py(t) + 4, plain(t), "end"));
  }
  const [xa, xb] = [Math.min(x.from, x.to), Math.max(x.from, x.to)];
  for (const t of roundTicks(xa, xb, Math.max(2, Math.floor(width / 110)))) {
    root.append(svg("line", { class: "axis", x1: px(t), x2: px(t), y1: height - pad.bottom, y2: height - pad.bottom + 4 }));
    root.append(text(px(t), height - pad.bottom + 16, plain(t), "middle"));
  }
  titles.forEach((words, i) => root.append(text(4, 12 + 16 * i, words, "start", "title")));
  root.append(svg("path", { class: "curve", d: pathOf(x.values, y.values, px, py) }));
  if (limit && near) {
    const capped = limit.values.map((v) => (v === null ? null : Math.min(v, high)));
    root.append(svg("path", { class: "limit", d: pathOf(x.values, capped, px, py) }));
    const over = y.values.map((v, i) => (v !== null && limit.values[i] !== null && v > limit.values[i] * 1.000001 ? v : null));
    root.append(svg("path", { class: "over", d: pathOf(x.values, over, px, py) }));
  }
  const last = 12 + 16 * (titles.length - 1);
  if (above) root.append(full ? text(4, last + 17, above, "start", "limit-text") : text(width - pad.right, last, above, "end", "limit-text"));
  if (near) root.append(limitWords());
  place.replaceChildren(root);
  return { root, px, py, width, height, pad };

  // On the limit's line, at the end at which the curve stays farther from it.
  function limitWords() {
    const shown = limit.values.map((v) => (v === null ? null : Math.min(v, high)));
    const free = (i) => Math.abs(py(y.values[i] ?? low) - py(shown[i] ?? high));
    const last = y.values.length - 1;
    const third = Math.floor(last / 3);
    const atStart = Math.min(free(0), free(third)) >= Math.min(free(last), free(last - third));
    const i = atStart ? 0 : last;
    const left = px(x.values[i]) < width / 2;
    const at = py(shown[i] ?? high);
    const down = at - pad.top < 16;
    return text(left ? pad.left + 6 : width - pad.right - 6, down ? at + 14 : at - 5, limit.words,
      left ? "start" : "end", "limit-text halo");
  }
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
