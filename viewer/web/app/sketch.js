// Plan and elevations of the route in SVG, to draw in: points are dragged, moved by keys, and drawn
// out of the middle of a leg.

import { beginDrag, deletePoint, dragTo, endDrag, followPointer, insertAfter, isHeld, nudge, places, points } from "./drag.js";
import { routeLine } from "./picture.js";
import { roundStep } from "./snap.js";
import { refusedEdit, run, session, set, store, unit } from "./store.js";
import { html, useLayoutEffect, useRef, useState } from "./ui.js";
import { plain } from "./units.js";
import { stepBack } from "./wire.js";

// The two coordinates across and up, and what lies to the right.
const PLANES = { plan: [0, 1], south: [0, 2], east: [1, 2] };
export const SKETCHES = [["plan", "Plan"], ["south", "From south"], ["east", "From east"]];
const ROOM = 44;
const AXES = ["x", "y", "z"];

// What the sketch shows: m across a pixel, and the place in its middle. Kept while a point is held.
const frame = { key: "", perPixel: 1, middle: [0, 0] };

export function Sketch() {
  const place = useRef();
  const [size, measured] = useState([480, 300]);
  const [, again] = useState(0);
  useLayoutEffect(() => {
    const observer = new ResizeObserver(() => {
      const { clientWidth: w, clientHeight: h } = place.current;
      if (w && h) measured([w, h]);
    });
    observer.observe(place.current);
    return () => observer.disconnect();
  }, []);
  const axes = PLANES[store.sketch];
  const all = places();
  fit(all, axes, size);
  const px = (at) => [size[0] / 2 + (at[axes[0]] - frame.middle[0]) / frame.perPixel, size[1] / 2 - (at[axes[1]] - frame.middle[1]) / frame.perPixel];
  const zoom = (times) => { frame.perPixel /= times; again((n) => n + 1); };
  const spots = all.map(px);
  const off = Boolean(store.lost);
  return html`<div class="sketch-keys"><div class="keys" role="group" aria-label="Views of the sketch">
      ${SKETCHES.map(([name, title]) => html`<button type="button" data-sketch=${name} aria-pressed=${String(store.sketch === name)} onClick=${() => set({ sketch: name })}>${title}</button>`)}</div>
    <div class="keys" role="group" aria-label="Zoom of the sketch"><button type="button" aria-label="Zoom in" onClick=${() => zoom(1.4)}>+</button><button type="button" aria-label="Zoom out" onClick=${() => zoom(1 / 1.4)}>−</button>
      <button type="button" onClick=${() => { frame.key = ""; again((n) => n + 1); }}>Fit</button></div></div>
  <div id="sketch" ref=${place} tabindex="-1" onKeyDown=${off ? null : onUndoKey} onPointerDownCapture=${takeFocus}><svg viewBox=${`0 0 ${size[0]} ${size[1]}`} width=${size[0]} height=${size[1]} role="group" aria-label="Route, to draw in"
      onPointerDown=${(e) => pan(e, () => again((n) => n + 1))} onWheel=${(e) => { e.preventDefault(); zoom(Math.exp(-e.deltaY * 0.0015)); }}>
    <${Grid} axes=${axes} size=${size} />
    <${Centerline} px=${px} />
    <polyline class=${`legs ${store.draft ? "draft" : ""} ${refusedEdit() ? "bad" : ""}`} points=${spots.map((p) => p.join()).join(" ")} />
    ${!off && spots.slice(1).map((b, i) => html`<${Middle} key=${`m${i}`} a=${spots[i]} b=${b} after=${i} at=${middleOf(all[i], all[i + 1])} axes=${axes} />`)}
    ${all.map((at, i) => html`<${Handle} key=${`h${i}`} index=${i} spot=${spots[i]} spots=${spots} at=${at} axes=${axes} off=${off} />`)}
  </svg></div>`;
}

// A hand on the sketch gives it the keys, those for undo too.
const takeFocus = (e) => e.currentTarget.contains(document.activeElement) || e.currentTarget.focus({ preventScroll: true });

function onUndoKey(e) {
  if (!(e.ctrlKey || e.metaKey) || e.altKey) return;
  const key = e.key.toLowerCase();
  const step = key === "y" || (key === "z" && e.shiftKey) ? "redo" : key === "z" ? "undo" : "";
  if (!step) return;
  e.preventDefault();
  if (session()[step === "undo" ? "canUndo" : "canRedo"]) stepBack(step);
}

const middleOf = (a, b) => a.map((c, k) => (c + b[k]) / 2);

// Takes the whole route into the frame when another is shown; not while a hand is at work.
function fit(all, axes, size) {
  const key = [store.run, store.sketch, size.join()].join("|");
  const inside = () => all.every((at) => axes.every((axis, k) => Math.abs(at[axis] - frame.middle[k]) / frame.perPixel < size[k] / 2 - 8));
  if (!all.length || (frame.key === key && (store.draft || frame.panned || inside()))) return;
  const [low, high] = [Math.min, Math.max].map((pick) => axes.map((axis) => pick(...all.map((at) => at[axis]))));
  frame.key = key;
  frame.panned = false;
  frame.middle = [0, 1].map((k) => (low[k] + high[k]) / 2);
  frame.perPixel = Math.max(...[0, 1].map((k) => (high[k] - low[k]) / Math.max(40, size[k] - 2 * ROOM)), 0.002);
}

