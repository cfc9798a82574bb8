"use strict";
// What lies flat on the picture: labels and their leaders, the colour bar, scale and north.

function labelsChanged() {
  const list = direction().labels[String(state.mode !== "tension")];
  app.items = list.map((label) => {
    const rows = label[state.units].map((line) => el("div", {}, line));
    rows.push(el("div", { class: "least" }, label.least));
    const element = el("div", { class: `label ${label.kind.replace(" ", "-")}${label.alarm ? " alarm" : ""}` }, ...rows);
    return { element, at: label.at, kind: label.kind, alarm: label.alarm, last: null };
  });
  $("labels").replaceChildren(...app.items.map((i) => i.element));
  measureLabels();
}

function measureLabels() {
  for (const item of app.items) {
    item.element.classList.remove("short");
    [item.w, item.h] = [item.element.offsetWidth, item.element.offsetHeight];
  }
  for (const item of app.items) item.element.classList.add("short");
  for (const item of app.items) {
    const [w, h] = [item.element.offsetWidth, item.element.offsetHeight];
    if (w < item.w || h < item.h) [item.w1, item.h1] = [w, h];
  }
}

// --- where labels go ---------------------------------------------------------------------------

function boxOf(element) {
  if (element.hidden) return null;
  const outer = $("stage").getBoundingClientRect();
  const box = element.getBoundingClientRect();
  return [box.left - outer.left, box.top - outer.top, box.right - outer.left, box.bottom - outer.top];
}

function place() {
  const project = projection(camera, app.size);
  const solids = app.stage.solids(state.feed);
  const obstacles = [$("bar"), $("cue"), $("views"), $("reading")].map(boxOf).filter(Boolean);
  if (!state.hidden.has("reel and machine")) {
    for (const points of [solids.reel, solids.machine]) obstacles.push(around2d(points, project));
  }
  const route = routePixels(project);
  const wanted = app.items.filter((item) => !state.hidden.has("labels") && visible(item, project));
  for (const item of wanted) [item.x, item.y] = project(...item.at);
  const frame = [6, 6, app.size[0] - 6, app.size[1] - 6];
  const laid = (items, short) => placeLabels(items.map((i) => sized(i, short.has(i))), frame, obstacles, route);
  const short = new Set(wanted.filter((i) => isSmall(app.size) && i.w1 !== undefined));
  let order = wanted;
  let placed = laid(order, short);
  const without = () => order.filter((item, k) => !placed[k]);
  const more = without().filter((i) => i.w1 !== undefined && !short.has(i));
  if (more.length) {
    for (const item of more) short.add(item);
    placed = laid(order, short);
  }
  const lost = without().filter(isEnd);
  if (lost.length) {
    const first = [...lost, ...wanted.filter((i) => !lost.includes(i))];
    const again = laid(first, short);
    if (first.every((item, k) => again[k] || !isEnd(item))) [order, placed] = [first, again];
  }
  show(order, placed, short, project);
}

const isEnd = (item) => item.kind === "feed" || item.kind === "machine";

// Whether whole labels would cover the route: a tap reads what they say.
const isSmall = ([wide, tall]) => wide < 520 || tall < 330;

const sized = (item, short) => ({
  x: item.x, y: item.y, last: item.last, w: short ? item.w1 : item.w, h: short ? item.h1 : item.h,
});

function visible(item, project) {
  const [x, y] = project(...item.at);
  return x > -20 && y > -20 && x < app.size[0] + 20 && y < app.size[1] + 20;
}

function around2d(list, project) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (const points of list) {
    for (let i = 0; i < points.length; i += 3) {
      const [x, y] = project(points[i], points[i + 1], points[i + 2]);
      box[0] = Math.min(box[0], x);
      box[1] = Math.min(box[1], y);
      box[2] = Math.max(box[2], x);
      box[3] = Math.max(box[3], y);
    }
  }
  return box;
}

// Points along the route every 14 pixels or so, for labels to keep off.
function routePixels(project) {
  const found = [];
  let last = null;
  for (let i = 0; i < app.lines.count && found.length < 600; i++) {
    const p = project(app.lines.xyz[3 * i], app.lines.xyz[3 * i + 1], app.lines.xyz[3 * i + 2]);
    if (last) {
      const pieces = Math.min(60, Math.floor(Math.hypot(p[0] - last[0], p[1] - last[1]) / 14));
      for (let k = 1; k < pieces; k++) {
        found.push([last[0] + ((p[0] - last[0]) * k) / pieces, last[1] + ((p[1] - last[1]) * k) / pieces]);
      }
      if (pieces < 1) continue;
    }
    found.push(p);
    last = p;
  }
  return found;
}

