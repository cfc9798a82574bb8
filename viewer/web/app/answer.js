// What the crew reads: order, ends, gauge, gears, checks, what stops the pull, and what would help.

import { Rule, canExplain, explain } from "./explain.js";
import { pulledOf } from "./film.js";
import { readAt } from "./picture.js";
import { direction, feed, pending, run, set, setHead, store, unit, whatIf, words } from "./store.js";
import { t } from "./words.js";
import { Card, Said, Stale, Table, glued, html, useState } from "./ui.js";

const MOST = 40; // findings shown at first

// The order to the crew beside the headline; nothing where the headline says it already.
export function order() {
  const { crew, headline } = words();
  if (!crew) return null;
  if (whatIf().length && !crew.other) return { text: t("What-if: this is not the plan"), tone: crew.go ? "caution" : crew.tone };
  return headline.startsWith(crew.order) ? null : { text: crew.order, tone: crew.tone };
}

export function Answer() {
  const { data } = store;
  const w = words();
  const told = w.gauge;
  const crew = w.crew || {};
  const other = run().chosen !== null && run().chosen !== feed() ? run().directions[run().chosen] : null;
  const banner = (text, id, tone = "stop") => text && html`<p class=${`banner ${tone}`} id=${id}>${glued(text)}</p>`;
  return html`<div class="answer">
    <div class="whole">
      <p id="sentence">${glued(w.sentence)}</p>
      ${other && banner(`This is the other direction. Chosen: feed from ${other.feed}, pull at ${other.pull}.`, "other-way", "caution")}
      ${banner(w.warning, "warning")}${banner(w.ruledOut, "ruled-out")}${banner(w.ending, "ending")}
      <${Remedies} list=${w.remedies} />
      <${Ends} crew=${crew} />
    </div>
    ${crew.go && html`<${Card} id="crew" stale=${store.lost}>
      ${crew.brake && html`<p id="brake"><b>${glued(crew.brake)}.</b></p>`}
      <p>${glued(`${crew.cables}, ${crew.length} long.`)}</p><//>`}
    <${GaugeNow} told=${told} crew=${crew} />
    <${Facts} told=${told} />
    ${told && told.checks.length > 0 && html`<${Card} id="checks" title="Acceptance checks"><${Said} list=${told.checks} /><//>`}
    ${told && told.gears.length > 0 && html`<${Card} id="gears" title="Gears and crew time" stale=${store.lost}><${Said} list=${told.gears} /><${Said} list=${told.time} /><//>`}
    <${Readings} told=${told} />
    ${told && told.accidents.length > 0 && html`<${Card} id="accidents" title="After an unplanned stop" stale=${store.lost}><${Said} list=${told.accidents} /><//>`}
    ${told && told.machine.length > 0 && html`<${Card} id="held" title="Machine and anchorage" stale=${store.lost}><${Said} list=${told.machine} /><${Said} list=${told.link} /><//>`}
    ${told && (told.holds || []).length > 0 && html`<${Card} id="holds" title="Hold points: wait for approval at each">
      <ul>${told.holds.map((hold) => html`<li>${glued(hold)}</li>`)}</ul><//>`}
    ${(w.rigging || []).length > 0 && html`<${Card} id="rigging" title=${t("Rigging, to scale")} stale=${store.lost}>
      ${w.rigging.map(([title, picture]) => html`<h3>${title}</h3><img alt=${`${t("Rigging, to scale")}, ${title}`} src=${`data:image/svg+xml,${encodeURIComponent(picture)}`} />`)}<//>`}
    <${Findings} />
    <${Card} id="places" title="Locations" stale=${store.lost}><${Table} rows=${w.places} label="Locations" /><//>
    <${Card} id="cautions" title="Cautions">${data.cautions.map((c) => html`<p>${c}</p>`)}<//>
    <${Card} id="about" title="About this picture"><${Said} list=${w.notes} kind="small" /><//>
  </div>`;
}

// Where reel and machine stand; of a pull that must not be made only where it was asked for.
function Ends({ crew }) {
  if (!crew.go && store.feed === null) return null;
  const { feed: from, pull } = direction();
  const machine = crew.machine || {};
  return html`<div class=${`ends ${crew.go ? "" : "idle"}`}>
    <div class="end feed"><small>${crew.go ? "Feed from: reel at" : "If fed here: reel at"}</small><b id="crew-feed">${from}</b><${Stale} when=${store.lost} /></div>
    <div class="end machine"><small>${!crew.go ? "If pulled here: machine at" : machine.named ? "Pull at: machine at" : "Pull at"}</small>
      <b id="crew-machine">${pull}</b><small>${machine.name || ""}</small><${Stale} when=${store.lost} /></div>
  </div>`;
}

// A row of the gauge table, and the head of the cable with it.
function goToRow(row) {
  const film = direction().playback;
  set({ row, playing: false });
  const length = film ? pulledOf(film).at(-1) : 0;
  if (length > 0 && film.rows[row]) setHead(film.rows[row].pulled / length);
}

// Expected, caution and stop of the place now and of the next, each of one row of the table.
function GaugeNow({ told, crew }) {
  if (pending()) return html`<${Card} id="gauge" title="Gauge"><p>Calculating…</p><//>`;
  if (!told) return html`<${Card} id="gauge" title="Gauge"><p>${store.data.noGauge}</p><//>`;
  if (told.load === "-") {
    return html`<${Card} id="lacking" title="No stop load, no readings"><p id="stop-load"><b>Stop load not known. </b>${glued(told.text)}</p>
      ${crew.go && html`<p>Do not pull until the model file gives it and this page shows a stop load.</p>`}<//>`;
  }
  const row = Math.min(store.row, told.rows.length - 1);
  const [now, next] = [told.rows[row], told.rows[row + 1]];
  const force = unit().unit("force");
  const length = unit().unit("length");
  return html`<${Card} id="gauge" title="Gauge now" stale=${store.lost}>
    ${now && html`<p id="cable-in">${row === 0 ? "At the start: " : ""}${glued(`${now[0]} ${length} of cable in`)}${told.places[row] && html`<span>, ${glued(told.places[row])}</span>`}</p>
    <p id="expected-now">Expected <b class="big">${glued(`${now[2]} ${force}`)}</b></p>
    <p id="stop-now">Caution ${glued(`${now[3]} ${force}`)}. Stop <b>${glued(`${now[4]} ${force}`)}</b>.</p>
    ${told.usable && !told.usable[row] && html`<p class="caution">The gauge is not accurate here.</p>`}
    ${next && html`<p id="next-readings">Next, ${glued(`${next[0]} ${length} in`)}: expected ${glued(`${next[2]}, caution ${next[3]}, stop ${next[4]} ${force}`)}.</p>`}
    <p class="keys"><button type="button" id="next-place" disabled=${!next} onClick=${() => goToRow(row + 1)}>Next mark</button>
      <button type="button" disabled=${row === 0} onClick=${() => goToRow(row - 1)}>Back</button></p>`}
    <p id="stop-load"><b>${glued(`${told.head} ${told.load}. `)}</b>${glued(told.text)}</p>
    ${told.largest && html`<p>Highest expected reading: ${glued(told.largest)}.</p>`}
    <p class="small">Above Caution (except in a first move), or at any sudden rise: stop and find the cause.</p>
  <//>`;
}

