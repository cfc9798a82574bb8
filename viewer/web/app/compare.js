// The run of the model file against the what-if, a variant or another file: input, results, picture.

import { session, set, store, whatIf } from "./store.js";
import { Card, capital, glued, html, useState } from "./ui.js";
import { askComparison } from "./wire.js";

export function Comparison() {
  const variants = session().variants || [];
  const choices = [["now", "My what-if", whatIf().length > 0], ...variants.map((v) => [`v${v.id}`, `Variant: ${v.name}`, true]), ...(store.data.files || []).map((f) => [`f${f}`, `File: ${f}`, true])];
  const able = choices.filter(([, , can]) => can);
  const [chosen, choose] = useState("");
  const value = able.some(([v]) => v === chosen) ? chosen : able.length ? able[0][0] : "";
  const send = (e) => {
    e.preventDefault();
    const more = value[0] === "v" ? { variant: value.slice(1) } : value[0] === "f" ? { file: value.slice(1) } : {};
    askComparison(more);
  };
  const told = store.compared;
  return html`<${Card} id="comparison" title="Compare with the model file" stale=${store.lost}>
    <form class="inline no-print" onSubmit=${send}><label for="compare-with">Compare</label><select id="compare-with" value=${value} disabled=${!able.length} onChange=${(e) => choose(e.target.value)}>
      ${!able.length && html`<option value="">nothing to compare yet</option>`}${able.map(([v, name]) => html`<option value=${v}>${name}</option>`)}</select>
      <button type="submit" id="compare" disabled=${Boolean(store.lost) || !able.length || store.comparing}>${store.comparing ? "Comparing…" : "Compare"}</button>
      ${told && html`<button type="button" onClick=${() => set({ compared: null })}>Close</button>`}</form>
    ${told && told.run === store.run && html`<${Told} data=${told.data} />`}<//>`;
}

const OURS = ["model file", "what-if"]; // a file or a variant keeps its name as it is

function Told({ data }) {
  const { labels, inputs, runs: [run] } = data;
  const heads = labels.map((label) => html`<th scope="col">${OURS.includes(label) ? capital(label) : label}</th>`);
  const changes = run.figures.filter((f) => f.differs);
  const same = run.figures.filter((f) => !f.differs);
  const row = (f) => html`<tr><th scope="row">${capital(f.words.trim())}</th>${f.shown.map((text) => html`<td>${glued(text)}</td>`)}<td>${glued(f.change_words.at(-1))}</td></tr>`;
  return html`<div id="compared">
    <h3>Input that differs</h3>${inputs.length ? html`<div class="wide-table" tabindex="0" role="group" aria-label="Input that differs"><table><thead><tr><th scope="col">Key of the model file</th>${heads}</tr></thead>
      <tbody>${inputs.map((i) => html`<tr><th scope="row"><span class="example">${i.key}</span></th>${i.shown.map((text) => html`<td>${glued(text)}</td>`)}</tr>`)}</tbody></table></div>` : html`<p>None.</p>`}
    <h3>Results</h3><div class="wide-table" tabindex="0" role="group" aria-label="Results"><table><thead><tr><td></td>${heads}<th scope="col">Change</th></tr></thead>
      <tbody>${changes.map(row)}</tbody></table></div>
    ${!changes.length && html`<p>No result differs.</p>`}
    ${same.length > 0 && html`<details><summary>Results that do not differ (${same.length})</summary><div class="wide-table" tabindex="0" role="group" aria-label="Results that do not differ"><table><tbody>${same.map(row)}</tbody></table></div></details>`}
    <${List} title="New findings" list=${run.gained.at(-1)} /><${List} title="Findings that are gone" list=${run.lost.at(-1)} />
    <div class="wide-table" tabindex="0" role="group" aria-label="Picture of the comparison"><img class="compared-picture" src=${data.picture} alt=${`Tension and sidewall pressure along the run: ${labels.join(", ")}`} /></div>
  </div>`;
}

const List = ({ title, list }) => list && list.length > 0 && html`<h3>${title}</h3><ul>${list.map((f) => html`<li class=${f.severity === "stop" ? "stop" : f.severity === "caution" ? "caution" : ""}>${f.severity}: ${f.rule}, ${f.where}</li>`)}</ul>`;
