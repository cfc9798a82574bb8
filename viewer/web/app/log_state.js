// The log being taken: what is typed, what was entered, and what has been kept of it.

import { departuresOf } from "./log_departures.js";
import { sound, wakeSound } from "./log_sound.js";
import { keepRecords, keptRecords } from "./log_store.js";
import {
  csvOf, departureWords, doubtOf, entriesOfCsv, entriesOfJson, gaugeOf, gearOf, heldOf, holdWords, isRunning, isoTime, lastOf, logFile, misfitOf, missingFrom, placeOf, restartWords, runningClock, verdictOf,
} from "./pull_log.js";
import { direction, run, set, setHead, store, unit, whatIf } from "./store.js";
import { named, t } from "./words.js";
import { saveAs } from "./wire.js";

const BLANK = { cable: "", reading: "", brake: "" };
const RETRY = 10000; // ms until a store that refused is asked again
const LONGEST = 8; // digits of a figure

// `all` records of every log on this device, `unsaved` those of them that are only on this page. A
// record is an entry, or says which other record it undoes, or that a new log begins; `calls` of a note
// is the reading that made it known; `part` counts the logs of one run and plan.
export const log = {
  base: "", part: 0, ready: false, all: [], unsaved: [], typed: BLANK, field: "cable", answer: null, asked: "", trouble: "", clockSet: 0,
  choosing: false, muted: false, imported: null, note: "",
};

function change(patch) {
  Object.assign(log, patch);
  set({});
}

// --- which log ---------------------------------------------------------------------------------------

export const about = () => ({
  title: store.data.title, run: run().name, feed: direction().feed, units: store.units, gauge_step_N: store.data.gaugeStep, mark: store.data.mark,
});
export const baseNow = () => {
  const { title, run: name, feed, mark } = about();
  return JSON.stringify([title, name, feed, mark]);
};
export const planNow = () => {
  const film = whatIf().length ? null : direction().playback;
  return { film, gauge: gaugeOf(film?.rows ?? []), step: store.data.gaugeStep, ...direction().log };
};

const recordsOf = (base, part) => log.all.filter((r) => r.base === base && r.part === part && !r.begins);
const byClock = (a, b) => a.entry.clock_s - b.entry.clock_s;

// Entries and what was undone of a log, each with the `id` of its record, in the order of the clock.
export function entriesOf(base = log.base, part = log.part) {
  const records = recordsOf(base, part);
  const gone = new Set(records.map((r) => r.undoes));
  const all = records.filter((r) => r.entry).sort(byClock);
  const told = (list) => list.map((r) => ({ ...r.entry, id: r.id, calls: r.calls }));
  return { entries: told(all.filter((r) => !gone.has(r.id))), undone: told(all.filter((r) => gone.has(r.id))) };
}

// Other logs on this device, newest first: [{base, part, title, run, feed, mark, entries}].
export function otherLogs() {
  const names = [...new Set(log.all.filter((r) => r.entry).map((r) => JSON.stringify([r.base, r.part])))].map((name) => JSON.parse(name));
  return names.filter(([base, part]) => base !== log.base || part !== log.part).map(([base, part]) => {
    const [title, name, feed, mark] = JSON.parse(base);
    return { base, part, title, run: name, feed, mark, ...entriesOf(base, part) };
  }).sort((a, b) => Date.parse(b.entries[0]?.at ?? 0) - Date.parse(a.entries[0]?.at ?? 0));
}

export async function openLog() {
  const base = baseNow();
  if (log.base === base) return;
  change({ base, part: 0, ready: false, typed: BLANK, field: "cable", answer: null, asked: "", choosing: false, imported: null });
  clock = runningClock(0, Date.now(), performance.now());
  let draft = null;
  try {
    draft = await readAgain();
  } catch (error) {
    change({ trouble: troubleOf(error) });
  }
  if (log.base !== base) return;
  if (draft) {
    const gone = (Date.now() - draft.wall) / 1000;
    clock = runningClock(draft.seconds + Math.max(0, gone), Date.now(), performance.now());
    if (gone < -2) log.clockSet = gone;
    Object.assign(log, { typed: draft.typed, field: draft.field });
  }
  change({ ready: true, answer: lastAnswer() });
}