function Grid({ axes, size }) {
  const foot = 1 / unit().inUnits(1, "length");
  const step = roundStep(frame.perPixel, foot, 64);
  const lines = [];
  for (const k of [0, 1]) {
    const half = (size[k] / 2) * frame.perPixel;
    for (let n = Math.ceil((frame.middle[k] - half) / step); n <= (frame.middle[k] + half) / step; n++) {
      const at = size[k] / 2 + ((k ? -1 : 1) * (n * step - frame.middle[k])) / frame.perPixel;
      const words = plain(unit().inUnits(n * step, "length"));
      lines.push(k ? html`<line x1="0" x2=${size[0]} y1=${at} y2=${at} /><text x="3" y=${at - 3}>${words}</text>`
        : html`<line x1=${at} x2=${at} y1="0" y2=${size[1]} /><text x=${at + 3} y=${size[1] - 4}>${words}</text>`);
    }
  }
  const [across, up] = axes.map((k) => AXES[k]);
  return html`<g class="grid" aria-hidden="true">${lines}<text class="title" x=${size[0] - 6} y="14" text-anchor="end">${across} →, ${up} ↑, ${unit().unit("length")}</text></g>`;
}

// The conduit as it was last worked out, bends and all.
function Centerline({ px }) {
  const line = routeLine();
  if (!line) return null;
  const parts = [];
  for (let i = 0; i < line.count; i++) {
    const [x, y] = px([0, 1, 2].map((k) => line.xyz[3 * i + k] + run().origin[k]));
    parts.push(`${i && !line.breaks.has(i) ? "L" : "M"}${x.toFixed(1)} ${y.toFixed(1)}`);
  }
  return html`<path class="centerline" d=${parts.join("")} />`;
}

// --- hands ----------------------------------------------------------------------------------------

// From pointer to place: by how far the hand has gone, so that nothing jumps where the page moves.
async function follow(e, axes, at, begin) {
  if (e.button > 0) return false;
  const dragged = await followPointer(e, begin, (dx, dy) => {
    const to = [...at];
    to[axes[0]] += dx * frame.perPixel;
    to[axes[1]] -= dy * frame.perPixel;
    dragTo(to, axes, frame.perPixel);
  });
  if (dragged) endDrag();
  return dragged;
}

function pan(e, drawAgain) {
  if (e.pointerType !== "mouse" || e.button > 0) return;
  const [x, y] = frame.middle;
  followPointer(e, () => { frame.panned = true; }, (dx, dy) => {
    frame.middle = [x - dx * frame.perPixel, y + dy * frame.perPixel];
    drawAgain();
  });
}

// Points that lie on one another are picked in turn.
function pickOne(index, spots) {
  const under = spots.map((p, i) => i).filter((i) => Math.hypot(spots[i][0] - spots[index][0], spots[i][1] - spots[index][1]) < 12);
  const at = under.indexOf(store.point);
  set({ point: at < 0 ? index : under[(at + 1) % under.length] });
}

const ARROWS = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowDown: [1, -1], ArrowUp: [1, 1] };

function Handle({ index, spot, spots, at, axes, off }) {
  const point = points()[index] || { label: "new point", kind: "point" };
  const where = [0, 1, 2].map((k) => `${AXES[k]} ${unit().show(at[k], "length")}`).join(", ");
  const down = async (e) => {
    if (off) return;
    // of points on one another the one that is picked moves
    const near = store.point < spots.length && Math.hypot(spots[store.point][0] - spot[0], spots[store.point][1] - spot[1]) < 12;
    const own = near ? store.point : index;
    const element = e.currentTarget;
    const dragged = await follow(e, axes, places()[own], () => beginDrag(own));
    if (!dragged) {
      pickOne(index, spots);
      element.focus({ preventScroll: true });
    }
  };
  const onKey = (e) => {
    const way = ARROWS[e.key];
    if (way && !off) nudge(index, axes[way[0]], way[1] * (e.shiftKey ? 10 : 1), frame.perPixel);
    else if (e.key === "Enter" || e.key === " ") set({ point: index });
    else if ((e.key === "Delete" || e.key === "Backspace") && !off) deletePoint(index);
    else if ((e.key === "Insert" || e.key === "+") && index < points().length - 1 && !off) insertAfter(index);
    else return;
    e.preventDefault();
  };
  return html`<g class=${`handle ${index === store.point ? "picked" : ""}`} transform=${`translate(${spot[0]} ${spot[1]})`} tabindex="0" role="button" data-point=${index}
      aria-label=${`${point.label}, ${point.kind}: ${where}`} aria-pressed=${String(index === store.point)} onPointerDown=${down} onKeyDown=${onKey} onFocus=${() => index !== store.point && !isHeld() && set({ point: index })}>
    <circle class="touch" r="20" />
    ${point.kind === "end" || point.kind === "pull point" ? html`<rect x="-8" y="-8" width="16" height="16" />` : html`<circle class="dot" r="8" />`}
  </g>`;
}

// A mark amid a leg: a new point is drawn out of it.
function Middle({ a, b, after, at, axes }) {
  if (Math.hypot(a[0] - b[0], a[1] - b[1]) < 56) return null;
  const [x, y] = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
  const down = async (e) => {
    const dragged = await follow(e, axes, at, () => beginDrag(after + 1, true));
    if (!dragged) insertAfter(after);
  };
  return html`<g class=${`middle ${store.draft ? "away" : ""}`} transform=${`translate(${x} ${y})`} onPointerDown=${down} aria-hidden="true" data-after=${after}><circle class="touch" r="16" /><circle class="ring" r="7" /><path d="M-4 0h8M0 -4v8" /></g>`;
}
