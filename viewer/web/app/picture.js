// The picture of the route: the 3D stage, what lies flat on it, the camera's places, and reading
// the route at one place by tap, by key or from a finding.

import { ELEVATION, axesOf, bindPointers, fitCamera, orbitCamera, panCamera, projection, zoomCamera } from "./camera.js";
import { Chart, bands } from "./charts.js";
import { drawBar, drawCue, drawPlan, svg } from "./draw.js";
import { frameAt } from "./film.js";
import { beginDrag, dragTo, endDrag, followPointer, places, points } from "./drag.js";
import { between, bytesOf, centerline, locate, pointAt, readGlb } from "./glb.js";
import { placeLabels } from "./labels.js";
import { makeStage } from "./stage.js";
import { direction, feed, head, isDrawing, refusedEdit, run, scale, set, setHead, store, theme, themeName, unit } from "./store.js";
import { Stale, html, useLayoutEffect, useRef } from "./ui.js";

// What follows from the choice and is kept: the centerline of the run in `lines`, labels as
// {element, at, last} in `items`; `stage` is null where the browser shows no 3D.
const app = { size: [0, 0], limits: [1e-4, 1e4], stage: null, lines: null, items: [], handles: [], origin: null, touched: false };
const camera = { azimuth: 0, elevation: ELEVATION, target: [0, 0, 0], span: 1 };
const $ = (id) => document.getElementById(id);

// A value for every ring of the tubes. Those the server told belong to the tubes they were made for:
// after a change of the route they come a moment before these.
function valuesOf(mode) {
  const told = run().colors && run().colors[mode] && run().colors[mode][feed()];
  return told && told.length === app.lines.count ? told : app.lines[mode][feed()];
}

// The centerline as the picture has it, from the origin of the run.
export const routeLine = () => (ready() ? app.lines : null);

export const layers = () => (app.stage ? [...app.stage.layers(), "labels"] : []);

let seen = {};
function changed(name, ...now) {
  const before = seen[name];
  seen[name] = now;
  return !before || now.some((value, i) => value !== before[i]);
}

// --- what follows from a change ------------------------------------------------------------------

// Reads the run's geometry where it is another.
function readRun() {
  if (!run().glb || !changed("read", run().glb)) return;
  app.meshes = readGlb(THREE.gunzipSync(bytesOf(run().glb)));
  app.lines = centerline(app.meshes.filter((m) => m.extras.layer === "conduit"));
  // what is seen stays where it is while the route is edited, whatever its places are counted from
  const { origin } = run();
  if (app.origin && app.touched) for (let k = 0; k < 3; k++) camera.target[k] += app.origin[k] - origin[k];
  app.origin = origin;
}

// Whether the geometry of the run shown is there, and of the what-if shown.
const ready = () => Boolean(app.lines && run().glb);

function isOld() {
  const told = run().colors && run().colors.tension;
  return Boolean(told && app.lines && told[0].length !== app.lines.count);
}

function refresh() {
  readRun();
  const { stage } = app;
  if (!ready()) return;
  const fresh = changed("meshes", app.meshes, stage);
  if (stage) {
    if (fresh) stage.load(app.meshes);
    if (changed("dress", theme(), fresh && app.meshes)) stage.dress(themeName(), theme(), store.data.overLimit);
    if (changed("colors", scale(), valuesOf(store.mode === "conduit" ? "tension" : store.mode), app.meshes, themeName())) recolor();
    if (changed("shown", feed(), store.units, app.meshes, store.hidden)) stage.show({ feed: feed(), units: store.units, hidden: store.hidden });
    if (changed("labels", labelsOf(), store.units)) remakeLabels();
    if (changed("run", store.run)) app.touched = false;
    if (changed("handles", isDrawing() && !store.lost && points().map((p) => p.kind).join())) remakeHandles();
    const refit = changed("fit", app.meshes, feed());
    if (changed("view", store.view) || (refit && !app.touched && !isDrawing())) lookFrom(store.view);
    moveHead();
    redraw();
  }
  if (changed("bar", scale(), theme(), store.units, app.size[0])) drawBar($("bar"));
}

const labelsOf = () => direction().labels[String(store.mode !== "tension")];

function recolor() {
  const s = scale();
  const flat = s.entries ? app.stage.conduits().map((name) => (s.entries.find((e) => e.name === name) || s.entries[0]).color) : null;
  app.stage.color(flat ? [] : valuesOf(store.mode), flat ? { full: 1, limit: null } : s, flat);
}