// What other tabs have added since.
async function readAgain() {
  const { records, drafts } = await keptRecords();
  const kept = new Set(records.map((r) => r.id));
  log.all = [...records, ...log.unsaved.filter((r) => !kept.has(r.id))];
  log.part = Math.max(0, ...log.all.filter((r) => r.base === log.base).map((r) => r.part));
  return drafts.find((d) => d.base === log.base);
}

// The answer to the last reading, for a page that was loaded anew.
function lastAnswer() {
  const { entries } = entriesOf();
  const at = entries.findLastIndex((e) => e.kind === "reading");
  return at < 0 ? null : answerTo(entries.slice(0, at), entries[at]);
}

// What the reading of an id has made known of departures from the plan.
const callsAt = (id) => departuresOf(planNow(), entriesOf().entries, direction().forecast).calls.get(id) ?? [];
export const callWords = (call) => departureWords(call, direction().log.offPlan[store.units] ?? {}, store.data.gaugeStep, show);

// Every departure called so far, the last first, with the cable in where it was called.
export const departuresNow = () => {
  const { entries } = entriesOf();
  const { calls } = departuresOf(planNow(), entries, direction().forecast);
  return entries.flatMap((e) => (calls.get(e.id) ?? []).map((call) => ({ id: e.id, ...callWords(call) }))).reverse();
};

// The departure that is not over with the last of some entries.
const heldAt = (entries) => heldOf(planNow(), entries, departuresOf(planNow(), entriesOf().entries, direction().forecast).calls);

// Departures at which the pull stops, and those that come before what the reading is on its own; others,
// only where that is calm. Stop comes before everything. What was called and is not over is said again
// with every reading.
const HALTS = ["jump", "drop"], LOUD = [...HALTS, "pulsing"];
const answerTo = (before, reading) => {
  const { id, pulled_m: pulled, load_N: load } = reading;
  const told = verdictOf(planNow(), before, pulled, load);
  const calls = id ? callsAt(id) : [];
  const of = (kinds) => calls.find(({ kind }) => kinds.includes(kind));
  const call = of(HALTS) ?? heldAt([...before, reading])?.call ?? of(LOUD) ?? calls[0] ?? null;
  return { kind: "reading", state: told.state === "stop" || !call ? told.state : stateOf(call, told), told, pulled, load, call };
};

function stateOf({ kind }, { state }) {
  if (kind === "low") return "low";
  if (HALTS.includes(kind)) return "halt";
  return state === "caution" && !LOUD.includes(kind) ? "caution" : "departure";
}

// --- clock -------------------------------------------------------------------------------------------

let clock = runningClock(0, 0, 0);
let away = false; // whether the page was out of sight since the last step

export function stepClock() {
  const jump = clock.step(Date.now(), performance.now(), away || document.hidden);
  away = document.hidden;
  if (jump) change({ clockSet: jump });
  return clock.seconds;
}

export const secondsNow = () => clock.seconds;

document.addEventListener("visibilitychange", () => {
  away = true;
  if (!document.hidden && log.base) look();
});
window.addEventListener("focus", () => log.base && look());
setInterval(() => log.trouble && save(), RETRY);
window.addEventListener("beforeunload", (event) => log.unsaved.length && event.preventDefault());

async function look() {
  stepClock();
  try {
    await readAgain();
    set({});
  } catch { /* said at the next tap, which has something to keep */ }
}

// --- keeping -----------------------------------------------------------------------------------------

function troubleOf(error) {
  if (error && error.name === "QuotaExceededError") return t("The store of this browser is full.");
  return t("The store of this browser is switched off or blocked.");
}

async function save() {
  const { base, part, typed, field, unsaved } = log;
  try {
    await keepRecords(unsaved, { base, part, typed, field, seconds: stepClock(), wall: Date.now() });
    const left = log.unsaved.filter((r) => !unsaved.includes(r));
    if (log.trouble || left.length !== log.unsaved.length) change({ unsaved: left, trouble: "" });
  } catch (error) {
    change({ trouble: troubleOf(error) });
  }
}

