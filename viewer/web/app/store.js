// What is chosen on the page, what the data say of it, and what of it outlives a reload.

import { printer } from "./units.js";
import { setTexts } from "./words.js";

const TABS = ["answer", "log", "route", "pull", "bends", "whatif", "charts", "view"];
export const MODE_QUANTITY = { tension: "force", sidewall: "sidewall", utilization: "percent" };

const device = window.matchMedia("(prefers-color-scheme: dark)");

export const store = {
  data: null, // what the page shows; null until it has come
  run: 0, opening: null, // the run shown, and the one asked for
  feed: null, // the direction looked at; null: the best
  tab: "answer", units: "US", theme: "auto", mode: "tension", view: "isometric",
  bend: 0, // number of the bend picked; 0: none
  reading: null, // station read, m
  hidden: new Set(), // layers
  row: 0, // row of the gauge table the crew is at
  point: 0, draft: null, // point of the route picked; the one under a hand: {index, insert, at, ...}
  sketch: "plan", upright: false, // view of the sketch; whether handles in the picture move up and down
  snapAxis: true, snapLength: "", rest: false, // how a dragged point snaps; whether those after it move too
  legFaults: null, // what is wrong with the legs typed last: [{leg, column, message, fix}]
  explained: null, // what is behind the rule that was asked for
  compared: null, comparing: false, // {run, data} of the comparison asked for last
  studied: null, studying: false, // {run, data} of the spread and the limits asked for last
  fetching: "", // the document that is being made
  routeField: "", // the field of a point that was typed in last
  playing: false, printing: false,
  start: null, // the form of a new job, where no file is open: questions, answers, what they came to
  live: false, // whether a server answers
  lost: "", // "as of hh:mm, not connected"
  working: false, // an edit waits for its answer
  problems: [], notice: "", refused: null, saved: "",
  sessions: {}, // by run: what-if, undo, variants, what others shared
};

const listeners = new Set();

export function watch(listener) {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

export function set(patch) {
  Object.assign(store, patch);
  remember();
  for (const listener of listeners) listener();
}

device.addEventListener("change", () => set({}));

// --- what the choice comes to -------------------------------------------------------------------

export const run = () => store.data.runs[store.run];
export const feed = () => store.feed ?? run().best;
export const direction = () => run().directions[feed()];
setTexts(() => direction().log?.said);
export const words = () => direction().words[store.units];
export const scale = () => words().scales[store.mode] || words().scales.tension;
export const themeName = () => {
  if (store.printing) return "light";
  return store.theme === "auto" ? (device.matches ? "dark" : "light") : store.theme;
};
export const theme = () => store.data.themes[themeName()];
export const unit = () => printer(store.data.quantities, store.units);
export const session = () => store.sessions[store.run] || {};
export const canEdit = () => store.live && store.data.role !== "crew";
export const tabs = () => TABS.filter((name) => name !== "route" || canEdit());
export const tabNow = () => (tabs().includes(store.tab) ? store.tab : "answer");
export const isDrawing = () => tabNow() === "route";
export const whatIf = () => (run().edits && run().edits[store.units]) || [];
// An edit that could not be; what could not be saved is told beside Save.
export const refusedEdit = () => (store.refused && store.refused.key !== "save" ? store.refused : null);
export const pending = () => Boolean(direction().pending);

// --- head of the cable ---------------------------------------------------------------------------

// Apart from the store: while the pull plays it moves with every frame.
export const head = { share: 1, listeners: new Set() };

export function setHead(share) {
  head.share = Math.min(1, Math.max(0, share));
  for (const listener of head.listeners) listener();
}

// --- what outlives a reload ------------------------------------------------------------------------

// In the address, so that a copied link shows the same, and in the tab's own storage for a link
// without it.
const KEPT = "route3d";

function remember() {
  if (!store.data) return;
  const chosen = { tab: store.tab, units: store.units, theme: store.theme, mode: store.mode };
  if (store.data.runs.length > 1) chosen.run = store.data.runs[store.run].name;
  if (store.feed !== null) chosen.feed = String(store.feed);
  const text = new URLSearchParams(chosen).toString();
  if (text === location.hash.slice(1)) return;
  try {
    history.replaceState(null, "", `#${text}`);
  } catch { /* too often, or not allowed: the storage keeps it */ }
  keep(KEPT, text);
}

export function keep(key, text) {
  try {
    sessionStorage.setItem(key, text);
  } catch { /* storage is switched off */ }
}

export function kept(key) {
  try {
    return sessionStorage.getItem(key) || "";
  } catch {
    return "";
  }
}

// What was chosen before, as far as this job still has it.
export function remembered() {
  const asked = new URLSearchParams(location.hash.slice(1) || kept(KEPT));
  const { data } = store;
  const one = (key, choices, otherwise) => (choices.includes(asked.get(key)) ? asked.get(key) : otherwise);
  const named = data.runs.findIndex((r) => r.name === asked.get("run"));
  return {
    tab: one("tab", TABS, store.tab), units: one("units", ["US", "SI"], data.units),
    theme: one("theme", ["auto", "light", "dark"], data.theme), mode: one("mode", data.modes, data.modes[0]),
    run: named, feed: ["0", "1"].includes(asked.get("feed")) ? Number(asked.get("feed")) : null,
  };
}