function Facts({ told }) {
  const stop = !told ? [] : told.load === "-" ? [["Stop load", "not known", told.text, false, "stop reading"]] : [["Lowest stop load", told.load, "lowest in the table", false, "stop reading"]];
  return html`<div class="facts" id="facts">${[...words().facts, ...stop].map(([name, value, note, over, rule]) => {
    const opens = canExplain(rule);
    const more = opens ? { type: "button", "aria-haspopup": "dialog", onClick: () => explain(rule) } : {};
    return html`<${opens ? "button" : "div"} class=${`fact ${over ? "over" : ""}`} id=${`fact-${name.toLowerCase().replaceAll(" ", "-")}`} ...${more}>
      <small class=${opens ? "why" : ""}>${name + (over ? " · OVER LIMIT" : "")}</small><b class=${value.length > 14 ? "long" : ""}>${glued(value)}</b>
      ${note && html`<small>${glued(note)}</small>`}<${Stale} when=${store.lost} />
    <//>`;
  })}</div>`;
}

function Readings({ told }) {
  if (!told || !told.rows.length) return null;
  return html`<${Card} id="readings" title="Gauge readings by length of cable in">
    <${Table} heads=${told.heads} rows=${told.rows} under=${told.places} label="Gauge readings" stale=${store.lost}
      tones=${told.rows.map((_, i) => (i === store.row ? "now" : ""))} />
    <${Said} list=${told.notes} kind="small" /><//>`;
}