const newId = () => [...crypto.getRandomValues(new Uint8Array(12))].map((byte) => byte.toString(16).padStart(2, "0")).join("");

function add(records, patch = {}) {
  const made = records.map((record) => ({ id: newId(), base: log.base, part: log.part, ...record }));
  change({ all: [...log.all, ...made], unsaved: [...log.unsaved, ...made], ...patch });
  save();
}

// --- what is typed -----------------------------------------------------------------------------------

// The decimals somebody types of a force: none in lbf, where the dial has its marks at tens.
export const pointIn = (field) => field === "cable" || unit().inUnits(1, "force") < 0.1;

const quantityOf = (field) => (field === "cable" ? "length" : "force");
export function valueOf(field) {
  const text = log.typed[field];
  return text === "" || text === "." ? null : Number(text) / unit().inUnits(1, quantityOf(field));
}

export function type(field, text) {
  const [whole, ...rest] = text.replaceAll(",", ".").replace(/[^\d.]/g, "").split(".");
  const typed = (rest.length && pointIn(field) ? `${whole}.${rest.join("")}` : whole).slice(0, LONGEST);
  change({ typed: { ...log.typed, [field]: typed }, field, asked: "" });
  save();
}

export function press(field, key) {
  wakeSound();
  const text = log.typed[field];
  type(field, key === "back" ? text.slice(0, -1) : text + key);
}

export function pick(field) {
  if (field !== log.field) change({ field, asked: "" });
}

// --- entries -----------------------------------------------------------------------------------------

const show = (value, quantity) => unit().show(value, quantity);
const told = (state) => !log.muted && sound(state);

function record(kind, more, patch, of = {}) {
  const seconds = stepClock();
  const { entries, undone } = entriesOf();
  const first = entries.length + undone.length === 0;
  if (first) clock.seconds = 0;
  const entry = { kind, at: isoTime(Date.now()), clock_s: first ? 0 : Math.round(1000 * seconds) / 1000, pulled_m: null, load_N: null, gear: "", brake_N: null, note: "", ...more };
  add([{ ...of, entry }], { asked: "", choosing: false, ...patch });
}

// Asks once more before an entry that cannot be true; true where it may be recorded.
function sure(kind, pulled, load) {
  const doubt = doubtOf(planNow(), entriesOf().entries, { pulled, load }, show);
  const asked = `${kind} ${pulled} ${load}`;
  if (!doubt || log.asked === asked) return true;
  change({ asked, answer: { kind: "ask", state: "ask", head: t("CHECK THE ENTRY"), said: [doubt, t("Correct it, or tap the same key again to record it as typed.")] } });
  told("ask");
  return false;
}

const question = (sentence) => {
  change({ answer: { kind: "ask", state: "ask", head: t("NOT RECORDED YET"), said: [sentence] } });
  told("ask");
};

export function enter() {
  wakeSound();
  if (log.field === "brake") return enterBrake();
  const [pulled, load] = [valueOf("cable"), valueOf("reading")];
  if (pulled === null) return change({ field: "cable" }), question(t("Type the cable in."));
  if (load === null) return log.field === "cable" ? change({ field: "reading" }) : question(t("Type the reading."));
  if (!sure("reading", pulled, load)) return null;
  const { entries } = entriesOf();
  record("reading", { pulled_m: pulled, load_N: load, gear: gearOf(entries) }, { typed: BLANK, field: "cable" });
  const made = entriesOf().entries.at(-1);
  const answer = answerTo(entries, made);
  change({ answer });
  for (const call of callsAt(made.id)) record("note", { pulled_m: pulled, note: callWords(call).what }, {}, { calls: made.id });
  setHead(pulled / direction().log.length);
  return told(answer.state);
}

// With so much cable in: as typed beside it, else as last entered.
const placeTyped = () => valueOf("cable") ?? placeOf(entriesOf().entries);

