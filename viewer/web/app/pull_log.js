// A log of a pull: entries in SI, what a reading comes to against the plan, and the files it travels
// in. Nothing here knows the page or the browser's store.

import { rowAt } from "./film.js";
import { judge } from "./forecast.js";
import { named, t } from "./words.js";

export const KINDS = ["reading", "start", "stop", "gear", "brake", "lubricant", "note"];
const FIRST_MOVE = 3; // m from rest in which Caution does not count, as planning/pull_plan/stops.py has it
const PLANNED_START = 0.5; // m from a planned start that is still that start
const MOVED = 0.3; // m from where the pull was stopped, from which on the cable has moved
const LOW_SHARE = 0.5, LOW_MARKS = 3; // so far below the lowest expected reading something has let go
const SAME_PLACE = 0.005, SAME_LOAD = 0.5; // m, N: what writing a figure in other units may change

// --- against the plan -----------------------------------------------------------------------------

// Marks of the dial: to the nearest, and down to the next for what must not be passed.
export const nearest = (load, step) => Math.round(load / step) * step;
const downTo = (load, step) => Math.floor(load / step + 1e-6) * step;
// Up to the next mark, or down where that passes `most`.
function upWithin(load, most, step) {
  const above = Math.ceil(load / step - 1e-6) * step;
  return above <= most * (1 + 1e-9) ? above : Math.min(downTo(load, step), downTo(most, step));
}

// The columns of the gauge table as the forecast reads them.
export const gaugeOf = (rows) => ({
  ...Object.fromEntries(["pulled", "expected", "caution", "stop", "gear"].map((name) => [name, rows.map((row) => row[name])])), accurate: rows.map((row) => row.readable),
});

// Expected, caution and stop with so much cable in, at the marks of the dial; null without readings.
// `gauge` of the plan is that of gaugeOf, once for many places.
export function planAt({ film, step, gauge = gaugeOf(film?.rows ?? []) }, pulled) {
  if (!film || !film.rows.length) return null;
  const row = film.rows[rowAt(film, pulled)];
  const at = judge({ gauge }, pulled, 0);
  const stop = downTo(at.stop_N, step);
  return { row, expected: Math.min(nearest(at.expected_N, step), stop), low: at.expected_N * Math.min(1, row.low / row.expected || 0),
    caution: Math.min(nearest(at.caution_N, step), stop), stop };
}

export const lastOf = (entries, ...kinds) => entries.findLast((e) => kinds.includes(e.kind));
export const isRunning = (entries) => lastOf(entries, "start", "stop")?.kind === "start";
export const gearOf = (entries) => lastOf(entries, "gear")?.gear || "";
export const placeOf = (entries) => entries.findLast((e) => e.pulled_m !== null)?.pulled_m ?? null;

// Where the cable rested last, m, while no start has been logged since, and whether it has `moved` from
// there; null while the pull runs.
function restOf(entries, pulled) {
  if (isRunning(entries)) return null;
  const stopped = entries.findLastIndex((e) => e.kind === "stop");
  const from = placeOf(entries.slice(0, stopped + 1)) ?? 0;
  return { from, logged: stopped >= 0, moved: Math.abs(pulled - from) > MOVED };
}

// Where the first move began that the cable is still in, m; null where it is in none.
function firstMoveFrom(entries, pulled) {
  const from = isRunning(entries) ? lastOf(entries, "start").pulled_m : restOf(entries, pulled).from;
  return from !== null && pulled - from <= FIRST_MOVE ? from : null;
}

