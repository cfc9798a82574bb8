// A point of the route under a hand, in the sketch or in the picture: what is shown at once, and what
// the server is asked. One question at a time; the hand goes on meanwhile.

import { roundStep, snapped } from "./snap.js";
import { run, set, store, unit, watch } from "./store.js";
import { connected, editRoute } from "./wire.js";

const REACH = 9; // pixels within which a point snaps
const ROUND = 4; // pixels that the step of round figures is wide at least

export const points = () => (run().route && run().route.points) || [];

let held = null; // {index, insert, count, gesture, over}
let queued = null; // where it should be next, as typed

// The places of all points, those under the hand included.
export function places() {
  const found = points().map((p) => p.at);
  const { draft } = store;
  if (!draft) return found;
  if (draft.insert) found.splice(draft.index, 0, draft.at);
  const by = draft.at.map((c, k) => c - (found[draft.index] || draft.at)[k]);
  if (store.rest && !draft.insert) for (let i = draft.index + 1; i < found.length; i++) found[i] = found[i].map((c, k) => c + by[k]);
  if (draft.index < found.length) found[draft.index] = draft.at;
  return found;
}

// With `insert` a new point is drawn out of the leg before `index`.
export function beginDrag(index, insert = false) {
  if (!connected()) return;
  held = { index, insert, count: points().length, gesture: String(Date.now() % 1e9), over: false };
  queued = null;
  set({ point: index, refused: null });
}

// The hand is at a place (m); the coordinates of `axes` follow it. A pixel is `perPixel` m.
export function dragTo(at, axes, perPixel) {
  if (!held) return;
  const all = points().map((p) => p.at);
  const added = held.insert && points().length === held.count;
  const next = added ? held.index : held.index + 1;
  const neighbors = [all[held.index - 1], all[next]].filter(Boolean);
  const foot = 1 / unit().inUnits(1, "length");
  const typed = Number(store.snapLength);
  const told = snapped({
    at, axes, neighbors, reach: REACH * perPixel, toAxis: store.snapAxis, round: roundStep(perPixel, foot, ROUND),
    length: store.snapLength && typed > 0 ? typed * foot : null,
  });
  queued = told.at.map((c, k) => (axes.includes(k) || added ? typedNumber(c) : ""));
  set({ draft: { index: held.index, insert: added, at: told.at, axis: told.axis, length: told.length } });
  pump();
}

export function endDrag() {
  if (held) held.over = true;
  pump();
}

// Follows a pointer until it is up, wherever it goes; the element under it may be gone by then.
// begin() as it leaves its place, move(dx, dy) in pixels from there; true in the end if it did.
export function followPointer(e, begin, move) {
  e.preventDefault();
  e.stopPropagation();
  const from = [e.clientX, e.clientY];
  let begun = false;
  return new Promise((resolve) => {
    const moved = (now) => {
      if (now.pointerId !== e.pointerId) return;
      const [dx, dy] = [now.clientX - from[0], now.clientY - from[1]];
      if (!begun && Math.hypot(dx, dy) < 5) return;
      if (!begun) begin();
      begun = true;
      move(dx, dy);
    };
    const end = (now) => {
      if (now.pointerId !== e.pointerId) return;
      window.removeEventListener("pointermove", moved);
      for (const kind of ["pointerup", "pointercancel"]) window.removeEventListener(kind, end);
      resolve(begun);
    };
    window.addEventListener("pointermove", moved);
    for (const kind of ["pointerup", "pointercancel"]) window.addEventListener(kind, end);
  });
}

export const isHeld = () => held !== null && !held.over;

const typedNumber = (metres) => unit().inUnits(metres, "length").toFixed(8).replace(/\.?0+$/, "").replace(/^-0$/, "0");

function pump() {
  if (!held || store.working) return;
  if (queued) {
    const at = queued;
    queued = null;
    const insert = held.insert && points().length === held.count;
    const sent = insert ? editRoute("insert", held.index - 1, { at, gesture: held.gesture })
      : editRoute("move", held.index, { at, gesture: held.gesture, rest: store.rest && !held.insert });
    if (sent) return;
  }
  if (!held.over) return;
  held = null;
  set({ draft: null });
}

watch(pump);

// A step by key along one axis, in the units shown.
export function nudge(index, axis, steps, perPixel) {
  const foot = 1 / unit().inUnits(1, "length");
  const at = ["", "", ""];
  at[axis] = typedNumber(points()[index].at[axis] + steps * roundStep(perPixel, foot, ROUND));
  return editRoute("move", index, { at, rest: store.rest });
}

export const insertAfter = (index) => editRoute("insert", index) && set({ point: index + 1 });

export function deletePoint(index) {
  const { kind } = points()[index] || {};
  if (kind && kind !== "end" && editRoute("delete", index)) set({ point: Math.max(0, index - 1) });
}
