// The connection to the server: what this browser sends, and what follows from an answer.

import { keep, kept, remembered, set, store } from "./store.js";
import { setWords } from "./words.js";

const PING = 2000; // ms
const SILENCE = 5000; // without an answer the figures may be old
const LATEST = 4000; // longest wait before the next try
const MOST_KEPT = 60000; // letters of what a browser kept: no message may be longer
const DEAD = 60000; // a long answer on a slow line is silent for as long

const client = kept("client") || newClient();
let socket = null;
let seq = 0;
let tries = 0;
let begun = 0; // when the connection was
let waiting = null; // since when an answer is owed, by the page's clock
let heard = null; // when the last one came, as a Date

function newClient() {
  const id = [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  keep("client", id);
  return id;
}

export function connect() {
  set({ live: true });
  open();
  setInterval(beat, PING / 2);
}

function open() {
  const url = new URL("ws", location.href);
  url.protocol = location.protocol === "https:" ? "wss:" : "ws:";
  url.search = url.hash = "";
  const own = new WebSocket(url);
  socket = own;
  begun = performance.now();
  waiting ??= begun;
  own.addEventListener("open", () => {
    const text = kept("whatif") || "{}";
    const whatif = JSON.parse(text.length < MOST_KEPT ? text : "{}");
    send({ type: "hello", client, run: store.data ? store.run : 0, whatif, units: store.units });
  });
  own.addEventListener("message", (event) => {
    if (own !== socket) return;
    tries = 0;
    waiting = null;
    heard = new Date();
    if (store.lost) set({ lost: "" });
    receive(JSON.parse(event.data));
  });
  own.addEventListener("close", () => {
    waiting ??= performance.now();
    if (own === socket) setTimeout(() => own === socket && open(), Math.min(LATEST, 250 * 2 ** tries++));
  });
}

// A line that died without a word: it is left as it is, and another begun.
function again() {
  const old = socket;
  open();
  old.close();
}

window.addEventListener("online", () => waiting !== null && socket && again());

const isOpen = () => socket !== null && socket.readyState === WebSocket.OPEN;

function send(message) {
  if (!isOpen()) return false;
  socket.send(JSON.stringify(message));
  return true;
}

let pinged = 0;
function beat() {
  const now = performance.now();
  if (isOpen() && now - pinged >= PING) {
    pinged = now;
    if (send({ type: "ping", at: now })) waiting ??= now;
  }
  if (waiting === null || now - waiting < SILENCE) return;
  if (!store.lost && heard) set({ lost: `as of ${clockTime(heard)}, not connected` });
  if (now - Math.max(waiting, begun) > DEAD) again();
}

const clockTime = (date) => `${String(date.getHours()).padStart(2, "0")}:${String(date.getMinutes()).padStart(2, "0")}`;

// --- what this browser asks for -------------------------------------------------------------------

export const connected = () => isOpen() && !store.lost;

export function ask(type, more = {}) {
  if (!connected()) return false;
  seq += 1;
  return send({ type, seq, run: store.run, ...more });
}

// The whole route by legs.
export function editLegs(lines, gesture) {
  if (!ask("legs", { lines, gesture, units: store.units })) return false;
  set({ working: true, refused: null, legFaults: null });
  return true;
}

export const askExplanation = (rule) => ask("explain", { rule, units: store.units });

export function askComparison(more) {
  if (ask("compare", { units: store.units, ...more })) set({ comparing: true, compared: null, refused: null });
}

export function askSensitivity() {
  if (ask("sensitivity")) set({ studying: true, studied: null, refused: null });
}

// A document of the model file, made by the server and saved by the browser.
export async function download(kind, draft) {
  set({ fetching: kind, refused: null });
  let reason = "";
  try {
    const answer = await fetch(`${kind}.pdf?units=${store.units}${draft ? "&draft" : ""}`);
    if (answer.ok) saveAs(await answer.blob(), /filename="([^"]*)"/.exec(answer.headers.get("Content-Disposition"))[1]);
    else reason = await answer.text();
  } catch {
    reason = "the server did not answer";
  }
  set({ fetching: "", refused: reason ? { key: "document", reason } : null });
}

