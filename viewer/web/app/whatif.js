// What-if: the values of the model and how to try others, undo, variants, sharing and saving. On a
// page that cannot change anything the same values are read only, as assumptions.

import { Comparison } from "./compare.js";
import { pickBend } from "./picture.js";
import { canEdit, run, session, store, whatIf } from "./store.js";
import { Card, Stale, Table, capital, glued, html, useLayoutEffect, useRef, useState } from "./ui.js";
import { ask, connected, edit, saveRun, stepBack } from "./wire.js";

const GROUPS = [["friction", "Friction"], ["reel", "Reel"], ["machine", "Machine"], ["gear", "Gears"], ["bend", "Bend radii"]];

export function WhatIf() {
  const fields = (run().fields || {})[store.units] || [];
  if (!canEdit()) return html`<${Assumptions} fields=${fields} /><${Compare} />`;
  return html`<${Edits} /><${Form} fields=${fields} /><${Compare} /><${Comparison} /><${Variants} /><${Shared} /><${Save} />`;
}

// Friction that falls above a contact load: how far, its test report, and which result decides.
const falls = () => (run().falls || {})[store.units] || [];

function Assumptions({ fields }) {
  const groups = GROUPS.map(([group, title]) => [title, fields.filter((f) => f.group === group)]).filter(([, list]) => list.length);
  return html`<section class="card" id="assumptions"><h2>Assumptions</h2>${groups.map(([title, list]) => html`<h3>${title}</h3>
    <${Table} label=${title} rows=${[...list.map((f) => [f.label, valueWords(f)]), ...(title === "Friction" ? falls() : [])]} />`)}</section>`;
}

const valueWords = (f) => (f.text === "" ? "none" : /\d/.test(f.text) ? `${f.text} ${f.unit}` : f.text);

// --- fields ------------------------------------------------------------------------------------------

// What is being typed belongs to the one who types: it is applied with Enter or by leaving the
// field, put back with Escape, and never overwritten meanwhile.
export function Field({ field, label = field.label, slider = false, wrong = refusal(field.key), send = (text) => edit(field.key, text) }) {
  const [draft, put] = useState(null); // {text, sent}: sent until the answer shows what came of it
  const busy = useRef(false);
  const id = `field-${field.key}`;
  const off = Boolean(store.lost);
  const typing = (text) => put(text === null ? null : { text, sent: false });
  useLayoutEffect(() => {
    if (draft && draft.sent) put(null);
  }, [field, store.refused]);
  const apply = (text) => {
    if (text === field.text) put(null);
    else if (send(text)) put({ text, sent: true });
  };
  const left = (e) => {
    busy.current = false;
    // the window was left, not the field; or nothing can be sent now: the text is kept as typed
    if (document.activeElement === e.target || !connected() || !draft || draft.sent) return;
    apply(draft.text);
  };
  const onKey = (e) => {
    if (e.key === "Enter") apply(e.currentTarget.value);
    else if (e.key === "Escape") typing(null);
    else return;
    e.preventDefault();
  };
  const [low, high] = [field.lo ?? 0, Math.min(field.hi ?? 1, Math.max(0.8, Number(field.text)))];
  const shown = draft ? draft.text : field.text;
  return html`<div class=${`field ${field.edited ? "edited" : ""} ${slider ? "with-slider" : ""}`}>
    <label for=${id}>${label}</label>
    ${slider && html`<input type="range" min=${Math.max(low, 0.05)} max=${high} step="0.01" value=${Number(shown) || 0} disabled=${off} aria-label=${`${label}, slider`}
      onInput=${(e) => typing(e.target.value)} onChange=${(e) => apply(Number(e.target.value).toFixed(2))} />`}
    ${field.choices ? html`<select id=${id} disabled=${off} value=${field.text} onChange=${(e) => edit(field.key, e.target.value)}>
        ${!field.choices.some((c) => (c.value ?? c) === field.text) && html`<option value=${field.text} disabled>${field.text || "none"}</option>`}
        ${field.choices.map((c) => html`<option value=${c.value ?? c}>${c.title ?? c}</option>`)}</select>`
    : html`<span class="entry"><input id=${id} type="text" inputmode=${field.unit || slider ? "decimal" : "text"} autocomplete="off" maxlength="200" value=${shown} disabled=${off && draft === null}
        readOnly=${off} aria-invalid=${wrong ? "true" : "false"} aria-describedby=${`${id}-note`} onFocus=${() => { busy.current = true; }} onInput=${(e) => typing(e.target.value)} onBlur=${left} onKeyDown=${onKey} />
        <span class="unit">${field.unit}</span></span>`}
    <small id=${`${id}-note`} class=${wrong ? "stop" : ""}>${wrong || (draft && !draft.sent && !busy.current ? "not applied: press Enter in the field" : field.edited ? `model file: ${field.given} ${field.unit}` : "")}</small>
  </div>`;
}

