// The page: what is on it, and what starts it. Handed over, the data stand in the page; live, they
// come from the server.

import { Answer, order } from "./answer.js";
import { Bends } from "./bends.js";
import { Explained } from "./explain.js";
import { Log } from "./log.js";
import { Picture, RouteChart, drawForPrint } from "./picture.js";
import { RouteTab } from "./route.js";
import { Pull, PullBar, togglePlay } from "./pull.js";
import { canEdit, isDrawing, remembered, run, set, store, tabNow, tabs, theme, themeName, watch, whatIf, words } from "./store.js";
import { Sensitivity } from "./sensitivity.js";
import { Start } from "./start.js";
import { Said, Stale, glued, html, useLayoutEffect, useState } from "./ui.js";
import { Colors, Choice, Feed, Units, View } from "./view.js";
import { WhatIf } from "./whatif.js";
import { named, setWords, t } from "./words.js";
import { FRESH, connect, openRun, stepBack } from "./wire.js";

// What stands far below is one tap away.
const toSensitivity = () => document.getElementById("sensitivity").scrollIntoView();
const Charts = () => html`${(canEdit() || run().sensitivity) && html`<p class="no-print"><button type="button" id="to-sensitivity" onClick=${toSensitivity}>Sensitivity: how sure, how far ↓</button></p>`}${["elevation", "tension", "sidewall"].map((name) => html`<${RouteChart} id=${`${name}-chart`} name=${name} key=${name} />`)}<${Sensitivity} />`;
const PANELS = { answer: Answer, log: Log, route: RouteTab, pull: Pull, bends: Bends, whatif: WhatIf, charts: Charts, view: View };

function App() {
  const [, drawAgain] = useState(0);
  useLayoutEffect(() => watch(() => drawAgain((n) => n + 1)), []);
  useLayoutEffect(dress);
  // words in the other units may come a moment later
  if (!store.data && store.start) return html`<${Start} />`;
  if (!store.data || !run() || !run().directions || !words() || !words().headline) return html`<${Waiting} />`;
  return html`${store.data.draft && html`<div id="draft" aria-hidden="true"><span>DRAFT</span></div>`}<${Header} /><${Notices} />
    <main id="main" data-tab=${tabNow()} class=${run().working ? "earlier" : ""}>
      <div id="left"><${Picture} play=${togglePlay} /><${PullBar} /></div>
      <div id="panel"><${Explained} /><${Tabs} />${store.printing ? html`<${Printed} />` : html`<${Panel} />`}</div>
    </main>`;
}

function Waiting() {
  const early = store.data && run() && run().working;
  return html`<main id="waiting" role="status"><p>Loading the pulling plan…</p>${early && html`<p>So far: ${early[store.units]}</p>`}
    ${store.lost && html`<p class="stop">Not connected.</p>`}${store.problems.map((p) => html`<p class="stop">${p}</p>`)}</main>`;
}

const chooseRun = (number) => set({ run: number, ...FRESH });

// --- head ---------------------------------------------------------------------------------------------

function Header() {
  const { data } = store;
  const said = order();
  const tone = words().tone || (run().directions[0].alarm ? "stop" : "go");
  const runs = data.runs.map((r, n) => [String(n), r.ends ? t("{run}: {from} to {to}", { run: r.name, from: r.ends[0], to: r.ends[1] }) : r.name]);
  return html`<header id="top" class=${isDrawing() ? "one-line" : ""}>
    <div id="verdict"><p id="title">${t("{title} · run {run}", { title: data.title, run: run().name })}</p>
      ${said && html`<p id="order" class=${said.tone}>${named(said.text)}</p>`}
      <h1 id="headline" class=${tone}>${glued(named(words().headline))}</h1><${Stale} when=${store.lost} /></div>
    <div id="controls">
      ${data.runs.length > 1 && html`<${Choice} id="run" label=${t("Run ({count} in this file)", { count: data.runs.length })} kind="grow" value=${String(store.opening ?? store.run)} choices=${runs} change=${(v) => (store.live ? openRun : chooseRun)(Number(v))} />`}
      <${Feed} /><${Colors} id="colors" /><${Units} />
    </div></header>`;
}