// An entry that is no reading, with a head and sentences to answer it.
function note(kind, more, head, said, state = "noted") {
  const pulled = placeTyped();
  if (!sure(kind, pulled, null)) return;
  record(kind, { pulled_m: pulled, ...more }, { typed: { ...log.typed, cable: "", brake: "" }, field: "cable", answer: { kind: "note", state, head, said: said.filter(Boolean) } });
  told(state === "caution" ? "caution" : "unjudged");
}

function enterBrake() {
  const brake = valueOf("brake");
  if (brake === null) return question(t("Type the brake, total of all reels."));
  const [low, high] = direction().log.brake || [null, null];
  const figures = { brake: show(brake, "force"), low: show(low, "force"), high: show(high, "force") };
  const head = t("Brake {brake}", figures);
  if (low !== null && brake < low - 1) return note("brake", { brake_N: brake }, head, [t("Below the minimum of the plan, {low}.", figures)], "caution");
  if (high !== null && brake > high + 1) return note("brake", { brake_N: brake }, head, [t("Above the maximum of the plan, {high}.", figures)], "caution");
  return note("brake", { brake_N: brake }, head, []);
}

export function startOrStop() {
  wakeSound();
  const { entries } = entriesOf();
  const running = isRunning(entries);
  const pulled = placeTyped() ?? 0; // before anything is entered nothing is in
  const place = t("At {place} in.", { place: show(pulled, "length") });
  const { barred, words } = restartWords(planNow(), pulled, show);
  if (!running) return note("start", { pulled_m: pulled }, t("Pull started"), [place, words], barred ? "caution" : "noted");
  const held = heldAt(entries);
  const off = held && (held.call.kind === "low" ? t("Far below the plan: do not start again before the cause is found.") : callWords(held.call).also.at(-1));
  return note("stop", { pulled_m: pulled }, t("Pull stopped"), [place, ...(pulled > 0 ? holdWords(direction().log.holds[store.units]) : []), off || "", held?.call.kind === "drop" ? "" : words], barred || held ? "caution" : "noted");
}

export const chooseGear = (choosing) => (wakeSound(), change({ choosing }));

export function shift(gear) {
  const row = planNow().film && verdictOf(planNow(), [], placeTyped() ?? 0, 0).row;
  const other = row && row.gear && row.gear !== gear ? t("The plan has gear {gear} here.", { gear: named(row.gear) }) : "";
  note("gear", { gear }, t("Gear {gear}", { gear: named(gear) }), [other]);
}

export const askBrake = () => (wakeSound(), change({ field: log.field === "brake" ? "cable" : "brake" }));

export function lubricate(text) {
  note("lubricant", { note: text }, t("Lubricant"), [text]);
}

export function write(text) {
  if (text) note("note", { note: text }, t("Note kept"), [text]);
}

export function undo() {
  wakeSound();
  if (Object.values(log.typed).some(Boolean)) {
    // figures that are not entered yet are what the last taps did
    change({ typed: BLANK, field: "cable", asked: "", answer: { kind: "note", state: "noted", head: t("Cleared"), said: [t("What was typed is cleared. Every entry is kept. Tap Undo again to take back the last one.")] } });
    save();
    return told("unjudged");
  }
  const { entries } = entriesOf();
  const note = entries.at(-1);
  const last = entries.find((e) => e.id === note?.calls) ?? note; // what the page noted goes with its reading
  if (!last) return question(t("Nothing to undo."));
  const gone = entries.filter((e) => e.id === last.id || (e.calls && e.calls === last.id));
  add(gone.map(({ id }) => ({ undoes: id })), { asked: "", answer: { kind: "note", state: "noted", head: t("Undone"), said: [entryWords(last), t("It stays in the file as undone.")] } });
  return told("unjudged");
}

export function mute() {
  wakeSound();
  change({ muted: !log.muted });
}

export const clockSeen = () => change({ clockSet: 0 });

export const KIND_WORDS = () => ({ reading: t("Reading"), start: t("Start"), stop: t("Stop of the pull"), gear: t("Gear"), brake: t("Brake"), lubricant: t("Lubricant"), note: t("Note") });

