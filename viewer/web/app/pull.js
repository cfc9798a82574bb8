// Playback of the pull: the head, the machine's load against its limit, gear and clock.

import { Chart, bands } from "./charts.js";
import { clockOf, clockUnit, frameAt, headlineAt, laterShare, pulledOf, readingsAt, rowAt } from "./film.js";
import { direction, head, pending, set, setHead, store, unit, words } from "./store.js";
import { Stale, glued, html, useEffect, useState } from "./ui.js";

const PLAY_SECONDS = 14;

export function togglePlay() {
  const film = direction().playback;
  if (store.playing || !film) {
    set({ playing: false });
    return;
  }
  if (head.share >= 1) pullTo(0);
  set({ playing: true });
  let last = performance.now();
  const tick = (now) => {
    const shown = direction().playback;
    if (!store.playing) return;
    if (shown) pullTo(laterShare(shown, head.share, (now - last) / 1000 / PLAY_SECONDS));
    last = now;
    if (head.share >= 1 || !shown) set({ playing: false });
    else requestAnimationFrame(tick);
  };
  requestAnimationFrame(tick);
}

// The head of the cable at a share of the pull, and the gauge table at the row of it.
function pullTo(share) {
  setHead(share);
  const film = direction().playback;
  if (!film || !film.rows.length) return;
  const row = rowAt(film, head.share * pulledOf(film).at(-1));
  if (row !== store.row) set({ row });
}

function useHead() {
  const [share, moved] = useState(head.share);
  useEffect(() => {
    const listener = () => moved(head.share);
    head.listeners.add(listener);
    listener();
    return () => head.listeners.delete(listener);
  }, []);
  return share;
}

// Below the picture: play, the place of the head, and what the machine feels then.
export function PullBar() {
  const share = useHead();
  const film = direction().playback;
  const now = film && frameAt(film, share);
  const u = unit();
  const over = now && isOver(now);
  const load = !now || now.load === null ? "" : `${u.show(now.load, "force")}${over ? ": OVER" : ""}`;
  return html`<div id="pull-bar">
    <button type="button" id="play" disabled=${!film} aria-label=${store.playing ? "Pause the pull" : "Play the pull"} onClick=${togglePlay}>${store.playing ? "❚❚" : "▶"}</button>
    <input type="range" id="head" min="0" max="1000" step="1" disabled=${!film} value=${Math.round(1000 * share)}
      aria-label="Location of the cable head, from the feed end to the pulling end" aria-valuetext=${now ? `${u.show(now.station, "length")}, ${load}` : ""}
      onInput=${(e) => { set({ playing: false }); pullTo(Number(e.target.value) / 1000); }} />
    <output id="pull-short" class=${over ? "stop" : ""} aria-live="off">${!film ? "calculating" : html`<span>${u.show(now.pulled, "length")} in</span> <b>${load}</b>`}<${Stale} when=${store.lost} /></output>
  </div>`;
}

const isOver = (now) => now.load !== null && now.limit !== null && now.load > now.limit * (1 + 1e-9);

export function Pull() {
  const share = useHead();
  const film = direction().playback;
  if (pending() || !film) return html`<p>Calculating…</p>`;
  const now = frameAt(film, share);
  const u = unit();
  const over = isOver(now);
  const { gears } = words();
  const told = headlineAt(film, now.pulled);
  const known = told.length > 0;
  const gear = !gears.length ? null : now.gear < 0 ? "none: plan ended" : gears[now.gear];
  const readings = (row) => [row.expected, row.caution, row.stop].map((v) => u.show(v, "force")).join(" / ");
  // name, value or null, whether it is an alarm, whether it is long
  const list = [
    ["Cable in", u.show(now.pulled, "length")],
    ["Head at station", u.show(now.station, "length")],
    ...told.map((row) => [`${row.name}, ${u.show(row.pulled, "length")} in: expected / caution / stop`, readings(row), false, true]),
    ["Limit exceeded", known && over ? now.governs : null, true, true],
    [over ? "Machine load: OVER" : "Machine load", now.load === null ? "no rope given" : u.show(now.load, "force"), over],
    [film.limitWords, now.limit === null ? null : u.show(now.limit, "force") + (film.stops ? ` (${now.governs})` : ""), over, film.stops],
    ["No stop load", known ? null : film.lacking || null, false, true],
    ["Gear", gear],
    [`Elapsed, ${clockUnit(now.elapsed)}`, gears.length ? clockOf(now.elapsed) : null],
    ["Tension at the head", u.show(now.headTension, "force")],
    ["Peak sidewall", now.peakSidewall ? u.show(now.peakSidewall, "sidewall") : null],
  ].filter(([, value]) => value !== null && value !== undefined);
  return html`<div id="pull-panel">
    <${Stale} when=${store.lost} />
    <dl id="pull-now">${list.map(([name, value, alarm, long]) => html`<div class=${`${alarm ? "over" : ""} ${long ? "long" : ""}`}><dt>${glued(name)}</dt><dd>${glued(value)}</dd></div>`)}
      <div><dt>Shown</dt><dd class="small"><i class="swatch cable"></i>cable <i class="swatch rope"></i>rope</dd></div></dl>
    <${HeadChart} film=${film} now=${now} />
  </div>`;
}

function HeadChart({ film, now }) {
  const u = unit();
  const loads = (list) => list.map((v) => (v === null ? null : u.inUnits(v, "force")));
  const known = film.load.filter((v) => v !== null);
  if (!known.length) return html`<p class="small">No rope given: machine load not calculated.</p>`;
  const lowest = (list) => u.show(Math.min(...list.filter((v) => v !== null)), "force");
  const line = (list, name, kind) => (list.some((v) => v !== null) ? [{ values: loads(list), words: `${name} ${lowest(list)}`, kind }] : []);
  const gear = line(film.gearLimit, film.stops ? "machine stalls at" : film.limitWords.toLowerCase(), "gear");
  const caution = film.rows.length > 1 ? line(readingsAt(film, "caution"), "caution, lowest", "caution") : [];
  const x = film.station.map((s) => u.inUnits(s, "length"));
  const pulled = pulledOf(film);
  const pick = (at) => {
    const way = Math.abs(at / u.inUnits(1, "length") - film.station[0]);
    set({ playing: false });
    pullTo(way / pulled[pulled.length - 1]);
  };
  return html`<${Chart} id="pull-chart" x=${x} from=${x[0]} to=${x[x.length - 1]} y=${loads(film.load)} title=${`Machine load (${u.unit("force")})`}
    xTitle=${`station of the cable head (${u.unit("length")})`} limits=${[...(film.stops ? line(film.stop, "stop load, lowest", "stop") : []), ...gear, ...caution]}
    bends=${bands()} over=${film.over} mark=${u.inUnits(now.station, "length")} pick=${pick} deps=${[film]} />`;
}
