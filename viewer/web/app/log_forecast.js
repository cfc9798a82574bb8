// The forecast of the log being taken. It follows the entries a moment after they are answered, one at
// a time, so that no tap waits for it.

import { addEvent, addReading, ahead, newForecast } from "./forecast.js";
import { bytesOf } from "./glb.js";
import { gaugeOf, isRunning, lastOf, verdictOf } from "./pull_log.js";
import { set } from "./store.js";

const REST = 30; // ms between two entries, for taps

// `packed` names the tables followed, `ids` the entries that are in the forecast, in order.
let followed = { packed: "", ids: [], forecast: null, seen: null, working: false };

// What the entries say of the load ahead, as far as it is worked out; null before there is any.
export function forecastOf(plan, entries, packed) {
  if (!packed || !plan.film) return null;
  const all = steps(plan, entries);
  const known = followed.packed === packed && followed.ids.every((id, i) => all[i]?.id === id);
  if (!known) followed = { packed, ids: [], forecast: null, seen: null, working: false };
  if (!followed.working && all.length > followed.ids.length) {
    followed.working = true;
    setTimeout(followEntry, REST, followed, plan, all);
  }
  return followed.seen;
}

// Entries that tell something of the load: readings of a moving cable at an accurate gauge, beyond the
// first move from rest, and what changes the load.
function steps(plan, entries) {
  return entries.filter((e, i) => {
    if (e.kind === "brake" || e.kind === "lubricant") return true;
    if (e.kind !== "reading") return false;
    const before = entries.slice(0, i);
    if (lastOf(before, "start", "stop") && !isRunning(before)) return false;
    const told = verdictOf(plan, before, e.pulled_m, e.load_N);
    return !told.first && told.why !== "gauge";
  });
}

function followEntry(mine, plan, all) {
  if (mine !== followed) return;
  const next = all[mine.ids.length];
  if (!next) {
    mine.seen = ahead(mine.forecast);
    mine.working = false;
    set({});
    return;
  }
  mine.forecast ??= newForecast({ ...JSON.parse(new TextDecoder().decode(THREE.gunzipSync(bytesOf(mine.packed)))), gauge: gaugeOf(plan.film.rows) });
  mine.forecast = next.kind === "reading" ? addReading(mine.forecast, next.pulled_m, next.load_N) : addEvent(mine.forecast, next.kind, next.brake_N);
  mine.ids.push(next.id);
  setTimeout(followEntry, REST, mine, plan, all);
}
