"use strict";
// Playback of the pull: the head, the machine's load against its limit, gear and clock. The frames
// are read by ../shared/film.js.

const PLAY_SECONDS = 14;

const film = () => direction().playback;
function headChanged() {
  const now = frameAt(film(), state.head);
  const whole = state.head >= 1;
  if (app.stage) {
    app.stage.setHead(whole ? null : now.station, pointAt(app.lines, now.station), direction().reverse ? -1 : 1, state.hidden);
  }
  const slider = $("head");
  if (document.activeElement !== slider || state.playing) slider.value = String(Math.round(1000 * state.head));
  const gears = words().gears;
  const gear = !gears.length ? null : now.gear < 0 ? "none: plan ended" : gears[now.gear];
  const over = now.load !== null && now.limit !== null && now.load > now.limit * (1 + 1e-9);
  const { lacking, limitWords } = film();
  const told = headlineAt(film(), now.pulled);
  const readings = (row) => [row.expected, row.caution, row.stop].map((v) => app.unit.show(v, "force")).join(" / ");
  const list = [
    ["Cable in", app.unit.show(now.pulled, "length")],
    ["Head at station", app.unit.show(now.station, "length")],
    ...told.map((row) => [`${row.name}, ${app.unit.show(row.pulled, "length")} in: expected / caution / stop`, readings(row)]),
    ["Set by: load over its limit", told.length && over ? now.governs : null, over],
    [over ? "Load: OVER" : "Machine load", told.length ? null : now.load === null ? "no rope named" : app.unit.show(now.load, "force"), over],
    [limitWords, told.length || now.limit === null ? null : app.unit.show(now.limit, "force"), over],
    ["No stop load", told.length ? null : lacking],
    ["Gear", gear],
    [`Elapsed, ${clockUnit(now.elapsed)}`, gears.length ? clockOf(now.elapsed) : null],
    ["Pull at head", app.unit.show(now.headTension, "force")],
  ].filter(([, value]) => value !== null);
  const swatch = (kind) => el("span", { class: `swatch ${kind}` });
  $("pull-now").replaceChildren(...list.map(([name, value, alarm]) =>
    el("div", { class: `${alarm ? "over" : ""} ${/^(Set|No |Now|Next)/.test(name) ? "long" : ""}` }, el("dt", {}, name), el("dd", { title: value }, value))),
  el("div", {}, el("dt", {}, "Shown"), el("dd", { class: "small" }, swatch("cable"), "cable ", swatch("rope"), "rope")));
  slider.setAttribute("aria-valuetext", `${app.unit.show(now.station, "length")}, ${now.load === null ? "" : app.unit.show(now.load, "force")}`);
  moveCursor(now);
  redraw();
}

function headChart() {
  const f = film();
  if (!$("pull-chart").clientWidth) return;
  const xs = f.station.map((s) => app.unit.inUnits(s, "length"));
  const ys = f.load.map((v) => (v === null ? null : app.unit.inUnits(v, "force")));
  if (!ys.some((v) => v !== null)) {
    $("pull-chart").replaceChildren(el("p", { class: "small" }, "The run names no rope, so the load on the machine is not worked out."));
    app.chart = null;
    return;
  }
  const line = (list, words, kind) => ({ values: list.map((v) => (v === null ? null : app.unit.inUnits(v, "force"))), words, kind });
  const least = (list) => app.unit.show(Math.min(...list.filter((v) => v !== null)), "force");
  const most = Math.max(...f.load.filter((v) => v !== null));
  const told = (list, words) => (Math.min(...list.filter((v) => v !== null)) > 2.5 * most ? `${words} ${least(list)}` : words);
  const gear = f.gearLimit.some((v) => v !== null) ? [line(f.gearLimit, told(f.gearLimit, f.stops ? "machine stalls" : f.limitWords.toLowerCase()), "gear")] : [];
  const limits = f.stops ? [line(f.stop, told(f.stop, "stop load"), "stop"), ...gear] : gear;
  app.chart = lineChart($("pull-chart"), {
    x: { values: xs, from: xs[0], to: xs[xs.length - 1], title: `station of the cable head (${app.unit.unit("length")})`, ends: endNames() },
    y: { values: ys, title: `Machine load (${app.unit.unit("force")})` }, limits, bands: bands(), over: f.over,
  });
  app.chart.cursor = svg("line", { class: "cursor", y1: app.chart.pad.top, y2: app.chart.height - app.chart.pad.bottom });
  app.chart.dot = svg("circle", { class: "dot", r: 6 });
  app.chart.root.append(app.chart.cursor, app.chart.dot);
  moveCursor(frameAt(film(), state.head));
}

const endNames = () => [`feed: ${direction().feed}`, `pull: ${direction().pull}`];

function moveCursor(now) {
  if (!app.chart) return;
  const x = app.chart.px(app.unit.inUnits(now.station, "length"));
  app.chart.cursor.setAttribute("x1", x);
  app.chart.cursor.setAttribute("x2", x);
  app.chart.dot.setAttribute("cx", x);
  app.chart.dot.setAttribute("cy", app.chart.py(app.unit.inUnits(now.load, "force")));
}

function bands() {
  const { end, bend, words: names } = run().segments;
  if (end.length > 400) return [];
  return end.map((s, i) => [i ? end[i - 1] : 0, s, names[state.units][i][0], bend[i]]).filter((b) => b[3])
    .map(([a, b, name], i) => [app.unit.inUnits(a, "length"), app.unit.inUnits(b, "length"), name, i + 1]);
}

function togglePlay() {
  if (state.playing) {
    stopPlaying();
    return;
  }
  if (state.head >= 1) state.head = 0;
  state.playing = true;
  $("play").textContent = "❚❚";
  $("play").setAttribute("aria-label", "Pause the pull");
  let last = performance.now();
  const tick = (now) => {
    if (!state.playing) return;
    state.head = laterShare(film(), state.head, (now - last) / 1000 / PLAY_SECONDS);
    last = now;
    if (state.head >= 1) stopPlaying();
    headChanged();
    if (state.playing) requestAnimationFrame(tick);
  };
  requestAnimationFrame(tick);
}

function stopPlaying() {
  state.playing = false;
  $("play").textContent = "▶";
  $("play").setAttribute("aria-label", "Play the pull");
}