const refusal = (key) => (store.refused && store.refused.key === key ? store.refused.reason : "");

function Form({ fields }) {
  const of = (group) => fields.filter((f) => f.group === group);
  const bends = of("bend");
  const bend = bends.find((f) => f.key === `bend:${store.bend}`);
  const one = (f, slider) => html`<${Field} field=${f} slider=${slider} key=${f.key + store.units} />`;
  return html`<${Card} id="form" title="Try other values" stale=${store.lost}>
    <div class="form">${of("friction").map((f) => one(f, true))}${["reel", "machine", "gear"].flatMap((g) => of(g)).map((f) => one(f, false))}
    ${bends.length > 0 && html`<div class="field"><label for="bend-choice">Bend to change</label>
      <select id="bend-choice" disabled=${Boolean(store.lost)} value=${String(store.bend)} onChange=${(e) => pickBend(Number(e.target.value))}><option value="0">choose a bend</option>
        ${bends.map((f) => html`<option value=${f.key.slice(5)}>${f.label.replace(" radius", "")}</option>`)}</select><small></small></div>`}
    ${bend && one(bend, false)}</div>
    ${falls().length > 0 && html`<${Table} label="Friction by pressure" rows=${falls()} />`}<//>`;
}

// --- edits, variants, sharing, saving -----------------------------------------------------------------

function Edits() {
  const s = session();
  const edits = whatIf();
  const off = Boolean(store.lost);
  const button = (id, name, can) => html`<button type="button" id=${id} disabled=${off || !can} onClick=${() => stepBack(id)}>${name}</button>`;
  return html`<section class="card" id="edits"><h2>What-if</h2>
    <p>Only you see your changes until you share them. The model file is not changed.</p>
    ${edits.length > 0 && html`<ul>${edits.map((text) => html`<li>${glued(text)}</li>`)}</ul>`}
    <p class="keys">${button("undo", "Undo", s.canUndo)}${button("redo", "Redo", s.canRedo)}${button("reset", "Reset to the file", edits.length)}</p>
    <p role="status" class="small">${store.working ? "Calculating…" : ""}</p>
  </section>`;
}

// Both directions side by side.
function Compare() {
  const table = (run().compare || {})[store.units];
  if (!table) return null;
  return html`<${Card} id="directions" title="Both directions"><${Stale} when=${store.lost} /><div class="wide-table" tabindex="0" role="group" aria-label="Both directions"><table>
    <thead><tr>${table.heads.map((head) => (head ? html`<th scope="col">${capital(head)}</th>` : html`<td></td>`))}</tr></thead>
    <tbody>${table.rows.map(([name, ...cells]) => html`<tr><th scope="row">${capital(name)}</th>${cells.map(([text, alarm]) => html`<td class=${alarm ? "stop" : ""}>${glued(text)}</td>`)}</tr>`)}</tbody>
  </table></div><//>`;
}