// What a first move from rest at a place may read: up to `most`, always below `stop`, in `gear` ("" where
// it was planned there). `barred` where the pull must not be started again; null without a word of it.
function firstMoveAt(plan, place) {
  const { restarts, film, step } = plan;
  const here = planAt(plan, place).stop;
  const planned = film.rows.find((row) => row.firstMove !== null && Math.abs(row.pulled - place) <= PLANNED_START);
  if (planned) {
    const stop = Math.min(here, planned.firstStop === null ? Infinity : downTo(planned.firstStop, step));
    return { gear: "", stop, most: upWithin(planned.firstMove, stop, step) };
  }
  const there = restarts.filter((one) => one.start - 0.01 <= place && place <= one.end + 0.01);
  if (!there.length) return null;
  if (there.some((one) => !one.gear)) return { barred: true };
  const least = there.reduce((a, b) => (b.firstMove < a.firstMove ? b : a));
  return { gear: least.gear, stop: here, most: upWithin(least.firstMove, Math.min(here, least.most ?? Infinity), step) };
}

// What a reading says: state "plan", "caution", "stop", "low", "still" (nobody logged a start) or
// "unjudged" (`why` "plan" or "gauge"). Stop always applies. `most` is what the first move may read that
// the cable is in, in place of Caution.
export function verdictOf(plan, entries, pulled, load) {
  const { step, gears } = plan;
  const at = planAt(plan, pulled);
  if (!at) return { state: "unjudged", why: "plan" };
  const rest = restOf(entries, pulled);
  const from = firstMoveFrom(entries, pulled);
  const given = from === null ? null : firstMoveAt(plan, from);
  const stop = Math.min(at.stop, given?.stop ?? Infinity);
  const most = given?.most === undefined ? null : Math.min(given.most, stop);
  const gear = gearOf(entries);
  const accurate = !gear || gear === at.row.gear ? at.row.readable : (gears.find(([name]) => name === gear) || [])[2] !== false;
  const told = { ...at, stop, most, rest, first: from !== null, barred: Boolean(given?.barred), other: gear && at.row.gear && gear !== at.row.gear ? at.row.gear : "" };
  const hair = step * 1e-6;
  if (load >= stop - hair) return { ...told, state: "stop" };
  if (most !== null && load > most + hair) return { ...told, state: "stop", beyond: true };
  if (!accurate) return { ...told, state: "unjudged", why: "gauge" };
  if (load > at.caution + hair && most === null) return { ...told, state: "caution" };
  const low = load < LOW_SHARE * at.low && at.low - load > LOW_MARKS * step;
  if (low && (!rest || rest.moved)) return { ...told, state: "low" };
  return { ...told, state: rest ? "still" : "plan" };
}

// The departure that is not over, as `calls` (id of a reading -> calls of departures.js) made it known:
// {call}, with kind "low" for readings far below the plan; null where there is none. A jump lasts until
// the load is back half of its way or a start is logged, what dropped until it reads again.
export function heldOf(plan, entries, calls) {
  let held = null;
  let jumped = 0; // N, the last jump since the start
  entries.forEach((e, i) => {
    if (e.kind === "start") [held, jumped] = [null, 0];
    if (e.kind !== "reading" || e.pulled_m > plan.length + 0.05) return; // no such place
    const told = verdictOf(plan, entries.slice(0, i), e.pulled_m, e.load_N);
    if (told.why === "plan" || (told.rest && !told.rest.moved)) return;
    if (held && isBack(held, told, e.load_N, plan.step)) held = null;
    for (const call of calls.get(e.id) ?? []) {
      if (call.kind === "drop" && !isBack({ call }, told, e.load_N, plan.step)) held = { call };
      if (call.kind !== "jump") continue;
      const back = jumped * call.size < 0 && Math.abs(jumped + call.size) < 0.5 * Math.abs(jumped);
      jumped = call.size;
      const inside = call.size < 0 && e.load_N >= told.low; // fallen to what is planned
      if (back) held = null;
      else if (!inside && held?.call.kind !== "drop") held = { call, share: (e.load_N - call.size) / told.expected };
    }
    if (told.state === "low" && held?.call.kind !== "drop") held = { call: { kind: "low", start: e.pulled_m } };
  });
  return held;
}

function isBack({ call, share }, told, load, step) {
  if (call.kind !== "jump") return load >= LOW_SHARE * told.low && load > step;
  const before = told.expected > 0 && Number.isFinite(share) ? share * told.expected : 0;
  return call.size > 0 ? load < before + call.size / 2 : load > before + call.size / 2;
}