function show(wanted, placed, short, project) {
  const drawn = [];
  const dots = [];
  for (const item of app.items) item.element.style.visibility = "hidden";
  wanted.forEach((item, k) => {
    const spot = placed[k];
    item.last = spot ? spot.offset : null;
    if (!spot) return;
    item.element.classList.toggle("short", short.has(item));
    item.element.style.transform = `translate(${spot.box[0]}px, ${spot.box[1]}px)`;
    item.element.style.visibility = "visible";
    drawn.push(svg("line", { x1: item.x, y1: item.y, x2: spot.elbow[0], y2: spot.elbow[1] }));
    if (item.alarm) {
      dots.push(svg("circle", { class: "flag", cx: item.x, cy: item.y, r: 11 }));
    } else if (item.kind !== "feed" && item.kind !== "machine") {
      dots.push(svg("circle", { cx: item.x, cy: item.y, r: 3.5 }));
    }
  });
  if (state.reading !== null) {
    const [x, y] = project(...pointAt(app.lines, state.reading));
    dots.push(svg("circle", { class: "picked", cx: x, cy: y, r: 10 }));
  }
  $("leaders").replaceChildren(...drawn, ...dots);
  $("stage").dataset.labels = `${placed.filter(Boolean).length} of ${app.items.length}`;
}

// Scale bar and plan north, as the camera sees them.
function cues() {
  const axes = axesOf(camera);
  const [x, y] = [axes.right[1], -axes.up[1]];
  const long = Math.hypot(x, y);
  const root = svg("svg", { class: "chart", viewBox: "0 0 104 74", height: 74 });
  if (long > 0.3) {
    const [ux, uy] = [x / long, y / long];
    const reach = 17 * Math.max(0.6, long) * 0.8;
    const tip = [52 + ux * reach, 20 + uy * reach];
    root.append(svg("line", { class: "cursor", x1: 52 - ux * reach, y1: 20 - uy * reach, x2: tip[0], y2: tip[1] }));
    const barb = (s) => `${tip[0] - ux * 9 - s * uy * 5} ${tip[1] - uy * 9 + s * ux * 5}`;
    root.append(svg("path", { d: `M${tip.join(" ")}L${barb(1)}L${barb(-1)}Z`, fill: theme().ink }));
    root.append(text(52 + ux * (reach + 10), 24 + uy * (reach + 10), "N", "middle", "title"));
  } else {
    root.append(text(52, 24, "seen from the side", "middle"));
  }
  const most = app.unit.inUnits(88 * camera.span, "length");
  const power = 10 ** Math.floor(Math.log10(most));
  const round = [5, 2, 1].find((m) => m * power <= most * (1 + 1e-9)) * power;
  const wide = round / app.unit.inUnits(camera.span, "length");
  root.append(svg("path", { class: "cursor", fill: "none", d: `M${52 - wide / 2} 50v6h${wide}v-6` }));
  root.append(text(52, 71, `${plain(round)} ${app.unit.unit("length")}`, "middle"));
  $("cue").replaceChildren(root);
}

function barChanged() {
  const s = scale();
  const width = Math.max(120, $("bar").clientWidth - 20);
  const root = svg("svg", { class: "chart", viewBox: `0 0 ${width} 66`, height: 66 });
  const over = s.peak > s.limit * (1 + 1e-9);
  const end = width - (over ? 34 : 8);
  const stops = [0, 32, 64, 96, 128, 160, 192, 224, 255].map((k) =>
    svg("stop", { offset: k / 255, "stop-color": `#${theme().map.substr(6 * k, 6)}` }));
  root.append(svg("defs", {}, svg("linearGradient", { id: "ramp" }, ...stops)));
  root.append(svg("rect", { x: 0, y: 18, width: end, height: 12, fill: "url(#ramp)" }));
  if (over) root.append(svg("rect", { x: end + 4, y: 18, width: 26, height: 12, fill: data.overLimit }));
  root.append(text(0, 11, `${s.title}, ${s.unit}`, "start", "title"));
  const atLimit = s.full >= s.limit * (1 - 1e-9);
  const share = app.unit.show(s.full / s.limit, "percent");
  const ending = atLimit ? `bar to the limit, ${s.limitWords}` : `bar to ${share} of the limit, ${s.limitWords}`;
  root.append(text(0, 63, ending, "start", over ? "limit-text" : ""));
  if (atLimit) root.append(svg("line", { x1: end, x2: end, y1: 14, y2: 34, stroke: theme().alarm, "stroke-width": 3 }));
  const peak = Math.min(1, s.peak / s.full) * end;
  const peakAt = over ? end + 17 : peak;
  root.append(svg("path", { d: `M${peakAt} 31l-5 7h10z`, fill: theme().ink }));
  const note = text(0, 48, `peak ${app.unit.show(s.peak, MODE_QUANTITY[state.mode])}`, "start", "title halo");
  root.append(note);
  $("bar").replaceChildren(root);
  const wide = note.getComputedTextLength();
  const left = Math.max(0, Math.min(width - wide, peakAt - wide / 2));
  note.setAttribute("x", left);
  let free = -Infinity;
  for (const [share, tick] of s.ticks) {
    const mark = text(share * end, 48, tick, share === 0 ? "start" : "middle");
    root.append(mark);
    const long = mark.getComputedTextLength();
    const from = share === 0 ? 0 : share * end - long / 2;
    const clash = from < free + 6 || (from < left + wide + 8 && from + long > left - 8) || from + long > width;
    if (clash) mark.remove();
    else free = from + long;
    root.append(svg("line", { class: "axis", x1: share * end, x2: share * end, y1: 30, y2: 34 }));
  }
}
