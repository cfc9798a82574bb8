"use strict";
// Reading the route at one place: by tap, by key, or from a finding.

function tapped(at, pointer) {
  const project = projection(camera, app.size);
  const reach = pointer === "mouse" ? 16 : 30;
  let found = null;
  let least = reach;
  let last = null;
  for (let i = 0; i < app.lines.count; i++) {
    const p = project(app.lines.xyz[3 * i], app.lines.xyz[3 * i + 1], app.lines.xyz[3 * i + 2]);
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
  readAt(found, false);
}

function readAt(station, scroll) {
  state.reading = station === null ? null : Math.min(run().length, Math.max(0, station));
  readingChanged();
  if (scroll && app.stage) bringIntoView();
  redraw();
}

function bringIntoView() {
  const [x, y] = projection(camera, app.size)(...pointAt(app.lines, state.reading));
  if (x < 20 || y < 60 || x > app.size[0] - 20 || y > app.size[1] - 70) {
    panCamera(camera, app.size[0] / 2 - x, app.size[1] / 2 - y);
    moved();
  }
}

function readingChanged() {
  $("reading").hidden = state.reading === null;
  if (state.reading === null) return;
  const station = state.reading;
  const spot = locate(app.lines, station);
  const { segments, limits: most } = run();
  let segment = segments.end.findIndex((end) => station <= end + 1e-9);
  if (segment < 0) segment = segments.end.length - 1;
  const [head, about] = segments.words[state.units][segment];
  const [tension, sidewall] = ["tension", "sidewall"].map((n) => between(app.lines[n][state.feed], spot));
  const against = (name, value, limit, quantity) =>
    el("div", { class: value > limit * (1 + 1e-6) ? "over" : "" },
      `${name} ${app.unit.show(value, quantity)}`, el("span", { class: "small" },
        ` ${app.unit.show(value / limit, "percent")} of ${app.unit.show(limit, quantity)}`));
  $("reading-text").replaceChildren(
    el("div", {}, `Station ${app.unit.show(station, "length")}`),
    el("div", {}, `${head}: `, el("span", { class: "small" }, about)), against("Tension", tension, most.tension, "force"),
    segments.bend[segment] ? against("Sidewall", sidewall, most.sidewall, "sidewall")
      : el("div", { class: "small" }, "no sidewall pressure on a straight"));
}

// A step along the route: to the next joint or a fiftieth of it, whichever is nearer.
function step(sign) {
  const { length, segments } = run();
  const from = state.reading === null ? (sign > 0 ? 0 : length) : state.reading;
  const far = from + (sign * length) / 50;
  const joints = segments.end.filter((s) => (sign > 0 ? s > from + 1e-6 && s < far : s < from - 1e-6 && s > far));
  readAt(joints.length ? (sign > 0 ? joints[0] : joints[joints.length - 1]) : far, true);
}
