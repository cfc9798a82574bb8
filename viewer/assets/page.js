"use strict";
// What follows from a change, where the camera stands, and what every control does.

function loadRun() {
  const meshes = readGlb(THREE.gunzipSync(bytesOf(run().glb)));
  app.lines = centreline(meshes.filter((m) => m.extras.layer === "conduit"));
  if (app.stage) app.stage.load(meshes);
  state.reading = null;
  state.touched = false;
  fillFeeds();
  fillLayers();
}

function feedChanged() {
  state.head = 1;
  stopPlaying();
  if (!state.touched) lookFrom("isometric");
  wordsChanged();
  coloursChanged();
  headChanged();
}

function coloursChanged() {
  if (app.stage) {
    app.stage.colour(state.mode, state.feed, scale());
    app.stage.show(state);
  } else {
    flatPictures();
  }
  labelsChanged();
  barChanged();
  redraw();
}

function wordsChanged() {
  app.unit = printer(data.quantities, state.units);
  $("title").textContent = data.title;
  document.title = `${data.title} · ${run().name}`;
  answerInto($("answer"), {
    title: data.title, run: run(), direction: direction(), shown: state.feed, words: words(),
    cautions: data.cautions, noGauge: data.noGauge, findOut: (station) => readAt(station, true),
  });
  readingChanged();
  chartsChanged();
}

function themeChanged() {
  const colours = theme();
  const root = document.documentElement.style;
  for (const [name, value] of Object.entries(colours)) if (name !== "map") root.setProperty(`--${name}`, value);
  root.setProperty("--glass", `${colours.ground}d9`);
  [40, 128, 216].forEach((k, n) => root.setProperty(`--map${n}`, `#${colours.map.substr(6 * k, 6)}`));
  root.setProperty("--rope1", colours.cable);
  root.setProperty("--rope2", colours.line);
  root.colorScheme = themeName();
  if (app.stage) app.stage.dress(themeName(), colours, data.overLimit);
  else if (app.lines) flatPictures();
  barChanged();
  redraw();
}

// --- camera --------------------------------------------------------------------------------------

function lookFrom(view) {
  state.view = view;
  const azimuths = direction().azimuth;
  const own = app.size[0] > app.size[1] * 0.9 ? azimuths.wide : azimuths.tall;
  camera.azimuth = view === "plan" ? -Math.PI / 2 : view === "side" ? sideAzimuth() : own;
  camera.elevation = view === "plan" ? Math.PI / 2 : view === "side" ? 0 : ELEVATION;
  fit();
  for (const button of $("views").children) {
    button.setAttribute("aria-pressed", String(button.dataset.view === view));
  }
}

// Square to the longer way of the route, the pull running left to right.
function sideAzimuth() {
  const ends = [0, app.lines.count - 1].map((i) => [app.lines.xyz[3 * i], app.lines.xyz[3 * i + 1]]);
  let [dx, dy] = [ends[1][0] - ends[0][0], ends[1][1] - ends[0][1]];
  if (direction().reverse) [dx, dy] = [-dx, -dy];
  const wide = spreadOf(0) >= spreadOf(1);
  const along = wide ? [Math.sign(dx) || 1, 0] : [0, Math.sign(dy) || 1];
  return Math.atan2(-along[0], along[1]);
}

function spreadOf(axis) {
  let [low, high] = [Infinity, -Infinity];
  for (let i = 0; i < app.lines.count; i++) {
    low = Math.min(low, app.lines.xyz[3 * i + axis]);
    high = Math.max(high, app.lines.xyz[3 * i + axis]);
  }
  return high - low;
}

function fit() {
  if (!app.stage || !app.size[0]) return;
  const small = app.size[0] < 500;
  const room = { left: small ? 24 : 70, top: small ? 60 : 72, right: app.size[0] - (small ? 24 : 70), bottom: app.size[1] - (small ? 92 : 120) };
  const list = app.stage.content(state.feed);
  const all = new Float32Array(list.reduce((n, a) => n + a.length, 0));
  let at = 0;
  for (const array of list) {
    all.set(array, at);
    at += array.length;
  }
  fitCamera(camera, all, app.size, room);
  app.limits = [camera.span / 300, camera.span * 4];
  for (const item of app.items) item.last = null;
  redraw();
}

function resized() {
  const box = $("stage").getBoundingClientRect();
  const now = [Math.round(box.width), Math.round(box.height)];
  if (now[0] === app.size[0] && now[1] === app.size[1]) return;
  app.size = now;
  if (!$("tab-pull").offsetParent && $("tab-pull").tabIndex === 0) tabTo("answer");
  if (app.stage) {
    app.stage.resize(...app.size);
    measureLabels();
    if (!state.touched) lookFrom(state.view);
    else for (const item of app.items) item.last = null;
    redraw();
  } else {
    flatPictures();
  }
  barChanged();
  headChart();
  chartsChanged();
}

