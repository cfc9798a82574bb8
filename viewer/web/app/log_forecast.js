// The forecast of the log being taken. It follows the entries a moment after they are answered, one at
// a time, so that no tap waits for it.

import { addDeparture, addEvent, addReading, ahead, newForecast } from "./forecast.js";
import { departuresOf, stepsOf, tablesOf } from "./log_departures.js";
import { set } from "./store.js";

const REST = 30; // ms between two entries, for taps

// `packed` names the tables followed, `ids` the entries that are in the forecast, in order.
let followed = { packed: "", ids: [], forecast: null, seen: null, working: false };

// What the entries say of the load ahead, as far as it is worked out; null before there is any.
export function forecastOf(plan, entries, packed) {
  if (!packed || !plan.film) return null;
  const all = stepsOf(plan, entries);
  const known = followed.packed === packed && followed.ids.every((id, i) => all[i]?.id === id);
  if (!known) followed = { packed, ids: [], forecast: null, seen: null, working: false };
  if (!followed.working && all.length > followed.ids.length) {
    followed.working = true;
    setTimeout(followEntry, REST, followed, plan, all, departuresOf(plan, entries, packed));
  }
  return followed.seen;
}

function followEntry(mine, plan, all, { calls, nearNothing }) {
  if (mine !== followed) return;
  const next = all[mine.ids.length];
  if (!next) {
    mine.seen = ahead(mine.forecast);
    mine.working = false;
    set({});
    return;
  }
  mine.forecast ??= newForecast(tablesOf(mine.packed, plan));
  if (next.kind !== "reading") mine.forecast = addEvent(mine.forecast, next.kind, next.brake_N);
  else if (!nearNothing.has(next.id)) mine.forecast = addReading(mine.forecast, next.pulled_m, next.load_N);
  for (const call of calls.get(next.id) ?? []) mine.forecast = addDeparture(mine.forecast, call);
  mine.ids.push(next.id);
  setTimeout(followEntry, REST, mine, plan, all, { calls, nearNothing });
}
