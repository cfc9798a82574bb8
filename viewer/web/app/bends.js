// The bend schedule, tied to the picture both ways; where edits are allowed, another radius.

import { pickBend } from "./picture.js";
import { canEdit, run, store, words } from "./store.js";
import { Card, Stale, capital, glued, html, useLayoutEffect, useRef, useState } from "./ui.js";
import { Field } from "./whatif.js";

const HIGH = 44; // of a row, px
const SPARE = 8; // rows drawn beyond those in sight

export function Bends() {
  const table = words().bends;
  if (!table || !table.rows.length) return html`<${Card} id="selected"><p>No bends in this run.</p><//>`;
  return html`<${Selected} table=${table} /><${Schedule} table=${table} />`;
}

const toneOf = (severity) => ({ stop: "stop", caution: "caution", ok: "go" })[severity] || "";

function Selected({ table }) {
  const at = table.number.indexOf(store.bend);
  if (at < 0) return html`<${Card} id="selected"><p>Tap a bend in the picture, or a row of the table.</p><//>`;
  const row = table.rows[at];
  const field = canEdit() && run().fields[store.units].find((f) => f.key === `bend:${store.bend}`);
  return html`<section class="card" id="selected" aria-live="polite">
    <h2 id="bend-head" class=${toneOf(table.severity[at])}>Bend ${store.bend}: ${row[1]}</h2><${Stale} when=${store.lost} />
    ${(table.todo[at] || []).map(([severity, title, text]) => html`<p><b class=${toneOf(severity)}>${title}: </b>${glued(text)}</p>`)}
    ${field && html`<${Field} field=${field} label="Try another radius" key=${field.key + store.units} />`}
    <dl class="pairs">${table.heads.slice(2).map((head, i) => html`<div><dt>${capital(head)}</dt><dd>${glued(row[i + 2])}</dd></div>`)}</dl>
    <p class="keys"><button type="button" onClick=${() => pickBend(0)}>Deselect</button></p>
  </section>`;
}

// Only the rows in sight are in the document: a long run has thousands.
function Schedule({ table }) {
  const place = useRef();
  const [top, scrolled] = useState(0);
  const [tall, measured] = useState(900);
  const { rows } = table;
  const at = table.number.indexOf(store.bend);
  const whole = rows.length <= 60 || store.printing;
  const first = whole ? 0 : Math.max(0, Math.floor(top / HIGH) - SPARE);
  const last = whole ? rows.length : Math.min(rows.length, first + Math.ceil(tall / HIGH) + 2 * SPARE);
  const reveal = (n) => {
    const box = place.current;
    const [from, room] = [HIGH * n, box.clientHeight - 70];
    if (from < box.scrollTop) box.scrollTop = from;
    else if (from + HIGH > box.scrollTop + room) box.scrollTop = from + HIGH - room;
  };
  useLayoutEffect(() => {
    measured(place.current.clientHeight);
    if (at >= 0) reveal(at);
  }, [at]);
  const steps = { ArrowDown: 1, ArrowUp: -1 };
  const onKey = (e, n) => {
    if (e.key === "Enter" || e.key === " ") pickBend(table.number[n]);
    else if (steps[e.key]) {
      const next = n + steps[e.key];
      if (next < 0 || next >= rows.length) return;
      reveal(next);
      requestAnimationFrame(() => document.getElementById(`bend-row-${table.number[next]}`)?.focus());
    } else return;
    e.preventDefault();
  };
  const space = (count) => count > 0 && html`<tr class="space" style=${{ height: `${HIGH * count}px` }}><td colspan=${table.heads.length}></td></tr>`;
  return html`<section class="card" id="bends"><h2>Bend schedule, failing bends first</h2>
    <p class="small" id="bends-fed">Verdict and sidewall pressure ${table.fed}. Min. radius to pass: changing that bend only. Scroll sideways for more columns, or tap a row.</p>
    <${Stale} when=${store.lost} />
    <div class="schedule" ref=${place} tabindex="0" role="group" aria-label="Bend schedule" onScroll=${(e) => scrolled(e.currentTarget.scrollTop)}>
      <table aria-rowcount=${rows.length + 1}><thead><tr>${table.heads.map((head) => html`<th scope="col">${capital(head)}</th>`)}</tr></thead>
      <tbody>${space(first)}${rows.slice(first, last).map((row, i) => {
        const n = first + i;
        const number = table.number[n];
        return html`<tr id=${`bend-row-${number}`} key=${number} tabindex="0" aria-rowindex=${n + 2} class=${number === store.bend ? "picked" : ""}
          aria-selected=${String(number === store.bend)} onClick=${() => pickBend(number)} onKeyDown=${(e) => onKey(e, n)}>
          ${row.map((cell, k) => (k ? html`<td class=${k === 1 ? toneOf(table.severity[n]) : ""}>${glued(cell)}</td>` : html`<th scope="row">${cell}</th>`))}</tr>`;
      })}${space(rows.length - last)}</tbody></table>
    </div></section>`;
}