// --- wiring --------------------------------------------------------------------------------------

function wire() {
  $("run").replaceChildren(...data.runs.map((r, n) => el("option", { value: n }, r.name)));
  $("run-pick").hidden = data.runs.length < 2;
  $("run").addEventListener("change", (e) => {
    state.run = Number(e.target.value);
    state.feed = run().best;
    loadRun();
    dressUp();
  });
  $("feed").addEventListener("change", (e) => {
    state.feed = Number(e.target.value);
    feedChanged();
    headChart();
  });
  $("mode").replaceChildren(...data.modes.map((m) => el("option", { value: m }, MODE_NAMES[m])));
  $("mode").addEventListener("change", (e) => {
    state.mode = e.target.value;
    coloursChanged();
  });
  $("units").value = state.units;
  $("units").addEventListener("change", (e) => {
    state.units = e.target.value;
    wordsChanged();
    coloursChanged();
    headChanged();
    headChart();
  });
  for (const button of $("views").children) button.addEventListener("click", () => lookFrom(button.dataset.view));
  $("play").addEventListener("click", togglePlay);
  $("head").addEventListener("input", (e) => {
    stopPlaying();
    state.head = Number(e.target.value) / 1000;
    headChanged();
  });
  $("pull-chart").addEventListener("click", (e) => {
    if (!app.chart) return;
    const x = e.clientX - $("pull-chart").getBoundingClientRect().left;
    const [a, b] = [app.chart.pad.left, app.chart.width - app.chart.pad.right];
    state.head = Math.min(1, Math.max(0, (x - a) / (b - a)));
    stopPlaying();
    headChanged();
  });
  $("reading-close").addEventListener("click", () => readAt(null, false));
  $("reading-back").addEventListener("click", () => step(-1));
  $("reading-on").addEventListener("click", () => step(1));
  wireTabs();
  device.addEventListener("change", themeChanged);
  new ResizeObserver(resized).observe($("stage"));
}

function wireTabs() {
  const tabs = [...$("tabs").children];
  for (const tab of tabs) tab.addEventListener("click", () => tabTo(tab.id.slice(4)));
  $("tabs").addEventListener("keydown", (e) => {
    const way = { ArrowRight: 1, ArrowLeft: -1 }[e.key];
    if (!way) return;
    const shown = tabs.filter((t) => t.offsetParent !== null);
    const next = shown[(shown.indexOf(document.activeElement) + way + shown.length) % shown.length];
    next.focus();
    tabTo(next.id.slice(4));
  });
}

function wireStage() {
  const look = {
    orbit: (dx, dy) => { orbitCamera(camera, dx, dy); turned(); },
    pan: (dx, dy) => { panCamera(camera, dx, dy); moved(); },
    zoom: (factor, at) => { zoomCamera(camera, factor, at, app.size, app.limits); moved(); },
    tap: tapped,
  };
  bindPointers($("canvas"), look);
  $("canvas").addEventListener("pointerdown", () => $("stage").focus({ preventScroll: true, focusVisible: false }));
  $("canvas").addEventListener("webglcontextlost", lostContext);
  const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  const middle = () => [app.size[0] / 2, app.size[1] / 2];
  const keys = {
    "+": () => look.zoom(1.2, middle()), "=": () => look.zoom(1.2, middle()), "-": () => look.zoom(1 / 1.2, middle()),
    1: () => lookFrom("isometric"), 2: () => lookFrom("plan"), 3: () => lookFrom("side"),
    f: fit, F: fit, ",": () => step(-1), ".": () => step(1), " ": togglePlay, Escape: () => readAt(null, false),
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

function turned() {
  for (const button of $("views").children) button.setAttribute("aria-pressed", "false");
  moved();
}

function dressUp() {
  if (app.stage) {
    app.stage.dress(themeName(), theme(), data.overLimit);
    lookFrom("isometric");
  }
  feedChanged();
  headChart();
}

function main() {
  wire();
  if (canDraw()) {
    try {
      app.stage = makeStage($("canvas"));
      wireStage();
    } catch {
      app.stage = null;
    }
  }
  loadRun();
  tabTo("answer");
  themeChanged();
  const box = $("stage").getBoundingClientRect();
  app.size = [Math.round(box.width), Math.round(box.height)];
  if (app.stage) app.stage.resize(...app.size);
  dressUp();
  requestAnimationFrame(() => performance.mark("first picture"));
}

main();
