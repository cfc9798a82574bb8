// How the page looks: colors and layers of the picture, units, light or dark, print, and the keys.

import { layers } from "./picture.js";
import { MODE_NAMES, feed, run, set, store } from "./store.js";
import { Card, capital, html } from "./ui.js";

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
  const choices = run().directions.map((d, n) => [String(n), d.feed + (n === run().chosen ? " (chosen)" : "")]);
  const change = (v) => set({ feed: Number(v) === run().best ? null : Number(v), row: 0 });
  return html`<${Choice} id="feed" label="Feed end" kind="grow" value=${String(feed())} choices=${choices} change=${change} />`;
}

export const Units = () => html`<${Choice} id="units" label="Units" value=${store.units} choices=${[["US", "US"], ["SI", "SI"]]} change=${(units) => set({ units })} />`;

export const Colors = ({ id }) => html`<${Choice} id=${id} label="Colors" value=${store.mode} choices=${store.data.modes.map((m) => [m, MODE_NAMES[m] || m])} change=${(mode) => set({ mode })} />`;

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
    <${Card} id="layers" title="Layers">${layers().map((layer) => html`<label class="check"><input type="checkbox" name=${layer} checked=${!store.hidden.has(layer)}
      onChange=${(e) => toggle(layer, e.target.checked)} />${capital(layer)}</label>`)}<//>
    <${Card} id="by-hand" title="Mouse and touch"><p>Drag to rotate. Pinch or use the wheel to zoom. Drag with two fingers, or hold Shift and drag, to pan. Tap the route to read tension and sidewall pressure there; drag in a chart to read along the route.</p><//>
    <${Card} id="keys-list" title="Keys, with the picture in focus"><table><tbody>${KEYS.map(([keys, what]) => html`
      <tr><th scope="row">${keys.split("  ").map((k) => html`<kbd>${k}</kbd> `)}</th><td>${what}</td></tr>`)}</tbody></table><//>
  </div>`;
}