export function saveAs(blob, name) {
  const link = Object.assign(document.createElement("a"), { href: URL.createObjectURL(blob), download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
}

export function saveRun(where) {
  if (ask("save", where)) set({ saved: "", refused: null });
}

// A step back or on, or back to the file.
export function stepBack(type) {
  if (ask(type)) set({ working: true, refused: null, legFaults: null });
}

export function edit(key, text) {
  if (!ask("edit", { key, text, units: store.units })) return false;
  set({ working: true, refused: null });
  return true;
}

// A change of the route: which point, and what becomes of it.
export function editRoute(action, point, more = {}) {
  if (!ask("route", { action, point, units: store.units, ...more })) return false;
  set({ working: true, refused: null });
  return true;
}

export function openRun(number) {
  if (connected() && send({ type: "open", run: number })) set({ opening: number });
}

// What belongs to one run alone.
export const FRESH = { feed: null, bend: 0, point: 0, draft: null, legFaults: null, explained: null, compared: null, comparing: false, studied: null, studying: false, reading: null, row: 0, refused: null, saved: "" };

// --- before there is a job -----------------------------------------------------------------------

let asking = false; // answers are out; the newest go when these are back
let next = null;

export function sendAnswers(answers) {
  next = answers;
  if (asking || !isOpen()) return;
  asking = send({ type: "answers", seq: ++seq, answers: next });
  next = null;
}

export function findStock(key, words) {
  if (!words) set({ start: { ...store.start, found: { ...store.start.found, [key]: null } } });
  else send({ type: "find", seq: ++seq, key, words });
}

export function beginJob(values) {
  if (send({ type: "begin", seq: ++seq, ...values })) set({ refused: null });
}

// --- what the server tells ------------------------------------------------------------------------

const answers = {
  page({ data }) {
    const before = store.data;
    // what was there stays until the server has told it anew
    const known = (name) => before && before.runs.find((r) => r.name === name);
    store.data = { ...data, runs: data.runs.map((stub) => ({ ...known(stub.name), ...stub })) };
    setWords(data.catalog);
    newest.clear(); // the server may have begun anew
    const { run: first, ...rest } = remembered();
    const named = before ? data.runs.findIndex((r) => r.name === before.runs[store.run].name) : first;
    set({ ...(before ? {} : rest), run: Math.max(0, named), opening: named < 0 ? null : named, working: false });
    if (named >= 0) send({ type: "open", run: named }); // else the server chooses
  },
  run({ run: number, seq: mine = 0, part, data }) {
    if (mine < (newest.get(number) ?? 0)) return;
    newest.set(number, mine);
    const runs = [...store.data.runs];
    runs[number] = merged(runs[number], data);
    const patch = { data: { ...store.data, runs } };
    if (part === "answer" && mine >= seq) patch.working = false;
    const asked = store.opening === null ? !store.data.runs[store.run].directions : store.opening === number;
    if (asked && runs[number].directions) Object.assign(patch, { run: number, opening: null }, number === store.run ? {} : FRESH);
    set(patch);
  },
  state(told) {
    const { type: _, ...rest } = told;
    const whatif = JSON.parse(kept("whatif") || "{}");
    const { name } = store.data.runs[told.run];
    if (told.whatif && Object.keys(told.whatif).length) whatif[name] = told.whatif;
    else delete whatif[name];
    keep("whatif", JSON.stringify(whatif));
    set({ sessions: { ...store.sessions, [told.run]: rest }, working: store.working && (told.asked || (told.seq ?? 0) < seq) });
  },
  problems: ({ problems, notice }) => set({ problems, notice }),
  refused: ({ key, reason }) => set({ refused: { key, reason }, working: false, opening: null, comparing: false, studying: false }),
  legs: ({ seq: mine, faults }) => mine >= seq && set({ legFaults: faults, working: false }),
  saved: ({ file }) => set({ saved: file, working: false }),
  explained: ({ data }) => set({ explained: data }),
  compared: ({ run: number, data }) => set({ compared: { run: number, data }, comparing: false }),
  studied: ({ run: number, data }) => set({ studied: { run: number, data }, studying: false }),
  pong: () => {},
  start({ data }) {
    const before = store.start; // what was typed stays, whatever happened to the line
    set({ start: { found: {}, ...data, answers: before ? before.answers : {} } });
    asking = false;
    if (before) sendAnswers(before.answers);
  },
  understood({ data }) {
    asking = false;
    set({ start: { ...store.start, ...data } });
    if (next) sendAnswers(next);
  },
  found: ({ key, names, more }) => set({ start: { ...store.start, found: { ...store.start.found, [key]: { names, more } } } }),
  begun({ file }) {
    set({ start: { ...store.start, begun: file } });
    location.reload();
  },
};

const FIRST = ["page", "start"];
const newest = new Map(); // by run: seq of the newest answer

function receive(message) {
  const answer = answers[message.type];
  if (answer && (store.data || store.start || FIRST.includes(message.type))) answer(message);
}

const isRecord = (value) => value !== null && typeof value === "object" && !Array.isArray(value);

// Records key by key, the two directions one by one; all else is replaced.
function merged(old, fresh) {
  if (!isRecord(old) || !isRecord(fresh)) return fresh;
  const found = { ...old };
  for (const [key, value] of Object.entries(fresh)) {
    const pair = key === "directions" && Array.isArray(old[key]) && Array.isArray(value);
    found[key] = pair ? value.map((one, n) => merged(old[key][n], one)) : merged(old[key], value);
  }
  return found;
}
