// Departures from the plan, called with the entry that makes them known: before it is answered, so that
// the answer says them.

import { detect, loosened, newDetector } from "./departures.js";
import { bytesOf } from "./glb.js";
import { gaugeOf, verdictOf } from "./pull_log.js";

const OUTSIDE = 0.05; // m
let unpacked = { packed: "", tables: null };

// The response tables of a direction, for the forecast too.
export function tablesOf(packed, plan) {
  if (unpacked.packed !== packed) unpacked = { packed, tables: JSON.parse(new TextDecoder().decode(THREE.gunzipSync(bytesOf(packed)))) };
  return { ...unpacked.tables, gauge: gaugeOf(plan.film.rows) };
}

// Entries that tell something of the load: readings of a moving cable at an accurate gauge, beyond the
// first move from rest, and what changes the load.
export function stepsOf(plan, entries) {
  let farthest = 0; // what cannot be true teaches nothing: beyond the route, or back out of it
  return entries.filter((e, i) => {
    if (["brake", "lubricant", "start", "gear"].includes(e.kind)) return true;
    if (e.kind !== "reading" || e.pulled_m > plan.length + OUTSIDE || e.pulled_m < farthest - OUTSIDE) return false;
    const told = verdictOf(plan, entries.slice(0, i), e.pulled_m, e.load_N);
    if (told.first || told.why === "gauge" || (told.rest && !told.rest.moved)) return false;
    farthest = Math.max(farthest, e.pulled_m);
    return true;
  });
}

// `ids` are the entries that the detector has been given, in order.
const nothing = { packed: "", ids: [], detector: null, calls: new Map(), nearNothing: new Set() };
let watched = nothing;

// What was called at each reading, {calls: id -> calls of departures.js}, and the readings so near nothing
// that they teach nothing of friction.
export function departuresOf(plan, entries, packed) {
  if (!packed || !plan.film) return nothing;
  const steps = stepsOf(plan, entries);
  const known = watched.packed === packed && watched.ids.every((id, i) => steps[i]?.id === id);
  if (!known) watched = { packed, ids: [], detector: newDetector(tablesOf(packed, plan)), calls: new Map(), nearNothing: new Set() };
  for (const step of steps.slice(watched.ids.length)) {
    watched.ids.push(step.id);
    if (step.kind !== "reading") {
      watched.detector = loosened(watched.detector, step.kind);
      continue;
    }
    const { detector, calls } = detect(watched.detector, step.pulled_m, step.load_N);
    watched.detector = detector;
    if (detector.low) watched.nearNothing.add(step.id);
    if (calls.length) watched.calls.set(step.id, calls);
  }
  return watched;
}
