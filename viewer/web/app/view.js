// How the page looks: colors and layers of the picture, units, light or dark, print, and the keys.

import { layers } from "./picture.js";
import { canEdit, feed, run, set, store, whatIf } from "./store.js";
import { Card, capital, html } from "./ui.js";
import { t } from "./words.js";
import { download } from "./wire.js";

const KEYS = [
  ["Arrow keys", "rotate"], ["Shift + arrows", "pan"], ["+  −", "zoom in, out"],
  ["1  2  3", "3D, plan, side view"], ["F", "fit to the frame"],
  [",  .", "reading one step back, forward"], ["Space", "play the pull"], ["Esc", "close the reading"],
];

export function Choice({ id, label, value, choices, change, kind = "" }) {
  return html`<label class=${`pick ${kind}`} id=${`${id}-pick`}><span>${label}</span><select id=${id} value=${value} onChange=${(e) => change(e.target.value)}>
    ${choices.map(([v, name]) => html`<option value=${v} selected=${v === value}>${name}</option>`)}</select></label>`;
}

export function Feed() {
  const choices = run().directions.map((d, n) => [String(n), n === run().chosen ? t("{feed} (chosen)", { feed: d.feed }) : d.feed]);
  const change = (v) => set({ feed: Number(v) === run().best ? null : Number(v), row: 0 });
  return html`<${Choice} id="feed" label=${t("Feed end")} kind="grow" value=${String(feed())} choices=${choices} change=${change} />`;
}

export const Units = () => html`<${Choice} id="units" label=${t("Units")} value=${store.units} choices=${[["US", "US"], ["SI", "SI"]]} change=${(units) => set({ units })} />`;

const modeNames = () => ({ tension: t("Tension"), sidewall: t("Sidewall pressure"), utilization: t("Utilization"), conduit: t("Conduit") });
export const Colors = ({ id }) => html`<${Choice} id=${id} label=${t("Colors")} value=${store.mode} choices=${store.data.modes.map((m) => [m, modeNames()[m] || m])} change=${(mode) => set({ mode })} />`;

// Made of the model file as it is saved: a what-if is in none of them.
function Documents() {
  const draft = store.data.unconfirmed;
  const kinds = [...(canEdit() ? [["report", "Calculation report"]] : []), ["sheet", "Crew sheet"]];
  return html`<${Card} id="documents" title="Documents (PDF)">
    <p class="keys">${kinds.map(([kind, name]) => html`<button type="button" id=${`get-${kind}`} disabled=${Boolean(store.fetching || store.lost)} onClick=${() => download(kind, draft)}>${store.fetching === kind ? "Making it…" : `${name}${draft ? ", DRAFT" : ""}`}</button>`)}</p>
    <p class="small">All runs, as in ${store.data.model}${whatIf().length ? ". Your what-if is not in it: save it first" : ""}.</p>
    ${draft && html`<p class="caution">DRAFT is printed across every page until all example values are confirmed.</p>`}
    ${store.refused && store.refused.key === "document" && html`<p class="stop" role="alert">${store.refused.reason}</p>`}<//>`;
}

export function View() {
  const toggle = (layer, on) => {
    const hidden = new Set(store.hidden);
    if (on) hidden.delete(layer);
    else hidden.add(layer);
    set({ hidden });
  };
  const themes = [["auto", "same as device"], ["light", "light"], ["dark", "dark"]];
  return html`<div class="answer">
    <${Card} id="looks" title="Colors, theme, print">
      <${Colors} id="mode" /><${Choice} id="theme" label="Light or dark" value=${store.theme} choices=${themes} change=${(theme) => set({ theme })} />
      <p class="keys"><button type="button" id="print" onClick=${() => window.print()}>Print</button></p><//>
    ${store.live && html`<${Documents} />`}
    <${Card} id="layers" title="Layers">${layers().map((layer) => html`<label class="check"><input type="checkbox" name=${layer} checked=${!store.hidden.has(layer)}
      onChange=${(e) => toggle(layer, e.target.checked)} />${capital(layer)}</label>`)}<//>
    <${Card} id="by-hand" title="Mouse and touch"><p>Drag to rotate. Pinch or use the wheel to zoom. Drag with two fingers, or hold Shift and drag, to pan. Tap the route to read tension and sidewall pressure there; drag in a chart to read along the route.</p><//>
    <${Card} id="keys-list" title="Keys, with the picture in focus"><table><tbody>${KEYS.map(([keys, what]) => html`
      <tr><th scope="row">${keys.split("  ").map((k) => html`<kbd>${k}</kbd> `)}</th><td>${what}</td></tr>`)}</tbody></table><//>
  </div>`;
}
