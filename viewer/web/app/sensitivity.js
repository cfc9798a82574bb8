// How sure and how far: spread and limits of the run in words, tables and pictures, made by the server.
// A page handed over has them with its data; a live one asks for them, as they take a while.

import { canEdit, run, store } from "./store.js";
import { Card, Said, Table, glued, html } from "./ui.js";
import { askSensitivity } from "./wire.js";

export function Sensitivity() {
  const asked = store.studied && store.studied.run === store.run && store.studied.data;
  const told = asked || run().sensitivity;
  if (!told && !canEdit()) return null;
  return html`<${Card} id="sensitivity" title="Sensitivity" stale=${store.lost}>
    ${canEdit() && html`<p class="inline no-print"><button type="button" id="study" disabled=${Boolean(store.lost || store.studying)} onClick=${askSensitivity}>
      ${store.studying ? "Calculating…" : told ? "Calculate again" : "Calculate spread and limits"}</button></p>`}
    ${told && html`${told.edits[store.units].length > 0 && html`<p class="caution">Of the what-if: ${glued(told.edits[store.units].join("; "))}</p>`}
      ${told.parts[store.units].map((part) => html`<${Part} part=${part} />`)}`}<//>`;
}

function Part({ part }) {
  if (part.kind === "heading") return html`<h3>${part.text}</h3>`;
  if (part.kind === "words") return html`<${Said} list=${part.texts} kind=${part.small ? "small" : ""} />`;
  if (part.kind === "table") return html`<${Table} heads=${part.heads} rows=${part.rows} label=${part.caption} tones=${part.rows.map((_, i) => (part.heavy.includes(i) ? "stop" : ""))} />`;
  return part.items.map(({ svg, caption }) => html`<div class="wide-table" tabindex="0" role="group" aria-label=${caption}>
    <img class="study-picture" src=${`data:image/svg+xml,${encodeURIComponent(svg)}`} alt=${caption} /></div>`);
}