function Variants() {
  const list = session().variants || [];
  const [name, named] = useState("");
  const off = Boolean(store.lost);
  const now = { id: null, name: "Shown now", edits: whatIf(), ...session().current };
  const labels = [...new Set(list.flatMap((v) => (v.summary ? v.summary[store.units] : []).map(([label]) => label)))];
  const cell = (v, label) => (v.summary ? Object.fromEntries(v.summary[store.units])[label] : "calculating") ?? "";
  const all = [...list, now];
  const keep = (e) => {
    e.preventDefault();
    if (ask("variant", { action: "keep", name: name.trim() || `Variant ${list.length + 1}` })) named("");
  };
  const editsOf = (v) => (Array.isArray(v.edits) ? v.edits : (v.edits || {})[store.units] || []).join("; ") || "as in the model file";
  return html`<section class="card" id="variants"><h2>Variants side by side</h2><${Stale} when=${store.lost} />
    ${list.length > 0 && html`<div class="wide-table" tabindex="0" role="group" aria-label="Variants"><table>
      <thead><tr><td></td>${all.map((v) => html`<th scope="col">${v.name}</th>`)}</tr></thead><tbody>
      <tr><th scope="row">Changes</th>${all.map((v) => html`<td>${glued(editsOf(v))}</td>`)}</tr>
      ${labels.map((label) => html`<tr><th scope="row">${capital(label)}</th>${all.map((v) => html`<td>${glued(cell(v, label))}</td>`)}</tr>`)}
      <tr class="no-print"><td></td>${all.map((v) => html`<td>${v.id !== null && html`<span class="keys">
        <button type="button" disabled=${off} aria-label=${`Use ${v.name}`} onClick=${() => ask("variant", { action: "use", id: v.id })}>Use</button>
        <button type="button" disabled=${off} aria-label=${`Delete ${v.name}`} onClick=${() => ask("variant", { action: "drop", id: v.id })}>Delete</button></span>`}</td>`)}</tr>
    </tbody></table></div>`}
    <form class="inline" onSubmit=${keep}><label for="variant-name">Name</label><input id="variant-name" value=${name} maxlength="60" disabled=${off} autocomplete="off" onInput=${(e) => named(e.target.value)} />
      <button type="submit" id="keep" disabled=${off}>Keep as variant</button></form></section>`;
}

function Shared() {
  const off = Boolean(store.lost);
  const list = session().shared || [];
  return html`<section class="card" id="shared"><h2>Share with others</h2>
    ${list.map((one) => html`<p>${one.name || "Another browser"} shared: ${glued((one.edits[store.units] || []).join("; "))}
      <button type="button" disabled=${off} onClick=${() => ask("take", { id: one.id })}>Use it here</button></p>`)}
    <p class="keys"><button type="button" id="share" disabled=${off || !whatIf().length} onClick=${() => ask("share")}>Share my what-if</button></p></section>`;
}

export function Save() {
  const [name, named] = useState("");
  const off = Boolean(store.lost);
  const { model } = store.data;
  const refused = refusal("save");
  useLayoutEffect(() => {
    if (refused || store.saved) document.getElementById("save-said").scrollIntoView({ block: "nearest" });
  }, [refused, store.saved]);
  const send = (e) => {
    e.preventDefault();
    saveRun({ name: name.trim().replace(/(\.toml)?$/, ".toml") });
  };
  return html`<section class="card" id="save"><h2>Save</h2>
    <p class="keys"><button type="button" id="save-into" disabled=${off || !whatIf().length} onClick=${() => saveRun({ name: "", into: true })}>Save to ${model}</button></p>
    <p class="small">Writes your changes to the model file. Comments are kept. The file before is kept as ${model}.bak.</p>
    <h3>Save as a new model file</h3>
    <form class="inline" onSubmit=${send}><label for="save-name">File name</label><input id="save-name" value=${name} disabled=${off} autocomplete="off" placeholder="name.toml" onInput=${(e) => named(e.target.value)} />
      <button type="submit" id="save-file" disabled=${off || !name.trim()}>Save</button></form>
    <p role="status" id="save-said" class=${refused ? "stop" : ""}>${refused ? `Not saved: ${refused}` : store.saved && `Saved: ${store.saved}`}</p></section>`;
}