function Notices() {
  const { problems, notice, lost, refused, opening } = store;
  const edits = whatIf();
  return html`<div id="notices">
    ${store.data.examples && html`<div class="notice stop" id="examples"><b>${store.data.examples}</b></div>`}
    ${lost && html`<div class="notice stop" id="lost" role="alert"><b>Figures ${lost}.</b> Nothing can be changed. The page reconnects automatically.
      ${store.data.model && ` If the server was stopped: route3d serve ${store.data.model}, then open the address it prints.`}</div>`}
    ${problems.length > 0 && html`<div class="notice stop" id="problems" role="alert"><b>The model file has errors. The page shows its last valid state.</b>
      ${problems.slice(0, 8).map((p) => html`<div class="problem">${p}</div>`)}${problems.length > 8 && html`<div>and ${problems.length - 8} more</div>`}</div>`}
    ${refused && !isDrawing() && refused.key !== "save" && html`<div class="notice stop" id="message" role="alert">${refused.reason} <button type="button" aria-label="Close the message" onClick=${() => set({ refused: null })}>✕</button></div>`}
    ${notice && html`<div class="notice caution" role="status">${notice}</div>`}
    ${opening !== null && html`<div class="notice" role="status">Loading run ${store.data.runs[opening].name}…</div>`}
    ${run().working && html`<div class="notice" id="working" role="status"><b>Calculating: </b>${glued(run().working[store.units])}. All other figures are from before the change.</div>`}
    ${isDrawing() && !edits.length && html`<div class="notice one-line" id="as-given" role="status"><span>As in the model file.</span></div>`}
    ${edits.length > 0 && html`<div class=${`notice caution ${isDrawing() ? "one-line" : ""}`} id="what-if" role="status"><span><b>${t("What-if, not in the model file:")} </b>${glued(edits.join("; "))}</span>
      ${canEdit() && html` <button type="button" id="reset-here" disabled=${Boolean(lost)} onClick=${() => stepBack("reset")}>${t("Reset to the file")}</button>`}</div>`}
  </div>`;
}

// --- tabs ---------------------------------------------------------------------------------------------

const TITLES = () => ({ answer: t("Answer"), log: t("Log"), route: t("Route"), pull: t("Pull"), bends: t("Bends"), whatif: canEdit() ? t("What-if") : t("Assumptions"), charts: t("Charts"), view: t("View") });
const titleOf = (name) => TITLES()[name];

function Tabs() {
  const onKey = (e) => {
    const way = { ArrowRight: 1, ArrowLeft: -1 }[e.key];
    if (!way) return;
    e.preventDefault();
    const at = tabs().indexOf(tabNow());
    const next = tabs().at((at + way) % tabs().length);
    set({ tab: next });
    requestAnimationFrame(() => document.getElementById(`tab-${next}`).focus());
  };
  return html`<div id="tabs" role="tablist" aria-label=${t("Parts of this page")} onKeyDown=${onKey}>${tabs().map((name) => html`
    <button type="button" role="tab" id=${`tab-${name}`} aria-controls=${tabNow() === name ? name : undefined} aria-selected=${String(tabNow() === name)} tabindex=${tabNow() === name ? 0 : -1}
      onClick=${() => set({ tab: name })}>${titleOf(name)}</button>`)}</div>`;
}

function Panel() {
  const name = tabNow();
  const Shown = PANELS[name];
  return html`<div id=${name} key=${name} role="tabpanel" aria-labelledby=${`tab-${name}`} tabindex="0"><${Shown} /></div>`;
}

// On paper: answer, tables and charts, one after the other.
const Printed = () => ["answer", "bends", "whatif", "charts", "pull"].map((name) => html`<section class="printed" id=${`print-${name}`}>
  <h2 class="part">${titleOf(name)}</h2>${html`<${PANELS[name]} />`}</section>`);

// --- colors -------------------------------------------------------------------------------------------

function dress() {
  if (!store.data) return;
  const root = document.documentElement.style;
  const colors = theme();
  for (const [name, value] of Object.entries(colors)) if (name !== "map") root.setProperty(`--${name}`, value);
  root.setProperty("--glass", `${colors.ground}d9`);
  [40, 128, 216].forEach((k, n) => root.setProperty(`--map${n}`, `#${colors.map.substr(6 * k, 6)}`));
  root.colorScheme = themeName();
  document.documentElement.dataset.theme = themeName();
  document.documentElement.lang = tabNow() === "log" ? store.data.language : "en"; // the rest of the page is English
  if (run().directions) document.title = `${store.data.title} · ${run().name}`;
}

// --- start --------------------------------------------------------------------------------------------

// Drawn at once instead of with the next frame: a printer does not wait.
function printing(on) {
  const later = preact.options.debounceRendering;
  preact.options.debounceRendering = (now) => now();
  document.documentElement.classList.toggle("printing", on);
  set({ printing: on });
  preact.options.debounceRendering = later;
  if (store.data) drawForPrint();
}

window.addEventListener("beforeprint", () => printing(true));
window.addEventListener("afterprint", () => printing(false));

// A link to another state of this page, followed from within it.
window.addEventListener("hashchange", () => {
  if (!store.data) return;
  const { run: number, ...rest } = remembered();
  set(rest);
  if (number >= 0 && number !== store.run) (store.live ? openRun(number) : chooseRun(number));
});

function main() {
  const given = document.getElementById("data");
  if (given) {
    store.data = JSON.parse(given.textContent);
    setWords(store.data.catalog);
    const choice = remembered();
    Object.assign(store, choice, { run: Math.max(0, choice.run) });
  }
  const place = document.getElementById("app");
  place.replaceChildren();
  preact.render(html`<${App} />`, place);
  if (!given) connect();
}

main();
