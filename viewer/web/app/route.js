// The Route tab: the route drawn, point by point typed, and saved.

import { deletePoint, insertAfter, points } from "./drag.js";
import { Legs } from "./legs.js";
import { Sketch } from "./sketch.js";
import { refusedEdit, run, session, set, store, whatIf } from "./store.js";
import { Card, Stale, glued, html } from "./ui.js";
import { Field, Save } from "./whatif.js";
import { editRoute, stepBack } from "./wire.js";

const COORDINATES = ["x (east)", "y (north)", "z (up)"];

export function RouteTab() {
  const route = run().route;
  if (!route) return html`<p>Calculating…</p>`;
  if (!route.points.length) {
    return html`<${Card} id="route" title="Route"><p>This route has more than ${route.most} points. Edit it in the model file; the page follows the file as you save it.</p><//>`;
  }
  return html`<${Draw} /><${PointForm} /><${Legs} key=${store.run} /><${PointTable} /><${Save} />`;
}

function Draw() {
  const s = session();
  const off = Boolean(store.lost);
  const button = (id, name, can) => html`<button type="button" id=${id} disabled=${off || !can} onClick=${() => stepBack(id)}>${name}</button>`;
  return html`<section class="card" id="draw" aria-busy=${String(Boolean(store.draft || store.working))}><h2>Draw the route</h2><${Stale} when=${store.lost} />
    <p class="small">Drag a point to move it. Drag the + in the middle of a leg to add a point. Keys: arrows move the point, Shift moves it ten steps, + adds a point after it, Delete removes it, Ctrl+Z and Ctrl+Y undo and redo.</p>
    <${Sketch} />
    <p id="route-said" role="status" class=${refusedEdit() ? "stop" : "small"}>${said()}</p>
    <div class="pair"><span id="upright-says" class="small">A point dragged in the 3D picture moves</span><div id="upright" role="group" aria-labelledby="upright-says">
      ${[[false, "In plan"], [true, "Up, down"]].map(([way, name]) => html`<button type="button" aria-pressed=${String(store.upright === way)} onClick=${() => set({ upright: way })}>${name}</button>`)}</div></div>
    <div class="options">
      <label class="check"><input type="checkbox" id="snap-axis" checked=${store.snapAxis} onChange=${(e) => set({ snapAxis: e.target.checked })} />Snap to the axes</label>
      <label class="check"><input type="checkbox" id="move-rest" checked=${store.rest} onChange=${(e) => set({ rest: e.target.checked })} />Move the points after it too</label>
      <label class="check" for="snap-length">Snap to a leg length of <input id="snap-length" inputmode="decimal" autocomplete="off" value=${store.snapLength} onInput=${(e) => set({ snapLength: e.target.value })} /> ${run().route.units[store.units][0]}</label>
    </div>
    <p class="keys">${button("undo", "Undo", s.canUndo)}${button("redo", "Redo", s.canRedo)}${button("reset", "Reset to the file", whatIf().length)}</p>
  </section>`;
}

function said() {
  const refused = refusedEdit();
  if (refused) return glued(`Not possible: ${refused.reason}. The last valid route is shown.`);
  const { draft } = store;
  if (draft && draft.length) return "At the typed leg length.";
  if (draft && draft.axis.length) return `In line with a neighbor: same ${draft.axis.map((k) => "xyz"[k]).join(" and ")}.`;
  return store.working ? "Calculating…" : "";
}

function PointForm() {
  const all = points();
  const at = Math.min(store.point, all.length - 1);
  const point = all[at];
  const off = Boolean(store.lost);
  const { units, lengths } = run().route;
  const [length, radius] = units[store.units];
  const text = point.text[store.units];
  const wrong = (key) => (refusedEdit() && store.routeField === key ? refusedEdit().reason : "");
  const field = (key, label, value, unit, send) => html`<${Field} key=${key + at + store.units} field=${{ key, label, text: value, unit, edited: false }} wrong=${wrong(key)}
    send=${(words) => { set({ routeField: key }); return send(words); }} />`;
  const put = (k) => (words) => editRoute("move", at, { at: [0, 1, 2].map((i) => (i === k ? words : "")), rest: store.rest });
  const leg = (i, label) => lengths[store.units][i] !== undefined && field(`leg:${i}`, label, lengths[store.units][i], length, (words) => editRoute("length", i, { text: words, rest: store.rest }));
  return html`<section class="card" id="point"><h2>${point.label}<span class="small"> ${point.kind}${point.turn && `, turns ${point.turn}`}${point.conduit && `, ${point.conduit} from here`}</span></h2>
    <div class="form">${COORDINATES.map((name, k) => field(`at:${k}`, name, text[k], length, put(k)))}
      ${point.kind !== "end" && point.kind !== "pull point" && field("radius", "Bend radius", text[3], radius, (words) => editRoute("bend", at, { text: words }))}
      ${at > 0 && leg(at - 1, "Leg before")}${leg(at, "Leg after")}</div>
    <p class="keys"><button type="button" id="point-before" disabled=${at === 0} onClick=${() => set({ point: at - 1 })}>Previous point</button><button type="button" id="point-next" disabled=${at === all.length - 1} onClick=${() => set({ point: at + 1 })}>Next point</button>
      <button type="button" id="insert" disabled=${off || at === all.length - 1} onClick=${() => insertAfter(at)}>Insert after</button><button type="button" id="delete" disabled=${off || point.kind === "end"} onClick=${() => deletePoint(at)}>Delete</button></p>
  </section>`;
}

function PointTable() {
  const { units, lengths } = run().route;
  const [length, radius] = units[store.units];
  const heads = ["Point", `x, ${length}`, `y, ${length}`, `z, ${length}`, `bend radius, ${radius}`, "turn", `leg after, ${length}`];
  return html`<section class="card" id="points"><h2>Points</h2><div class="wide-table" tabindex="0" role="group" aria-label="Points of the route"><table>
    <thead><tr>${heads.map((head) => html`<th scope="col">${head}</th>`)}</tr></thead>
    <tbody>${points().map((p, i) => html`<tr class=${i === store.point ? "now" : ""}><th scope="row"><button type="button" class="row" aria-pressed=${String(i === store.point)} onClick=${() => set({ point: i })}>${p.label}</button></th>
      ${p.text[store.units].map((t, k) => html`<td>${k === 3 && p.kind !== "bend" ? "" : short(t)}</td>`)}<td>${p.turn}</td><td>${short(lengths[store.units][i])}</td></tr>`)}</tbody>
  </table></div></section>`;
}

const short = (text) => (text === undefined || text === "" ? "" : Number(Number(text).toFixed(3)).toLocaleString("en-US", { maximumFractionDigits: 3 }));
