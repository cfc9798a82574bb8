"use strict";
// The tabs beside the picture, and the drawings in place of it where there is no 3D.

function chartsChanged() {
  const panel = $("charts");
  if (panel.hidden || !panel.clientWidth) return;
  if (!panel.children.length) {
    for (const id of ["elevation", "tension-chart", "sidewall-chart"]) {
      panel.append(el("div", { id, style: "height:226px;margin-bottom:18px" }));
    }
  }
  chartInto($("elevation"), "z");
  chartInto($("tension-chart"), "tension");
  chartInto($("sidewall-chart"), "sidewall");
}

function chartInto(placeOf, name) {
  const step = Math.max(1, Math.ceil(app.lines.count / 2500));
  const at = [];
  for (let i = 0; i < app.lines.count; i += step) at.push(i);
  if (at[at.length - 1] !== app.lines.count - 1) at.push(app.lines.count - 1);
  const xs = at.map((i) => app.unit.inUnits(app.lines.station[i], "length"));
  const { reverse } = direction();
  const ends = [0, app.unit.inUnits(run().length, "length")];
  const x = { values: xs, from: ends[reverse ? 1 : 0], to: ends[reverse ? 0 : 1], title: `station along the route (${app.unit.unit("length")})`, ends: endNames() };
  if (name === "z") {
    const up = run().origin[2];
    const ys = at.map((i) => app.unit.inUnits(app.lines.xyz[3 * i + 2] + up, "length"));
    lineChart(placeOf, { x, y: { values: ys, title: `Elevation (${app.unit.unit("length")})` }, bands: bands(), zero: false });
    return;
  }
  const quantity = MODE_QUANTITY[name];
  const most = run().limits[name];
  const ys = at.map((i) => app.unit.inUnits(app.lines[name][state.feed][i], quantity));
  const limits = [{ values: xs.map(() => app.unit.inUnits(most, quantity)), words: `limit ${app.unit.show(most, quantity)}` }];
  const title = `${name === "tension" ? "Cable tension" : "Sidewall pressure"} (${app.unit.unit(quantity)})`;
  lineChart(placeOf, { x, y: { values: ys, title }, limits, bands: bands(), over: at.map((i) => app.lines[name][state.feed][i] > most * (1 + 1e-6)) });
}

function tabTo(name) {
  for (const id of ["answer", "charts", "view", "pull"]) {
    $(id).hidden = id !== name;
    $(`tab-${id}`).setAttribute("aria-selected", String(id === name));
    $(`tab-${id}`).tabIndex = id === name ? 0 : -1;
  }
  chartsChanged();
  headChart();
}

function fillFeeds() {
  $("feed").replaceChildren(...run().directions.map((d, n) =>
    el("option", { value: n }, d.feed + (n === run().chosen ? " (chosen)" : ""))));
  $("feed").value = String(state.feed);
}

function fillLayers() {
  const box = (name, words, on, change) => {
    const input = el("input", { type: "checkbox", onchange: (e) => change(e.target.checked) });
    input.checked = on;
    input.name = name;
    return el("label", { class: "check" }, input, words);
  };
  const layers = app.stage ? [...app.stage.layers(), "labels"] : [];
  const choice = el("select", { id: "theme", onchange: (e) => {
    state.theme = e.target.value;
    themeChanged();
  } }, ...[["auto", "as the device"], ["light", "light"], ["dark", "dark"]].map(([v, w]) => el("option", { value: v }, w)));
  choice.value = state.theme;
  $("view").replaceChildren(
    el("h3", {}, "Layers"),
    ...layers.map((layer) => box(layer, layer[0].toUpperCase() + layer.slice(1), !state.hidden.has(layer), (on) => {
      if (on) state.hidden.delete(layer);
      else state.hidden.add(layer);
      app.stage.show(state);
      headChanged();
    })),
    el("label", { class: "pick" }, "Light or dark", choice),
    el("h3", {}, "By hand"),
    el("p", { class: "small" }, "Drag to turn, pinch or wheel to zoom, two fingers or Shift and drag to move. Tap the route to read tension and sidewall pressure there."),
    el("h3", {}, "Keys, with the picture in focus"), keysList());
}

// --- without 3D ---------------------------------------------------------------------------------

function flatPictures() {
  if (!app.lines) return;
  const flat = $("flat");
  if (!flat.children.length) {
    flat.append(
      el("p", { class: "message" }, "This browser shows no 3D (WebGL 2 is missing or switched off): plan and profile instead. Everything else works."),
      el("div", { id: "flat-plan", style: "height:260px;margin-bottom:12px" }),
      el("div", { id: "flat-elevation", style: "height:200px;margin-bottom:12px" }),
      el("div", { id: "flat-tension", style: "height:200px" }));
  }
  flat.hidden = false;
  for (const id of ["views", "labels", "leaders", "canvas", "bar", "cue"]) $(id).style.display = "none";
  flat.style.inset = "0";
  const s = scale();
  const values = app.lines[state.mode][state.feed];
  const colourAt = (i) => {
    if (values[i] > s.limit * (1 + 1e-6)) return data.overLimit;
    const k = Math.round(255 * Math.min(1, values[i] / s.full));
    return `#${theme().map.substr(6 * k, 6)}`;
  };
  const d = run().directions[0];
  planPicture($("flat-plan"), app.lines, colourAt, [d.feed, d.pull]);
  chartInto($("flat-elevation"), "z");
  chartInto($("flat-tension"), state.mode === "sidewall" ? "sidewall" : "tension");
}

function lostContext() {
  app.stage = null;
  fillLayers();
  flatPictures();
}