// What would make the run pass, by cost class; nothing where nothing stops it.
function Remedies({ list }) {
  if (!list || !(list.title || list.why_none || list.foot || list.groups.length)) return null;
  const small = (text) => text && html`<p class="small">${glued(text)}</p>`;
  return html`<section class="card remedies" id="remedies">
    ${list.title && html`<h2>${list.title}</h2>`}<${Stale} when=${store.lost} />${small(list.aim)}
    ${list.why_none && html`<p class="stop">${glued(list.why_none)}</p>`}
    ${list.groups.map((group) => html`<section class=${`cost${group.rank}`}><h3>${group.cost_class}</h3><ol>${group.lines.map((line) => html`
      <li value=${line.number}><b class="number" aria-hidden="true">${line.number}</b><div class="what">${glued(line.what)}</div>
        <div class="small">${glued(line.comes_of_it)}</div>
        ${line.caution && html`<div class="caution">${glued(line.caution)}</div>`}${line.left && html`<div class="stop">${glued(line.left)}</div>`}</li>`)}</ol></section>`)}
    ${small(list.foot)}${list.command && html`<code tabindex="0">${list.command}</code>`}
  </section>`;
}

const records = ({ heads, rows }) => rows.map((row) => Object.fromEntries(heads.map((key, i) => [key, row[i]])));

function Findings() {
  const [all, showAll] = useState(false);
  const list = records(words().findings);
  const serious = list.filter((f) => f.severity !== "note");
  const notes = list.filter((f) => f.severity === "note");
  const shown = all || store.printing ? serious : serious.slice(0, MOST);
  return html`<${Card} id="findings" title=${serious.length ? "Stops and cautions" : "No stops, no cautions"} stale=${store.lost}>
    ${shown.map((f) => html`<${Finding} f=${f} />`)}
    ${shown.length < serious.length && html`<button type="button" onClick=${() => showAll(true)}>Show all ${serious.length}</button>`}
    ${words().passed && html`<p class="small" id="passed">${words().passed}.</p>`}
    ${notes.length > 0 && html`<details open=${store.printing}><summary>Notes (${notes.length})</summary>${notes.slice(0, all ? Infinity : MOST).map((f) => html`<${Finding} f=${f} />`)}</details>`}
  <//>`;
}

function Finding({ f }) {
  const reading = f.measured && f.measured !== "-" ? `${f.measured}; limit ${f.limit}` : "";
  const severity = f.severity === "note" ? "" : `${f.severity.toUpperCase()}: `;
  return html`<div class=${`finding ${f.severity}`}>
    ${f.station !== null && html`<button type="button" aria-label=${`Show on the route: ${f.rule}, ${f.where}`} onClick=${() => readAt(f.station, true)}>Show</button>`}
    <b>${severity}<${Rule} name=${f.rule} rule=${f.explained ? f.rule : ""} /></b><div>${glued([f.where, reading].filter(Boolean).join(": "))}</div><div>${glued(f.fix)}</div><small>Source: ${f.source}</small>
  </div>`;
}
