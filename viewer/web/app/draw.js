// Small drawings in SVG, at the pixel size of their place: color bar, scale and north, plan.

import { axesOf } from "./camera.js";
import { MODE_QUANTITY, scale, store, theme, unit } from "./store.js";
import { plain } from "./units.js";

const SVG = "http://www.w3.org/2000/svg";

export function svg(tag, attributes = {}, ...children) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

function text(x, y, words, anchor, kind = "") {
  const element = svg("text", { x, y, "text-anchor": anchor, class: kind });
  element.textContent = words;
  return element;
}

// Scale bar and north, as the camera sees them.
export function drawCue(place, camera) {
  const axes = axesOf(camera);
  const [east, ahead] = [Math.sin(store.data.north), Math.cos(store.data.north)];
  const x = axes.right[0] * east + axes.right[1] * ahead;
  const y = -axes.up[0] * east - axes.up[1] * ahead;
  const long = Math.hypot(x, y);
  const root = svg("svg", { class: "drawn", viewBox: "0 0 104 74", height: 74 });
  if (long > 0.3) {
    const [ux, uy] = [x / long, y / long];
    const reach = 17 * Math.max(0.6, long) * 0.8;
    const tip = [52 + ux * reach, 20 + uy * reach];
    root.append(svg("line", { class: "line", x1: 52 - ux * reach, y1: 20 - uy * reach, x2: tip[0], y2: tip[1] }));
    const barb = (s) => `${tip[0] - ux * 9 - s * uy * 5} ${tip[1] - uy * 9 + s * ux * 5}`;
    root.append(svg("path", { d: `M${tip.join(" ")}L${barb(1)}L${barb(-1)}Z`, fill: theme().ink }));
    root.append(text(52 + ux * (reach + 10), 24 + uy * (reach + 10), "N", "middle", "title"));
  } else {
    root.append(text(52, 24, "side view", "middle"));
  }
  const most = unit().inUnits(88 * camera.span, "length");
  const power = 10 ** Math.floor(Math.log10(most));
  const round = [5, 2, 1].find((m) => m * power <= most * (1 + 1e-9)) * power;
  const wide = round / unit().inUnits(camera.span, "length");
  root.append(svg("path", { class: "line", fill: "none", d: `M${52 - wide / 2} 50v6h${wide}v-6` }));
  root.append(text(52, 71, `${plain(round)} ${unit().unit("length")}`, "middle"));
  place.replaceChildren(root);
}

// The color bar of the quantity shown, with its peak and its limit.
export function drawBar(place) {
  const s = scale();
  if (s.entries) {
    place.replaceChildren(...s.entries.map((entry) => {
      const line = Object.assign(document.createElement("div"), { className: "entry", textContent: [entry.name, ...(entry.lines || [])].join(", ") });
      const swatch = Object.assign(document.createElement("i"), { className: "swatch" });
      swatch.style.background = entry.color;
      line.prepend(swatch);
      return line;
    }));
    return;
  }
  const width = Math.max(120, place.clientWidth - 20);
  const root = svg("svg", { class: "drawn", viewBox: `0 0 ${width} 66`, height: 66 });
  const over = s.peak > s.limit * (1 + 1e-9);
  const end = width - (over ? 34 : 8);
  const stops = [0, 32, 64, 96, 128, 160, 192, 224, 255].map((k) =>
    svg("stop", { offset: k / 255, "stop-color": `#${theme().map.substr(6 * k, 6)}` }));
  root.append(svg("defs", {}, svg("linearGradient", { id: "ramp" }, ...stops)));
  root.append(svg("rect", { x: 0, y: 18, width: end, height: 12, fill: "url(#ramp)" }));
  if (over) root.append(svg("rect", { x: end + 4, y: 18, width: 26, height: 12, fill: store.data.overLimit }));
  root.append(text(0, 11, `${s.title}, ${s.unit}`, "start", "title"));
  const atLimit = s.full >= s.limit * (1 - 1e-9);
  const share = unit().show(s.full / s.limit, "percent");
  const ending = atLimit ? `full scale = the limit, ${s.limitWords}` : `full scale = ${share} of the limit, ${s.limitWords}`;
  root.append(text(0, 63, ending, "start", over ? "limit-text" : ""));
  if (atLimit) root.append(svg("line", { x1: end, x2: end, y1: 14, y2: 34, stroke: theme().alarm, "stroke-width": 3 }));
  const peak = Math.min(1, s.peak / s.full) * end;
  const peakAt = over ? end + 17 : peak;
  root.append(svg("path", { d: `M${peakAt} 31l-5 7h10z`, fill: theme().ink }));
  const note = text(0, 48, `peak ${unit().show(s.peak, MODE_QUANTITY[store.mode])}`, "start", "title halo");
  root.append(note);
  place.replaceChildren(root);
  const wide = note.getComputedTextLength();
  const left = Math.max(0, Math.min(width - wide, peakAt - wide / 2));
  note.setAttribute("x", left);
  let free = -Infinity;
  for (const [part, tick] of s.ticks) {
    const mark = text(part * end, 48, tick, part === 0 ? "start" : "middle");
    root.append(mark);
    const long = mark.getComputedTextLength();
    const from = part === 0 ? 0 : part * end - long / 2;
    const clash = from < free + 6 || (from < left + wide + 8 && from + long > left - 8) || from + long > width;
    if (clash) mark.remove();
    else free = from + long;
    root.append(svg("line", { class: "axis", x1: part * end, x2: part * end, y1: 30, y2: 34 }));
  }
}

// A plan of the route, each piece in its color; for browsers without 3D, and for no other use.
export function drawPlan(place, line, colorAt, ends) {
  const width = Math.max(240, place.clientWidth);
  const height = Math.max(150, place.clientHeight);
  const step = Math.max(1, Math.ceil(line.count / 1500));
  const keep = Array.from({ length: Math.ceil((line.count - 1) / step) }, (_, k) => k * step).concat(line.count - 1);
  const xs = keep.map((i) => line.xyz[3 * i]);
  const ys = keep.map((i) => line.xyz[3 * i + 1]);
  const [x0, x1] = [Math.min(...xs), Math.max(...xs)];
  const [y0, y1] = [Math.min(...ys), Math.max(...ys)];
  const size = Math.min((width - 130) / (x1 - x0 || 1), (height - 70) / (y1 - y0 || 1));
  const px = (v) => width / 2 + (v - (x0 + x1) / 2) * size;
  const py = (v) => height / 2 - (v - (y0 + y1) / 2) * size;
  const root = svg("svg", { class: "drawn", viewBox: `0 0 ${width} ${height}`, height, role: "img", "aria-label": "Plan of the route" });
  root.append(text(4, 14, store.data.north ? "Plan, y up" : "Plan, north up", "start", "title"));
  for (let k = 0; k < keep.length - 1; k++) {
    root.append(svg("line", { x1: px(xs[k]), y1: py(ys[k]), x2: px(xs[k + 1]), y2: py(ys[k + 1]),
      stroke: colorAt(keep[k + 1]), "stroke-width": 6, "stroke-linecap": "round" }));
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
