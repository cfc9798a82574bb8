// Charts against the station along the route, on uPlot; the feed is always on the left.

import { glued, html, useLayoutEffect, useRef } from "./ui.js";
import { direction, run, store, theme, unit } from "./store.js";
import { plain } from "./units.js";
import { t } from "./words.js";

const FONT = '12px system-ui, -apple-system, "Segoe UI", Roboto, "DejaVu Sans", sans-serif';
const TOO_FAR = 2.5; // a limit further above the curve than this is named but not drawn

export const endNames = () => [t("feed: {end}", { end: direction().feed }), t("pull: {end}", { end: direction().pull })];

// Bends as [from, to, number] in display units.
export const bands = () => run().bands.map(([a, b, number]) => [unit().inUnits(a, "length"), unit().inUnits(b, "length"), number]);

// All numbers in display units.
//   x: values; from, to: of the axis, from > to where the pull runs against the stations
//   y: the curve; null parts it.  over: where it is above its limit
//   limits: [{values, words, kind}]  mark: where the reading or the head is
//   points: [x, y] of readings taken  area: {x, low, high} of a forecast
//   pick(x): a tap or a drag; zero: false where the axis need not begin at zero
export function Chart(props) {
  const { id, title, x, y, ends = endNames(), xTitle, limits = [], mark, told, pick, step, deps } = props;
  const place = useRef();
  const chart = useRef(null);
  const { near, high, low } = reach(props);
  useLayoutEffect(() => {
    const made = make(place.current, props, { near, high, low });
    chart.current = made;
    const observer = new ResizeObserver(() => made.setSize(sizeOf(place.current)));
    observer.observe(place.current);
    return () => {
      observer.disconnect();
      made.destroy();
    };
  }, [...deps, store.units, theme(), store.printing]);
  useLayoutEffect(() => moveMark(chart.current, mark));
  const keys = limits.filter((l) => values(l.values).length);
  const steps = { ArrowLeft: -1, ArrowRight: 1 };
  const slider = step ? { role: "slider", tabIndex: 0, "aria-valuemin": Math.min(...x), "aria-valuemax": Math.max(...x),
    "aria-valuenow": mark ?? x[0], "aria-valuetext": told || "no reading",
    onKeyDown: (e) => {
      if (!steps[e.key]) return;
      e.preventDefault();
      step(steps[e.key] * (direction().reverse ? -1 : 1));
    } } : { role: "img" };
  return html`<figure class="chart" id=${id}>
    <figcaption><b>${title}</b>
      ${keys.map((l) => html`<span class=${`key ${l.kind}`}>${near.includes(l) && html`<i />`}${glued(near.includes(l) ? l.words : `${l.words}: above the chart`)}</span>`)}
      ${told && html`<span class="told">${told}</span>`}${store.lost && html`<small class="stale">${store.lost}</small>`}</figcaption>
    <div class="plot" ref=${place} aria-label=${`${title}, ${xTitle}. Highest ${plain(Math.max(...values(y)), 4)}.`} ...${slider}
      onPointerDown=${(e) => picked(e, chart.current, pick)} onPointerMove=${(e) => e.buttons && picked(e, chart.current, pick)}></div>
    <div class="foot"><b>${ends[0]}</b><span>${xTitle}</span><b>${ends[1]}</b></div>
  </figure>`;
}

const values = (list) => list.filter((v) => v !== null && Number.isFinite(v));

function reach({ y, limits = [], zero = true, points = [], area = null }) {
  let low = zero ? 0 : Math.min(...values(y));
  let high = Math.max(...values(y), ...points.map((p) => p[1]), ...(area ? values(area.high) : []), zero ? 1e-9 : -Infinity);
  const top = TOO_FAR * high;
  const near = limits.filter((l) => values(l.values).length && Math.min(...values(l.values)) <= top);
  for (const l of near) high = Math.max(high, Math.min(Math.max(...values(l.values)), top));
  if (high - low < 1e-9) high = low + 1;
  high += (high - low) * 0.08;
  if (!zero) low -= (high - low) * 0.08;
  return { near, low, high };
}

const sizeOf = (place) => ({ width: Math.max(200, place.clientWidth), height: Math.max(96, place.clientHeight) });