// The cable behind the head and the rope before it.
function moveHead() {
  if (!app.stage || !ready()) return;
  const film = direction().playback;
  const now = film && head.share < 1 ? frameAt(film, head.share) : null;
  app.stage.setHead(now && now.station, now && pointAt(app.lines, now.station), direction().reverse ? -1 : 1, store.hidden);
  redraw();
}

let drawing = false;
export function redraw() {
  if (drawing || !app.stage) return;
  drawing = true;
  requestAnimationFrame(drawNow);
}

function drawNow() {
  drawing = false;
  if (!app.stage || !ready() || !app.size[0]) return;
  app.stage.draw(camera, app.size);
  drawCue($("cue"), camera); // before the labels, which keep off it
  placeAll();
  placeHandles();
}

let settling = 0;
function moved() {
  app.touched = true;
  redraw();
  clearTimeout(settling); // at rest every label gets its best place again
  settling = setTimeout(settle, 220);
}

function settle() {
  for (const item of app.items) item.last = null;
  redraw();
}

// --- camera --------------------------------------------------------------------------------------

export function lookFrom(view) {
  if (!ready()) return;
  const azimuths = direction().azimuth;
  const own = app.size[0] > app.size[1] * 0.9 ? azimuths.wide : azimuths.tall;
  camera.azimuth = view === "plan" ? -Math.PI / 2 : view === "side" ? sideAzimuth() : own;
  camera.elevation = view === "plan" ? Math.PI / 2 : view === "side" ? 0 : ELEVATION;
  fitAll();
}

// Square to the longer way of the route, the pull running left to right.
function sideAzimuth() {
  const { xyz, count } = app.lines;
  const spreadOf = (axis) => {
    let [low, high] = [Infinity, -Infinity];
    for (let i = axis; i < 3 * count; i += 3) [low, high] = [Math.min(low, xyz[i]), Math.max(high, xyz[i])];
    return high - low;
  };
  const sign = direction().reverse ? -1 : 1;
  const [dx, dy] = [0, 1].map((axis) => sign * (xyz[3 * (count - 1) + axis] - xyz[axis]));
  const along = spreadOf(0) >= spreadOf(1) ? [Math.sign(dx) || 1, 0] : [0, Math.sign(dy) || 1];
  return Math.atan2(-along[0], along[1]);
}

function fitAll() {
  if (!app.stage || !ready() || !app.size[0]) return;
  const [wide, tall] = app.size;
  const small = wide < 500;
  const [side, top, bottom] = small ? [24, 60, 92] : [70, 72, 120];
  const list = app.stage.content(feed());
  const all = new Float32Array(list.reduce((n, a) => n + a.length, 0));
  let at = 0;
  for (const array of list) {
    all.set(array, at);
    at += array.length;
  }
  fitCamera(camera, all, app.size, { left: side, top, right: wide - side, bottom: tall - bottom });
  app.limits = [camera.span / 300, camera.span * 4];
  settle();
}

// The place has another size; a hidden one keeps what it has.
export function resized() {
  const box = $("stage").getBoundingClientRect();
  const now = [Math.round(box.width), Math.round(box.height)];
  if (!now[0] || (!app.unseen && now[0] === app.size[0] && now[1] === app.size[1])) {
    app.unseen ||= !now[0]; // nothing can be measured until it is seen again
    return;
  }
  app.unseen = false;
  app.size = now;
  if (app.stage) {
    app.stage.resize(...app.size);
    measureLabels();
    if (app.touched) settle();
    else lookFrom(store.view);
  }
  drawBar($("bar"));
}

// For print: the picture as it stands, drawn at once.
export function drawForPrint() {
  resized();
  drawNow();
  const image = $("print-picture");
  if (app.stage && image) image.src = app.stage.picture();
}

// --- labels ----------------------------------------------------------------------------------------

function remakeLabels() {
  app.items = labelsOf().map((label) => {
    const element = document.createElement("div");
    element.className = `label ${label.kind.replace(" ", "-")}${label.alarm ? " alarm" : ""}`;
    for (const [words, kind] of [...label[store.units].map((line) => [line, ""]), [label.least, "least"]]) {
      element.append(Object.assign(document.createElement("div"), { textContent: words, className: kind }));
    }
    return { element, at: label.at, kind: label.kind, alarm: label.alarm, last: null };
  });
  $("labels").replaceChildren(...app.items.map((i) => i.element));
  measureLabels();
}