// The answer in words: a head of two words, what to do, and the margin.
export function answerWords(told, pulled, load, show) {
  const f = (value) => show(value, "force");
  const figures = { load: f(load), place: show(pulled, "length"), expected: f(told.expected), stop: f(told.stop),
    below: f(told.caution - load), above: f(load - told.caution), left: f(told.stop - load), over: f(load - told.stop), most: f(told.most), from: show(told.rest?.from ?? null, "length") };
  const start = told.rest?.moved ? [t("No start is logged. Tap Log start.")] : [];
  const other = told.other ? [t("The plan has gear {gear} here.", { gear: named(told.other) })] : [];
  if (told.beyond) return { head: t("STOP"), order: t("Stop the pull now. Call."), said: [t("{load} at {place}: the first move may read up to {most}.", figures)] };
  if (told.state === "stop") {
    const margin = load > told.stop ? t("{load} at {place}: {over} above Stop.", figures) : t("{load} at {place}: Stop is reached.", figures);
    return { head: t("STOP"), order: t("Stop the pull now."), said: [margin] };
  }
  if (told.state === "caution") return { head: t("ABOVE CAUTION"), order: t("Slow down, call."), said: [t("{load} at {place}: {above} above Caution, {left} below Stop.", figures), ...start, ...other] };
  if (told.state === "low") return { head: t("FAR BELOW PLAN"), order: t("Stop and look."), said: [t("{load} at {place}, expected {expected}. Check rope, head, reels and gauge.", figures)] };
  if (told.state === "still") {
    const order = told.barred ? t("Do not start again here. Call.") : told.rest.moved ? t("Tap Log start.") : t("Tap Log start before the cable moves.");
    const said = !told.rest.moved ? t("{load} at {place}, {left} below Stop.", figures)
      : told.rest.logged ? t("{load} at {place}: the cable has moved since the stop at {from}.", figures) : t("{load} at {place}: the cable has moved and no start is logged.", figures);
    return { head: told.rest.moved ? t("NO START LOGGED") : t("STOPPED"), order, said: [said] };
  }
  if (told.state === "plan") {
    const margin = told.most !== null ? t("{load} at {place}: the first move may read up to {most}. {left} below Stop.", figures) : t("{load} at {place}: {below} below Caution, {left} below Stop.", figures);
    return { head: t("ON PLAN"), said: [margin, ...other] };
  }
  const why = told.why === "gauge" ? t("{load} at {place}. The gauge is not accurate in this gear. Stop {stop} still applies.", figures)
    : t("{load} at {place}. There is no plan to compare with.", figures);
  return { head: t("RECORDED ONLY"), said: [why, ...start] };
}

// A departure in words: a head, what it is, what to do at once, and what else the card of it says;
// `answers` are those of the card by kind.
export function departureWords({ kind, start, end, size }, answers, step, show) {
  const up = size > 0;
  const figures = { size: `${kind === "pulsing" ? "" : up ? "+" : "-"}${show(Math.abs(nearest(size, step)), "force")}`, place: show(start, "length"), reach: show(Math.max(end - start, 0), "length") };
  const [head, what] = {
    jump: [up ? t("JUMP {size}", figures) : t("SUDDEN FALL {size}", figures), t("Load jumps by {size} at {place}.", figures)],
    "slow climb": [up ? t("SLOW CLIMB {size}", figures) : t("SLOW FALL {size}", figures), t("Load moves away from the plan: {size} on average over the last {reach}.", figures)],
    offset: [t("OFF PLAN {size}", figures), t("Load differs from the plan by {size} all along.", figures)],
    drop: [t("DROP TO NOTHING"), t("Load drops to nothing at {place}.", figures)],
    pulsing: [t("PULSING {size}", figures), t("Load pulses by {size} from crest to trough.", figures)],
  }[kind];
  const card = up || kind === "drop" ? answers[kind] : null;
  const halt = kind === "drop" || (kind === "jump" && up) ? `${t("STOP AND CALL.")} ` : "";
  if (card) return { head, what, order: `${halt}${card[1]}`, also: [card[0], card[2]] };
  return { head, what, order: ["jump", "drop"].includes(kind) ? t("Stop and look. Check rope, head, reels and gauge.") : t("Slow down, call. Check brake, lubricant and gauge."), also: [] };
}