function make(place, props, { near, low, high }) {
  const { y, from, to, over = [], bends = [], points = [], area = null } = props;
  const colors = theme();
  // uPlot wants its x in rising order
  const back = props.x[0] > props.x[props.x.length - 1];
  const turned = (list) => (back ? [...list].reverse() : list);
  const line = (list) => turned(list.map((v) => (v === null ? null : Math.min(v, high))));
  const axis = (more) => ({ stroke: colors.ink, font: FONT, grid: { stroke: colors.line, width: 1 }, ticks: { stroke: colors.line, width: 1, size: 4 }, gap: 4,
    values: (_, splits) => splits.map((v) => (v === null ? "" : plain(v))), ...more });
  const dashes = { gear: [3, 4], stop: [], caution: [2, 3] };
  const limitLine = (l) => ({ stroke: l.kind === "caution" ? colors.faint : colors.alarm, width: 1.8, dash: dashes[l.kind] || [7, 4], points: { show: false } });
  return new uPlot({
    ...sizeOf(place), padding: [bends.length ? 22 : 8, 12, 0, 0], legend: { show: false },
    cursor: { x: Boolean(props.pick), y: false, points: { show: false }, drag: { x: false, y: false } },
    scales: { x: { time: false, dir: from > to ? -1 : 1, range: [Math.min(from, to), Math.max(from, to)] }, y: { range: [low, high] } },
    axes: [axis({ size: 26 }), axis({ size: 54, space: 34 })],
    series: [{}, { stroke: colors.feed, width: 2.2, points: { show: false } }, ...near.map(limitLine), { stroke: colors.alarm, width: 4, points: { show: false } }],
    hooks: { drawClear: [(u) => shade(u, bends, colors), (u) => fillArea(u, area, colors)], draw: [(u) => drawReadings(u, points, colors)] },
  }, [turned(props.x), line(y), ...near.map((l) => line(l.values)), line(y.map((v, i) => (over[i] ? v : null)))], place);
}

// Bends as bands with their numbers above, as far as there is room for those.
function shade(u, bends, colors) {
  const { ctx, bbox } = u;
  const pixels = devicePixelRatio;
  ctx.save();
  ctx.font = FONT.replace("12px", `${12 * pixels}px`);
  ctx.textAlign = "center";
  const placed = bends.map(([a, b, number]) => [...[u.valToPos(a, "x", true), u.valToPos(b, "x", true)].sort((p, q) => p - q), number])
    .sort((p, q) => p[0] - q[0]);
  const named = (before) => {
    let taken = -Infinity;
    return placed.flatMap(([left, right, number]) => {
      const middle = (left + Math.max(right, left + 2)) / 2;
      const half = ctx.measureText(before + number).width / 2 + 3 * pixels;
      if (middle - half <= taken) return [];
      taken = middle + half;
      return [[before + number, middle]];
    });
  };
  ctx.fillStyle = `${colors.line}70`;
  for (const [left, right] of placed) ctx.fillRect(left, bbox.top, Math.max(2, right - left), bbox.height);
  ctx.fillStyle = colors.faint;
  const long = named("bend ");
  for (const [words, at] of long.length === placed.length ? long : named("")) ctx.fillText(words, at, bbox.top - 6 * pixels);
  ctx.restore();
}

// Readings taken.
function drawReadings(u, points, colors) {
  const { ctx } = u;
  ctx.save();
  ctx.fillStyle = colors.ink;
  for (const [x, y] of points) {
    ctx.beginPath();
    ctx.arc(u.valToPos(x, "x", true), u.valToPos(y, "y", true), 3.5 * devicePixelRatio, 0, 2 * Math.PI);
    ctx.fill();
  }
  ctx.restore();
}

// The band of a forecast.
function fillArea(u, area, colors) {
  if (!area) return;
  const { ctx } = u;
  const edge = (list) => area.x.map((x, i) => [u.valToPos(x, "x", true), u.valToPos(list[i], "y", true)]);
  ctx.save();
  ctx.fillStyle = `${colors.feed}40`;
  ctx.beginPath();
  for (const [x, y] of [...edge(area.low), ...edge(area.high).reverse()]) ctx.lineTo(x, y);
  ctx.fill();
  ctx.restore();
}

// The place of the reading or of the head, as an element: it moves without drawing anew.
function moveMark(u, at) {
  let line = u.over.querySelector(".mark");
  if (!line) {
    line = Object.assign(document.createElement("div"), { className: "mark" });
    u.over.append(line);
  }
  line.hidden = at === null || at === undefined;
  if (!line.hidden) line.style.transform = `translateX(${u.valToPos(at, "x")}px)`;
}

function picked(event, u, pick) {
  if (!pick || !u) return;
  const box = u.over.getBoundingClientRect();
  pick(u.posToVal(Math.min(box.width, Math.max(0, event.clientX - box.left)), "x"));
}
