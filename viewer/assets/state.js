"use strict";
// What is chosen on the page, what is on it now, and the one drawing of the next frame.

const $ = (id) => document.getElementById(id);
const MODE_NAMES = { tension: "Tension", sidewall: "Sidewall", utilisation: "Share of limit" };
const MODE_QUANTITY = { tension: "force", sidewall: "sidewall", utilisation: "percent" };

const data = JSON.parse($("data").textContent);
const device = window.matchMedia("(prefers-color-scheme: dark)");

// What a person chose.
const state = {
  run: 0, feed: data.runs[0].best, mode: "tension", units: data.units, theme: data.theme,
  head: 1, // share of the cable pulled; 1 shows all of it in
  reading: null, // station, m
  hidden: new Set(), // layers
  view: "isometric", playing: false,
  touched: false, // whether the route was turned or moved by hand
};

// What follows from it and is kept: the centreline of the run in `lines`, labels as {element, at,
// last} in `items`; `stage` is null where the browser shows no 3D.
const app = {
  size: [0, 0], limits: [1e-4, 1e4], stage: null, lines: null, items: [], chart: null,
  unit: printer(data.quantities, state.units),
};
const camera = { azimuth: 0, elevation: ELEVATION, target: [0, 0, 0], span: 1 };

const run = () => data.runs[state.run];
const direction = () => run().directions[state.feed];
const words = () => direction().words[state.units];
const scale = () => words().scales[state.mode];
const themeName = () => (state.theme === "auto" ? (device.matches ? "dark" : "light") : state.theme);
const theme = () => data.themes[themeName()];

let waiting = false;
function redraw() {
  if (waiting || !app.stage) return;
  waiting = true;
  requestAnimationFrame(() => {
    waiting = false;
    app.stage.draw(camera, app.size);
    cues(); // before the labels, which keep off them
    place();
  });
}

let settling = 0;
function moved() {
  state.touched = true;
  redraw();
  clearTimeout(settling); // at rest every label gets its best place again
  settling = setTimeout(() => {
    for (const item of app.items) item.last = null;
    redraw();
  }, 220);
}