// An entry in a line.
export function entryWords(entry) {
  const figures = { kind: KIND_WORDS()[entry.kind], place: show(entry.pulled_m, "length"), load: show(entry.load_N ?? entry.brake_N, "force"), words: entry.kind === "gear" ? named(entry.gear) : entry.note };
  const loaded = (entry.load_N ?? entry.brake_N) !== null;
  if (loaded) return t("{kind} {load}, {place} in", figures);
  return figures.words ? t("{kind} {words}, {place} in", figures) : t("{kind}, {place} in", figures);
}

// --- files -------------------------------------------------------------------------------------------

// Several logs of one run stay apart; the one before is kept and can be exported.
export function beginAnew() {
  add([{ part: log.part + 1, begins: isoTime(Date.now()) }], { part: log.part + 1, typed: BLANK, field: "cable", answer: null, asked: "" });
}

// The log of an earlier plan of this run, as part of this one.
export function goOn(other) {
  const { entries } = entriesOf();
  const fresh = missingFrom(entries, other.entries);
  const last = other.entries.at(-1);
  // the clock runs on from the last of them
  if (last && !entries.length) clock.seconds = Math.max(clock.seconds, last.clock_s + Math.max(0, (Date.now() - Date.parse(last.at)) / 1000));
  add(fresh.map((entry) => ({ entry })));
  note("note", { note: t("Log continued: plan {mark}, before plan {before}.", { mark: store.data.mark, before: other.mark }) }, t("Log continued"), []);
}

function fileOf(kind, chosen) {
  const { entries, undone } = entriesOf(chosen?.base, chosen?.part);
  const of = chosen ? { ...about(), title: chosen.title, run: chosen.run, feed: chosen.feed, mark: chosen.mark } : about();
  const text = kind === "csv" ? csvOf(entries, store.units) : JSON.stringify(logFile(of, entries, undone), null, 1) + "\n";
  const stamp = isoTime(Date.now()).slice(0, 16).replace("T", " ").replace(":", "");
  const name = `pull log ${of.run} ${stamp}.${kind}`.replace(/[^\p{L}\p{N} ._-]/gu, "_");
  return new File([text], name, { type: kind === "csv" ? "text/csv" : "application/json" });
}

export const exportFile = (kind, chosen) => saveAs(fileOf(kind, chosen), fileOf(kind, chosen).name);
export const canShare = () => Boolean(navigator.canShare && navigator.canShare({ files: [fileOf("json")] }));
export const shareFile = () => navigator.share({ files: [fileOf("json"), fileOf("csv")] }).catch(() => {});

export async function importFile(file) {
  const text = await file.text();
  const given = /\.csv$/i.test(file.name) ? entriesOfCsv(text) : entriesOfJson(text);
  const say = (state, said, asked = "") => change({ imported: { state, said, asked } });
  if (given.faults.length) return say("stop", [t("Not imported."), ...given.faults.slice(0, 5)]);
  const misfit = misfitOf(given.file, about(), given.entries.length);
  if (misfit.refused) return say("stop", [misfit.refused]);
  const asked = `${file.name} ${text.length}`;
  if (misfit.asked && log.imported?.asked !== asked) return say("caution", [misfit.asked], asked);
  const { entries, undone } = entriesOf();
  const [fresh, gone] = [missingFrom([...entries, ...undone], given.entries), missingFrom([...entries, ...undone], given.undone)];
  const taken = gone.map((entry) => ({ id: newId(), entry }));
  const also = entries.filter((entry) => missingFrom([entry], given.undone).length < given.undone.length);
  add([...fresh.map((entry) => ({ entry })), ...taken, ...[...taken, ...also].map(({ id }) => ({ undoes: id }))]);
  change({ answer: lastAnswer() });
  return say("go", [t("Imported. Entries added: {count}. Here already: {same}.", { count: fresh.length, same: given.entries.length - fresh.length })]);
}

export const lastStart = () => lastOf(entriesOf().entries, "start", "stop");