function measureLabels() {
  for (const item of app.items) item.element.classList.remove("short");
  for (const item of app.items) [item.w, item.h] = [item.element.offsetWidth, item.element.offsetHeight];
  for (const item of app.items) item.element.classList.add("short");
  for (const item of app.items) {
    const [w, h] = [item.element.offsetWidth, item.element.offsetHeight];
    if (w < item.w || h < item.h) [item.w1, item.h1] = [w, h];
  }
}

function boxOf(element) {
  if (!element || !element.offsetParent) return null;
  const outer = $("stage").getBoundingClientRect();
  const box = element.getBoundingClientRect();
  return [box.left - outer.left, box.top - outer.top, box.right - outer.left, box.bottom - outer.top];
}

function placeAll() {
  const project = projection(camera, app.size);
  const solids = app.stage.solids(feed());
  const obstacles = ["bar", "cue", "views", "reading", "stale-picture"].map((id) => boxOf($(id))).filter(Boolean);
  if (!store.hidden.has("reel and machine")) {
    for (const points of [solids.reel, solids.machine]) obstacles.push(boundsOf(points, project));
  }
  const route = routePixels(project);
  const wanted = app.items.filter((item) => !store.hidden.has("labels") && inSight(item, project));
  const small = app.size[0] < 520 || app.size[1] < 330; // whole labels would cover the route
  for (const item of wanted) {
    item.short = small && item.w1 !== undefined;
    item.must = item.alarm || item.kind === "feed" || item.kind === "machine";
  }
  const frame = [6, 6, app.size[0] - 6, app.size[1] - 6];
  const lay = () => placeLabels(wanted.map((i) => ({
    x: i.x, y: i.y, last: i.last, must: i.must, w: i.short ? i.w1 : i.w, h: i.short ? i.h1 : i.h,
  })), frame, obstacles, route);
  let placed = lay();
  const longer = wanted.filter((item, k) => !placed[k] && item.w1 !== undefined && !item.short);
  if (longer.length) {
    for (const item of longer) item.short = true;
    placed = lay();
  }
  drawLabels(wanted, placed, project);
}

function inSight(item, project) {
  [item.x, item.y] = project(...item.at);
  return item.x > -20 && item.y > -20 && item.x < app.size[0] + 20 && item.y < app.size[1] + 20;
}

function boundsOf(list, project) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (const points of list) {
    for (let i = 0; i < points.length; i += 3) {
      const [x, y] = project(points[i], points[i + 1], points[i + 2]);
      [box[0], box[1], box[2], box[3]] = [Math.min(box[0], x), Math.min(box[1], y), Math.max(box[2], x), Math.max(box[3], y)];
    }
  }
  return box;
}