// Why an entry cannot be true, in a sentence; empty where it can.
export function doubtOf({ length, gears }, entries, { pulled, load }, show) {
  const before = placeOf(entries);
  const figures = { place: show(pulled, "length"), length: show(length, "length"), before: show(before, "length"), load: show(load, "force") };
  if (pulled !== null && pulled > length + 0.05) return t("Cable in {place} is more than the length of the route, {length}.", figures);
  if (pulled !== null && before !== null && pulled < before - 0.01) return t("Cable in {place} is less than before, {before}.", figures);
  const gear = gears.find(([name]) => name === gearOf(entries)) || gears.at(-1);
  if (load !== null && gear && load > gear[1] * (1 + 1e-6)) {
    return t("Reading {load} is more than the machine can pull in gear {gear}, {most}.", { ...figures, gear: named(gear[0]), most: show(gear[1], "force") });
  }
  return "";
}

// In which gear a pull that stopped may start again, and whether it must not.
export function restartWords(plan, pulled, show) {
  if (pulled === null || !plan.film || !plan.film.rows.length) return { barred: false, words: "" };
  const given = firstMoveAt(plan, pulled);
  if (!given) return { barred: false, words: "" };
  if (given.barred) return { barred: true, words: t("Do not start again here. Call.") };
  const figures = { gear: named(given.gear), load: show(given.most, "force"), stop: show(given.stop, "force") };
  if (given.most >= given.stop) return { barred: false, words: given.gear ? t("Start again in gear {gear}. First move below Stop, {stop}.", figures) : t("Planned start. First move below Stop, {stop}.", figures) };
  return { barred: false, words: given.gear ? t("Start again in gear {gear}. First move up to {load}.", figures) : t("Planned start. First move up to {load}, Stop {stop}.", figures) };
}

// What must be held at a stop where cable hangs, in marks of the units shown: [reels, ease to, machine],
// "" for what need not.
export function holdWords([reels, ease, machine] = ["", "", ""]) {
  return [reels && t("Cable hangs: hold at least {reels} at the reels.", { reels }), ease && t("Ease the brake to at most {ease} before the cable moves.", { ease }),
    machine && t("Cable hangs: the brake of the machine must hold up to {machine}. Do not slack the rope.", { machine })].filter(Boolean);
}

// --- time ------------------------------------------------------------------------------------------

const two = (n) => String(Math.floor(Math.abs(n))).padStart(2, "0");

// Local time with its offset, to the millisecond.
export function isoTime(ms) {
  const ahead = -new Date(ms).getTimezoneOffset();
  return `${new Date(ms + ahead * 60000).toISOString().slice(0, 23)}${ahead < 0 ? "-" : "+"}${two(ahead / 60)}:${two(ahead % 60)}`;
}

const JUMP = 2; // s by which clock and running time may differ unsaid

// A clock that only runs forward. `step` takes the device's clock and the time since the page was
// opened, both in ms; it returns by how many s the device's clock was set, 0 for not at all. While
// the device slept only its clock ran, so then that is believed.
export function runningClock(seconds, wall, mono) {
  const clock = { seconds, wall, mono };
  clock.step = (wallNow, monoNow, slept) => {
    const gone = (monoNow - clock.mono) / 1000, byWall = (wallNow - clock.wall) / 1000;
    const set = Math.abs(byWall - gone) > JUMP ? byWall - gone : 0;
    clock.seconds += set > 0 && slept ? byWall : gone;
    clock.wall = wallNow;
    clock.mono = monoNow;
    return set > 0 && slept ? 0 : set;
  };
  return clock;
}

// --- files -----------------------------------------------------------------------------------------