// Points along the route every 14 pixels or so, for labels to keep off.
function routePixels(project) {
  const found = [];
  let last = null;
  for (let i = 0; i < app.lines.count && found.length < 600; i++) {
    const p = project(...app.lines.xyz.subarray(3 * i, 3 * i + 3));
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

function drawLabels(wanted, placed, project) {
  const drawn = [];
  const dots = [];
  for (const item of app.items) item.element.style.visibility = "hidden";
  wanted.forEach((item, k) => {
    const spot = placed[k];
    item.last = spot ? spot.offset : null;
    if (!spot) return;
    item.element.classList.toggle("short", item.short);
    item.element.style.transform = `translate(${spot.box[0]}px, ${spot.box[1]}px)`;
    item.element.style.visibility = "visible";
    drawn.push(svg("line", { x1: item.x, y1: item.y, x2: spot.elbow[0], y2: spot.elbow[1] }));
    if (item.alarm) dots.push(svg("circle", { class: "flag", cx: item.x, cy: item.y, r: 11 }));
    else if (item.kind !== "feed" && item.kind !== "machine") dots.push(svg("circle", { cx: item.x, cy: item.y, r: 3.5 }));
  });
  const ring = (station, kind, r) => {
    const [x, y] = project(...pointAt(app.lines, station));
    dots.push(svg("circle", { class: kind, cx: x, cy: y, r }));
  };
  if (store.bend) ring(bendStation(store.bend), "bend", 17);
  if (store.reading !== null) ring(store.reading, "picked", 10);
  $("leaders").replaceChildren(...drawn, ...dots);
  $("stage").dataset.labels = `${placed.filter(Boolean).length} of ${app.items.length}`;
}

// --- handles: the points of the route, to drag ------------------------------------------------------

function remakeHandles() {
  const route = isDrawing() && !store.lost ? points() : [];
  app.handles = route.map((point, index) => {
    const element = document.createElement("div");
    element.className = point.kind === "end" || point.kind === "pull point" ? "handle square" : "handle";
    element.dataset.point = index;
    element.addEventListener("pointerdown", (e) => holdHandle(e, index));
    return element;
  });
  $("handles").replaceChildren(...app.handles);
}

function placeHandles() {
  const project = projection(camera, app.size);
  const at = (place) => project(...place.map((c, k) => c - run().origin[k]));
  const spots = isDrawing() ? places().map(at) : [];
  app.handles.forEach((element, i) => {
    if (!spots[i]) return;
    element.style.transform = `translate(${spots[i][0]}px, ${spots[i][1]}px)`;
    element.classList.toggle("picked", i === store.point);
  });
  if (!store.draft) return;
  $("leaders").append(svg("polyline", { class: refusedEdit() ? "draft bad" : "draft", points: spots.map((p) => p.join()).join(" ") }));
}

// The hand moves the point in the plane, or up and down; seen edge on, a plane is its line.
async function holdHandle(e, index) {
  if (e.button > 0) return;
  const start = places()[index];
  const { right, up } = axesOf(camera);
  const axes = store.upright ? [2] : [0, 1];
  app.touched = true;
  const by = ([dx, dy]) => {
    const [across, rise] = [dx * camera.span, -dy * camera.span];
    if (store.upright) return [0, 0, Math.abs(up[2]) > 0.05 ? rise / up[2] : 0];
    const flat = Math.hypot(up[0], up[1]);
    const along = flat > 0.05 ? rise / flat ** 2 : 0;
    return [across * right[0] + along * up[0], across * right[1] + along * up[1], 0];
  };
  const dragged = await followPointer(e, () => beginDrag(index), (dx, dy) => {
    const step = by([dx, dy]);
    dragTo(start.map((c, k) => c + step[k]), axes, camera.span);
  });
  if (dragged) endDrag();
  else set({ point: index });
}

// --- reading and picking ----------------------------------------------------------------------------

// Stations of the middles of the bends, in the order of their numbers.
function bendStations() {
  const { end, bend } = run().segments || { end: [] };
  return end.map((s, i) => (bend[i] ? (s + (i ? end[i - 1] : 0)) / 2 : null)).filter((s) => s !== null);
}

const bendStation = (number) => bendStations()[number - 1] ?? 0;

function tapped(at, pointer) {
  if (!ready()) return;
  const project = projection(camera, app.size);
  let found = null;
  let least = pointer === "mouse" ? 16 : 30; // how far a pointer may be off
  let last = null;
  for (let i = 0; i < app.lines.count; i++) {
    const p = project(...app.lines.xyz.subarray(3 * i, 3 * i + 3));
    if (last && !app.lines.breaks.has(i)) {
      const [dx, dy] = [p[0] - last[0], p[1] - last[1]];
      const part = Math.min(1, Math.max(0, ((at[0] - last[0]) * dx + (at[1] - last[1]) * dy) / (dx * dx + dy * dy || 1)));
      const away = Math.hypot(last[0] + part * dx - at[0], last[1] + part * dy - at[1]);
      if (away < least) {
        least = away;
        found = app.lines.station[i - 1] + part * (app.lines.station[i] - app.lines.station[i - 1]);
      }
    }
    last = p;
  }
  const dots = bendStations().map((s) => project(...pointAt(app.lines, s)));
  const nearest = dots.reduce((best, p, i) => {
    const away = Math.hypot(p[0] - at[0], p[1] - at[1]);
    return away < best.away ? { away, number: i + 1 } : best;
  }, { away: 34, number: 0 });
  set({ reading: found, bend: nearest.number || store.bend });
}

export function readAt(station, reveal = false) {
  set({ reading: station === null ? null : Math.min(lengthOf(), Math.max(0, station)) });
  if (reveal && station !== null) bringIntoView(store.reading);
}

export function pickBend(number) {
  set({ bend: number });
  if (number) bringIntoView(bendStation(number));
}

function bringIntoView(station) {
  if (!app.stage || !ready() || !app.size[0]) return;
  const [x, y] = projection(camera, app.size)(...pointAt(app.lines, station));
  if (x < 20 || y < 60 || x > app.size[0] - 20 || y > app.size[1] - 70) {
    panCamera(camera, app.size[0] / 2 - x, app.size[1] / 2 - y);
    moved();
  }
}

// A step along the route: to the next joint or a fiftieth of it, whichever is nearer.
export function step(sign) {
  const { length, segments } = run();
  if (!segments) return;
  const from = store.reading === null ? (sign > 0 ? 0 : length) : store.reading;
  const far = from + (sign * length) / 50;
  const joints = segments.end.filter((s) => (sign > 0 ? s > from + 1e-6 && s < far : s < from - 1e-6 && s > far));
  readAt(joints.length ? (sign > 0 ? joints[0] : joints[joints.length - 1]) : far, true);
}

// Tension, sidewall pressure or elevation at a station, of the direction shown.
function valueAt(name, station) {
  const { profile } = direction();
  return between(profile[name], locate({ count: profile.station.length, station: profile.station }, station));
}

function Reading() {
  const station = store.reading;
  const { segments, limits } = run();
  const at = segments.end.findIndex((end) => station <= end + 1e-9);
  const segment = at < 0 ? segments.end.length - 1 : at;
  const [name, about] = segments.words[store.units][segment];
  const against = (title, mode, quantity) => {
    const [value, limit] = [valueAt(mode, station), limits[mode]];
    return html`<div class=${value > limit * (1 + 1e-6) ? "over" : ""}>${title} ${unit().show(value, quantity)}
      <span class="small"> ${unit().show(value / limit, "percent")} of ${unit().show(limit, quantity)}</span></div>`;
  };
  return html`<div id="reading">
    <div id="reading-text" aria-live="polite">
      <div>Station ${unit().show(station, "length")}</div><div>${name}: <span class="small">${about}</span></div>
      ${against("Tension", "tension", "force")}
      ${segments.bend[segment] ? against("Sidewall", "sidewall", "sidewall") : html`<div class="small">no sidewall pressure on a straight</div>`}
      <${Stale} when=${store.lost} />
    </div>
    <div id="reading-keys">
      <button type="button" aria-label="Reading one step back" onClick=${() => step(-1)}>◀</button>
      <button type="button" aria-label="Reading one step forward" onClick=${() => step(1)}>▶</button>
      <button type="button" id="reading-close" aria-label="Close the reading" onClick=${() => readAt(null)}>✕</button>
    </div>
  </div>`;
}

// --- the element ------------------------------------------------------------------------------------

const VIEWS = [["isometric", "3D"], ["plan", "Plan"], ["side", "Side"]];

export function Picture({ play }) {
  const flat = useRef();
  useLayoutEffect(() => {
    begin(play);
    const observer = new ResizeObserver(resized);
    observer.observe($("stage"));
    head.listeners.add(moveHead);
    return () => observer.disconnect();
  }, []);
  useLayoutEffect(refresh);
  const noStage = app.started && !app.stage;
  readRun();
  const bare = noStage || !run().glb; // nothing to lie on
  return html`<section id="stage" tabindex="0" aria-label="Route in 3D; its keys are listed on the View tab" class=${`${store.reading === null ? "" : "read"} ${isOld() ? "old" : ""}`}>
    <canvas id="canvas" aria-hidden="true" hidden=${bare}></canvas>
    <img id="print-picture" alt="Route in 3D" />
    <svg id="leaders" aria-hidden="true" hidden=${bare}></svg>
    <div id="labels" hidden=${bare}></div>
    <div id="handles" aria-hidden="true" hidden=${bare || !isDrawing()}></div>
    <div id="views" role="group" aria-label="Views" hidden=${bare}>
      ${VIEWS.map(([view, name]) => html`<button type="button" data-view=${view} aria-pressed=${String(store.view === view && !app.turned)}
        onClick=${() => aim(view)}>${name}</button>`)}
    </div>
    ${noStage && run().glb && html`<${Flat} ref=${flat} />`}
    ${(!run().glb || isOld()) && html`<p id="coming" role="status">${run().glb ? "Updating the picture…" : "Loading the picture…"}</p>`}
    ${store.reading !== null && run().segments && html`<${Reading} />`}
    <div id="bar" hidden=${noStage}></div>
    <div id="cue" aria-hidden="true" hidden=${bare}></div>
    ${store.lost && html`<small class="stale" id="stale-picture">${store.lost}</small>`}
  </section>`;
}

function aim(view) {
  app.turned = false;
  app.touched = false;
  set({ view });
  lookFrom(view);
}

function begin(play) {
  app.started = true;
  try {
    app.stage = makeStage($("canvas"));
    if (app.stage) wireStage(play);
  } catch {
    app.stage = null;
  }
  const box = $("stage").getBoundingClientRect();
  app.size = [Math.round(box.width), Math.round(box.height)];
  if (app.stage) app.stage.resize(...app.size);
  requestAnimationFrame(() => {
    set({});
    performance.mark("first picture");
  });
}

function wireStage(play) {
  const look = {
    orbit: (dx, dy) => {
      orbitCamera(camera, dx, dy);
      if (!app.turned) {
        app.turned = true;
        set({});
      }
      moved();
    },
    pan: (dx, dy) => { panCamera(camera, dx, dy); moved(); },
    zoom: (factor, at) => { zoomCamera(camera, factor, at, app.size, app.limits); moved(); },
    tap: tapped,
  };
  bindPointers($("canvas"), look);
  $("canvas").addEventListener("pointerdown", () => $("stage").focus({ preventScroll: true, focusVisible: false }));
  $("canvas").addEventListener("webglcontextlost", () => {
    app.stage = null;
    set({});
  });
  const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  const middle = () => [app.size[0] / 2, app.size[1] / 2];
  const keys = {
    "+": () => look.zoom(1.2, middle()), "=": () => look.zoom(1.2, middle()), "-": () => look.zoom(1 / 1.2, middle()),
    1: () => aim("isometric"), 2: () => aim("plan"), 3: () => aim("side"),
    f: fitAll, F: fitAll, ",": () => step(-1), ".": () => step(1), " ": play, Escape: () => readAt(null),
  };
  $("stage").addEventListener("keydown", (e) => {
    if (e.target !== $("stage") || e.ctrlKey || e.metaKey || e.altKey) return;
    const way = arrows[e.key];
    if (way) (e.shiftKey ? look.pan : look.orbit)(...way.map((v) => 14 * v));
    else if (keys[e.key]) keys[e.key]();
    else return;
    e.preventDefault();
  });
}

// --- without 3D -------------------------------------------------------------------------------------

function Flat() {
  const plan = useRef();
  useLayoutEffect(() => {
    const s = scale();
    const values = valuesOf(store.mode === "conduit" ? "tension" : store.mode);
    const colorAt = (i) => {
      if (values[i] > s.limit * (1 + 1e-6)) return store.data.overLimit;
      return `#${theme().map.substr(6 * Math.round(255 * Math.min(1, values[i] / s.full)), 6)}`;
    };
    const { feed: from, pull } = run().directions[0];
    drawPlan(plan.current, app.lines, colorAt, [from, pull]);
  });
  return html`<div id="flat">
    <p class="message">This browser cannot show 3D (WebGL 2 is missing or off). Plan and elevation are shown instead; everything else works.</p>
    <div id="flat-plan" ref=${plan}></div><${RouteChart} id="flat-elevation" name="elevation" />
  </div>`;
}

const lengthOf = () => direction().profile.station[direction().profile.station.length - 1];

// Elevation, tension or sidewall pressure along the route.
export function RouteChart({ id, name }) {
  const u = unit();
  const { profile, reverse } = direction();
  const ends = [0, u.inUnits(lengthOf(), "length")];
  const read = store.reading;
  const quantity = { elevation: "length", tension: "force", sidewall: "sidewall" }[name];
  const title = { elevation: "Elevation", tension: "Cable tension", sidewall: "Sidewall pressure" }[name];
  const most = run().limits[name];
  const limits = most ? [{ values: profile.station.map(() => u.inUnits(most, quantity)), words: `limit ${u.show(most, quantity)}`, kind: "" }] : [];
  return html`<${Chart} id=${id} title=${`${title} (${u.unit(quantity)})`} xTitle=${`station along the route (${u.unit("length")})`}
    x=${profile.station.map((s) => u.inUnits(s, "length"))} from=${ends[reverse ? 1 : 0]} to=${ends[reverse ? 0 : 1]} zero=${name !== "elevation"}
    y=${profile[name].map((v) => u.inUnits(v, quantity))} limits=${limits} over=${profile[name].map((v) => Boolean(most) && v > most * (1 + 1e-6))}
    bends=${bands()} deps=${[profile, limits.length && most]} mark=${read === null ? null : u.inUnits(read, "length")} step=${step}
    pick=${(x) => readAt(x / u.inUnits(1, "length"))} told=${read === null ? "" : `${u.show(read, "length")}: ${u.show(valueAt(name, read), quantity)}`} />`;
}