const FIELDS = ["kind", "at", "clock_s", "pulled_m", "load_N", "gear", "brake_N", "note"];
const bare = (entry) => Object.fromEntries(FIELDS.map((name) => [name, entry[name]]));

export function logFile(about, entries, undone) {
  const all = [...entries, ...undone].sort((a, b) => a.clock_s - b.clock_s);
  return { route3d_pull_log: 1, ...about, started: all.length ? all[0].at : "", entries: entries.map(bare), undone: undone.map(bare) };
}

const UNITS = { US: { ft: 0.3048, lbf: 4.4482216152605 }, SI: { m: 1, N: 1 } };
const SIZES = { ...UNITS.US, ...UNITS.SI };
const COLUMNS = [["cable in", "pulled_m"], ["reading", "load_N"], ["brake", "brake_N"]];

// A cell that no spreadsheet runs, as route3d/spreadsheet.py has it, and back.
const harmless = (text) => (/^'*[=+\-@\t\r]/.test(text) ? `'${text}` : text);
const asGiven = (cell) => (/^''*[=+\-@\t\r]/.test(cell) ? cell.slice(1) : cell);
const cellOf = (text) => (/[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);

export function csvOf(entries, units) {
  const [length, force] = Object.keys(UNITS[units]);
  const number = (value, unit) => (value === null ? "" : String(Number((value / SIZES[unit]).toPrecision(10))));
  const lines = entries.map((e) => [e.at, e.kind, number(e.pulled_m, length), number(e.load_N, force), harmless(e.gear), number(e.brake_N, force), harmless(e.note)]);
  return [["time", "kind", `cable in (${length})`, `reading (${force})`, "gear", `brake (${force})`, "note"], ...lines].map((line) => line.map(cellOf).join(",")).join("\r\n") + "\r\n";
}

function cellsOf(text) {
  const rows = [[]];
  const found = /("(?:[^"]|"")*"|[^",\r\n]*)(,|\r\n|\n|\r|$)/gy;
  for (let match = found.exec(text); match; match = found.exec(text)) {
    rows.at(-1).push(match[1].startsWith('"') ? match[1].slice(1, -1).replaceAll('""', '"') : match[1]);
    if (match[2] === "") break;
    if (match[2] !== ",") rows.push([]);
  }
  return rows;
}

// The entries of a CSV file of this page, and what is wrong with it in sentences.
export function entriesOfCsv(text) {
  const [heads, ...rows] = cellsOf(text.replace(/^\ufeff/, ""));
  const places = Object.fromEntries(heads.map((head, i) => [head.trim().toLowerCase().replace(/ \(.*/, ""), i]));
  const sizeOf = (name) => SIZES[(/\((.*)\)/.exec(heads[places[name]] || "") || [])[1]];
  if (["time", "kind", "cable in", "reading"].some((name) => !(name in places)) || !sizeOf("cable in") || !sizeOf("reading")) {
    return { entries: [], faults: [t("The first line must be: time,kind,cable in (ft),reading (lbf),gear,brake (lbf),note. Or with m and N.")] };
  }
  const entries = [], faults = [];
  rows.forEach((cells, i) => {
    if (cells.every((cell) => !cell.trim())) return;
    const cell = (name) => (cells[places[name]] ?? "").trim();
    const number = (name) => (cell(name) === "" ? null : Number(cell(name)) * sizeOf(name));
    const entry = { kind: cell("kind") || "reading", at: cell("time"), clock_s: null, gear: asGiven(cell("gear")), note: asGiven(cell("note")),
      ...Object.fromEntries(COLUMNS.map(([name, field]) => [field, number(name)])) };
    const fault = faultOf(entry);
    if (fault) faults.push(t("Line {line}: {fault}", { line: i + 2, fault }));
    else entries.push(entry);
  });
  const first = entries.length ? Date.parse(entries[0].at) : 0;
  let clock = 0;
  for (const entry of entries) {
    clock = Math.max(clock, (Date.parse(entry.at) - first) / 1000);
    entry.clock_s = clock;
  }
  return { entries, undone: [], faults };
}

function faultOf(entry) {
  if (typeof entry !== "object" || entry === null || !KINDS.includes(entry.kind)) return t("the kind must be reading, start, stop, gear, brake, lubricant or note.");
  if (typeof entry.at !== "string" || !/^\d{4}-\d\d-\d\dT/.test(entry.at) || !Number.isFinite(Date.parse(entry.at))) return t("the time must be a date and time such as 2026-05-04T10:32:07-07:00.");
  if (COLUMNS.some(([, field]) => entry[field] !== null && !Number.isFinite(entry[field]))) return t("a figure is not a number.");
  if (typeof entry.gear !== "string" || typeof entry.note !== "string") return t("gear and note must be text.");
  if (entry.kind === "reading" && (entry.pulled_m === null || entry.load_N === null)) return t("a reading needs cable in and load.");
  return "";
}

// The same of a JSON file of this page, with what the file says of itself.
export function entriesOfJson(text) {
  const none = { entries: [], undone: [] };
  let file;
  try {
    file = JSON.parse(text);
  } catch {
    return { ...none, faults: [t("This file cannot be read: it is no JSON, or not all of it is there.")] };
  }
  if (file === null || file.route3d_pull_log !== 1 || !Array.isArray(file.entries)) return { ...none, faults: [t("This file is no pull log of this page.")] };
  const clean = (list) => (Array.isArray(list) ? list : []).map((e) => ({ gear: "", note: "", pulled_m: null, load_N: null, brake_N: null, ...e, clock_s: Number.isFinite(e?.clock_s) ? e.clock_s : null }));
  const [entries, undone] = [clean(file.entries), clean(file.undone)];
  const faults = [...entries, ...undone].map((entry, i) => [faultOf(entry), i + 1]).filter(([fault]) => fault).map(([fault, entry]) => t("Entry {entry}: {fault}", { entry, fault }));
  return { file, entries, undone, faults };
}

// Why a file does not belong to this log: `refused`, or `asked` where somebody may know better.
export function misfitOf(file, about, count) {
  if (!file) return { asked: t("A CSV file does not say which run it is of. Choose it again to add its entries to this log ({count}).", { count }) };
  const other = ["title", "run", "feed"].find((name) => file[name] !== about[name]);
  const figures = { run: file.run, feed: file.feed, title: file.title, here: about.run, from: about.feed };
  if (other === "title") return { refused: t("Not imported: this file is of another job, {title}.", figures) };
  if (other === "run") return { refused: t("Not imported: this file is of run {run}. This log is of run {here}.", figures) };
  if (other === "feed") return { refused: t("Not imported: in this file the cable is fed from {feed}. In this log it is fed from {from}.", figures) };
  if (file.mark !== about.mark) return { asked: t("This file was made with another plan of this run. Choose it again to add its entries to this log ({count}).", { count }) };
  return {};
}

const close = (a, b, near) => a === b || (a !== null && b !== null && Math.abs(a - b) < near);
const alike = (a, b) => a.kind === b.kind && Date.parse(a.at) === Date.parse(b.at) && a.gear === b.gear && a.note.trim() === b.note.trim()
  && close(a.pulled_m, b.pulled_m, SAME_PLACE) && close(a.load_N, b.load_N, SAME_LOAD) && close(a.brake_N, b.brake_N, SAME_LOAD);

// Those that are not there yet. Times of another device count from the same start as ours.
export function missingFrom(known, fresh) {
  const all = [...known, ...fresh].filter((e) => e.clock_s !== null);
  const ours = known.length ? Date.parse(known[0].at) - 1000 * known[0].clock_s : null;
  const theirs = all.length > known.length ? fresh.find((e) => e.clock_s !== null) : null;
  const later = ours !== null && theirs ? (Date.parse(theirs.at) - 1000 * theirs.clock_s - ours) / 1000 : 0;
  const shift = Math.abs(later) < JUMP ? 0 : later;
  return fresh.filter((e) => !known.some((k) => alike(k, e))).map((e) => ({ ...bare(e), clock_s: (e.clock_s ?? 0) + shift }));
}
