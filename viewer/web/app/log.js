// The log of the pull: two keypads, an answer to each reading, and what was entered so far.

import { Chart } from "./charts.js";
import { clockOf, pulledOf, readingsAt } from "./film.js";
import { forecastOf } from "./log_forecast.js";
import {
  KIND_WORDS, about, askBrake, baseNow, beginAnew, callWords, canShare, chooseGear, clockSeen, departuresNow, enter, entriesOf, entryWords, exportFile, goOn, importFile, log, lubricate, lastStart, mute, openLog,
  otherLogs, pick, planNow, pointIn, press, secondsNow, shareFile, shift, startOrStop, stepClock, type, undo, valueOf, write,
} from "./log_state.js";
import { answerWords, gearOf, isRunning, nearest, placeOf, planAt } from "./pull_log.js";
import { direction, pending, store, unit, whatIf, words } from "./store.js";
import { Card, capital, glued, html, useEffect, useLayoutEffect, useState } from "./ui.js";
import { named, t } from "./words.js";

const SHOWN = 12; // entries at first
const EARLIER = 4; // departures
const SIGNS = { plan: "✓", caution: "▲", stop: "", low: "▼", departure: "◆", halt: "◆", still: "‖", ask: "?", unjudged: "", noted: "" };

export function Log() {
  useEffect(() => { openLog(); }, [baseNow()]);
  useLayoutEffect(() => {
    // on a phone the head of the page stands above the keys
    if (window.matchMedia("(max-width: 899px)").matches) document.getElementById("tabs").scrollIntoView();
  }, []);
  if (!log.ready) return html`<p role="status">${t("Reading the log kept on this device…")}</p>`;
  return html`<div class="log">
    <div id="log-entry">
      <${Trouble} /><${Clock} /><${Verdict} /><${PlanLine} />
      <div class="pads"><${Pad} field="cable" /><${Pad} field=${log.field === "brake" ? "brake" : "reading"} /></div>
      <${Actions} />
    </div>
    <${Departures} /><${Ahead} /><${Entries} /><${Files} />
    <p class="small" id="log-limits">${t("This log never replaces the limiter, the operator or the word that stops the pull.")}</p>
  </div>`;
}

function Trouble() {
  const many = log.unsaved.length;
  return html`${log.trouble && html`<div class="notice stop" id="log-trouble" role="alert"><b>${t("NOT KEPT ON THIS DEVICE.")}</b> ${log.trouble} ${t("Entries on this page only: {count}. Export them now, before the page is closed.", { count: many })}
      <button type="button" id="export-now" onClick=${() => exportFile("json")}>${t("Export now")}</button></div>`}
    ${log.clockSet !== 0 && html`<div class="notice caution" id="log-clock-set" role="status">${log.clockSet < 0 ? t("The clock of this device was set back by {time}.", { time: clockOf(-log.clockSet) }) : t("The clock of this device was set forward by {time}.", { time: clockOf(log.clockSet) })} ${t("The log keeps a running clock of its own: nothing is lost.")}
      <button type="button" onClick=${clockSeen}>${t("OK")}</button></div>`}
    ${whatIf().length > 0 && html`<div class="notice caution" id="log-what-if">${t("A what-if is on this page. Readings are recorded and not judged until you reset it.")}</div>`}
    ${!whatIf().length && !pending() && !(planNow().film && planNow().film.rows.length) && html`<div class="notice stop" id="log-records-only">${words().crew.go ? t("The plan has no readings. This log records only.") : t("This pull must not be made as planned. This log records only.")}</div>`}`;
}

function Clock() {
  const [, again] = useState(0);
  useEffect(() => {
    const timer = setInterval(() => { stepClock(); again((n) => n + 1); }, 1000);
    return () => clearInterval(timer);
  }, []);
  const { entries } = entriesOf();
  const seconds = secondsNow();
  const since = lastStart();
  const running = isRunning(entries);
  const time = new Date(Date.now()).toTimeString().slice(0, 8);
  const state = !since ? t("not started") : running ? t("moving {time}", { time: clockOf(seconds - since.clock_s) }) : t("stopped {time}", { time: clockOf(seconds - since.clock_s) });
  return html`<div id="log-clock"><b>${time}</b><span class=${running ? "go" : ""}>${state}</span>
    <span id="log-kept">${log.unsaved.length ? t("{count} not kept", { count: log.unsaved.length }) : t("{count} kept", { count: entries.length })}</span>
    <button type="button" id="mute" aria-pressed=${String(log.muted)} onClick=${mute}>${log.muted ? t("Sound off") : t("Sound on")}</button></div>`;
}

function Verdict() {
  const { answer } = log;
  const u = unit();
  const seen = forecastOf(planNow(), entriesOf().entries, direction().forecast);
  const warned = seen && answer && answer.kind === "reading" && !["stop", "departure", "halt", "low", "still"].includes(answer.state) && seen.stopAt !== null;
  const whole = (place) => `${Math.floor(u.inUnits(place, "length"))} ${u.unit("length")}`;
  const warning = !warned ? "" : seen.lastSafe === null ? t("Forecast: Stop at {place}, no safe stop before it", { place: whole(seen.stopAt) })
    : t("Forecast: Stop at {place}, last safe stop {safe}", { place: whole(seen.stopAt), safe: whole(seen.lastSafe) });
  const shown = !answer ? { state: "none", head: t("Type cable in and reading, then ENTER."), said: [] }
    : answer.kind === "reading" ? { state: answer.state, ...readingWords(answer, u.show) } : answer;
  return html`<div id="log-answer" class=${`said-${shown.state}`} role="alert" aria-live="assertive">
    <p class="head">${SIGNS[shown.state] && html`<i aria-hidden="true">${SIGNS[shown.state]}</i>`}${glued(shown.head)}</p>${shown.order && html`<p class="order">${shown.order}</p>`}
    ${shown.said.map((sentence) => html`<p>${glued(sentence)}</p>`)}${warning && html`<p class="forecast">${glued(warning)}</p>`}</div>`;
}

// What a reading says on its own, and before that the departure it made known or that is not over.
function readingWords({ state, told, pulled, load, call }, show) {
  const words = answerWords(state === "low" ? { ...told, state } : told, pulled, load, show);
  if (!call || call.kind === "low") return words;
  const { head, what, order } = callWords(call); // what else there is to it stands below the keys
  const since = call.called === pulled ? [] : [what];
  if (["halt", "departure"].includes(state)) return { head, order, said: [...since, words.order ? `${words.head}: ${words.said[0]}` : words.said[0]] };
  return state === "stop" ? { ...words, said: [...words.said, what] } : words;
}

// The readings of the plan where the cable is, or will be with what is typed.
function PlanLine() {
  const pulled = valueOf("cable") ?? placeOf(entriesOf().entries) ?? 0;
  const at = planAt(planNow(), pulled);
  const u = unit();
  if (!at) return null;
  const cell = (id, name, value) => html`<div id=${`log-${id}`}><small>${name}</small><b>${u.show(value, "force")}</b></div>`;
  return html`<div id="log-plan" role="group" aria-label=${t("Plan at {place} in", { place: u.show(pulled, "length") })}>
    <div><small>${t("At, cable in")}</small><b>${u.show(pulled, "length")}</b></div>
    ${cell("expected", t("Expected"), at.expected)}${cell("caution", t("Caution"), at.caution)}${cell("stop", t("STOP"), at.stop)}</div>`;
}

const DIGITS = ["1", "2", "3", "4", "5", "6", "7", "8", "9", "0"];

function Pad({ field }) {
  const u = unit();
  const name = { cable: t("Cable in, {unit}", { unit: u.unit("length") }), reading: t("Reading, {unit}", { unit: u.unit("force") }), brake: t("Brake of all reels, {unit}", { unit: u.unit("force") }) }[field];
  const last = pointIn(field) ? "." : "00";
  const onKey = (e) => {
    if (e.key !== "Enter") return;
    e.preventDefault();
    enter();
    if (log.field !== "brake") document.getElementById(`log-${log.field}-typed`).focus();
  };
  const key = (area, text, label, value) => html`<button type="button" class=${`k${area}`} aria-label=${label} onClick=${() => press(field, value)}>${text}</button>`;
  return html`<div class=${`pad ${log.field === field ? "active" : ""}`} id=${`pad-${field}`}>
    <label class="typed"><span>${name}</span><input type="text" inputmode="none" autocomplete="off" enterkeyhint="enter" id=${`log-${field}-typed`} value=${log.typed[field]}
      onFocus=${() => pick(field)} onInput=${(e) => type(field, e.target.value)} onKeyDown=${onKey} /></label>
    <div class="keypad" role="group" aria-label=${name}>
      ${DIGITS.map((digit) => key(digit, digit, t("{key}, {field}", { key: digit, field: name }), digit))}
      ${key("d", last, last === "." ? t("Decimal point, {field}", { field: name }) : t("{key}, {field}", { key: last, field: name }), last)}
      ${key("b", "⌫", t("Delete the last digit, {field}", { field: name }), "back")}</div></div>`;
}

function Actions() {
  const { entries } = entriesOf();
  const { gears } = direction().log;
  const gear = gearOf(entries);
  if (log.choosing) {
    return html`<div id="log-actions" role="group" aria-label=${t("Gear in use")}>
      ${gears.map(([name]) => html`<button type="button" aria-pressed=${String(name === gear)} onClick=${() => shift(name)}>${named(name)}</button>`)}
      <button type="button" onClick=${() => chooseGear(false)}>${t("Cancel")}</button></div>`;
  }
  return html`<div id="log-actions">
    <button type="button" id="log-run" onClick=${startOrStop}>${isRunning(entries) ? t("Log stop") : t("Log start")}</button>
    <button type="button" id="log-gear" disabled=${!gears.length} onClick=${() => chooseGear(true)}>${gear ? t("Gear {gear}", { gear: named(gear) }) : t("Gear")}</button>
    <button type="button" id="log-brake" aria-pressed=${String(log.field === "brake")} onClick=${askBrake}>${t("Brake")}</button>
    <button type="button" id="log-undo" onClick=${undo}>${t("Undo")}</button>
    <button type="button" id="log-enter" onClick=${enter}>${t("ENTER")}</button></div>`;
}

// What was called, and of the last what else its card says.
function Departures() {
  const [last, ...before] = departuresNow();
  if (!last) return null;
  return html`<${Card} id="log-departures" title=${t("Off plan")}>
    <p class="caution"><b>${glued(last.what)}</b></p><p><b>${glued(last.order)}</b></p>${last.also.map((line) => html`<p>${glued(line)}</p>`)}
    ${before.length > 0 && html`<ul>${before.slice(0, EARLIER).map((one) => html`<li>${glued(one.what)}</li>`)}</ul>`}<//>`;
}

// --- what comes ----------------------------------------------------------------------------------------

function Ahead() {
  const { film, step } = planNow();
  const { entries } = entriesOf();
  const u = unit();
  if (!film || !film.rows.length) return null;
  const pulled = placeOf(entries) ?? 0;
  const x = pulledOf(film).map((v) => u.inUnits(v, "length"));
  const force = (list) => list.map((v) => (v === null ? null : u.inUnits(v, "force")));
  const seen = forecastOf(planNow(), entries, direction().forecast);
  const readings = entries.filter((e) => e.kind === "reading").map((e) => [u.inUnits(e.pulled_m, "length"), u.inUnits(e.load_N, "force")]);
  return html`<${Card} id="log-ahead" title=${t("What comes")}>
    <${Forecast} seen=${seen} step=${step} />
    <${NextPlaces} film=${film} step=${step} pulled=${pulled} />
    <${Chart} id="log-chart" x=${x} from=${0} to=${x.at(-1)} y=${force(film.load)} title=${t("Expected reading ({unit})", { unit: u.unit("force") })} xTitle=${t("cable in ({unit})", { unit: u.unit("length") })}
      limits=${[{ values: force(film.stop), words: t("stop"), kind: "stop" }, { values: force(readingsAt(film, "caution")), words: t("caution"), kind: "caution" }]}
      points=${readings} area=${seen && { x: seen.pulled.map((v) => u.inUnits(v, "length")), low: force(seen.low), high: force(seen.high) }} mark=${u.inUnits(pulled, "length")} deps=${[film, readings.length, seen]} /><//>`;
}

// Where the readings lead, if nothing is done.
function Forecast({ seen, step }) {
  const u = unit();
  const at = (place) => u.show(place, "length");
  const load = (value) => u.show(nearest(value, step), "force");
  if (!direction().forecast) return html`<p class="small">${t("No forecast for this direction.")}</p>`;
  if (!seen) return html`<p class="small">${t("A forecast follows the first readings.")}</p>`;
  const end = seen.pulled.length - 1;
  return html`<div id="log-forecast">
    ${seen.stopAt !== null ? html`<p class="stop"><b>${t("Forecast: Stop is likely to be passed at {place}.", { place: at(seen.stopAt) })}</b></p>`
      : seen.stopFrom !== null ? html`<p class="caution"><b>${t("Forecast: Stop may be passed from {place} on, in 1 of 10 cases or more.", { place: at(seen.stopFrom) })}</b></p>`
      : html`<p>${t("Forecast: Stop is not likely to be passed.")}</p>`}
    ${seen.stopFrom !== null && (seen.lastSafe !== null ? html`<p class="stop">${t("Last safe place to stop before that: {place}.", { place: at(seen.lastSafe) })}</p>`
      : html`<p class="stop">${t("The plan has no safe place to stop before that. Call now.")}</p>`)}
    ${seen.stopFrom === null && seen.cautionAt !== null && html`<p class="caution">${t("Forecast: Caution is likely to be passed at {place}.", { place: at(seen.cautionAt) })}</p>`}
    <p>${glued(t("Highest reading ahead: {load} at {place}. At the end {low} to {high}.", { load: load(seen.peak), place: at(seen.peakAt), low: load(seen.low[end]), high: load(seen.high[end]) }))}</p>
    <p class="small">${t("Shaded: 9 of 10 readings lie in this band. A forecast never replaces the limiter, the operator or the word that stops the pull.")}</p></div>`;
}

function NextPlaces({ film, step, pulled }) {
  const u = unit();
  const next = film.rows.filter((row) => row.pulled > pulled + 0.05 && row.kind !== "step").slice(0, 3);
  const line = direction().log.aloud.find((one) => one.pulled > pulled + 0.05);
  return html`${line && html`<p id="log-aloud">${t("Read aloud at {length} in:", { length: u.show(line.pulled, "length") })} <b>${line[store.units]}</b></p>`}<ul id="log-next">${next.map((row) => html`<li>${glued(t("{place} at {length} in: expected {expected}.", { place: capital(named(row.place)), length: u.show(row.pulled, "length"), expected: u.show(planAt({ film, step }, row.pulled).expected, "force") }))}</li>`)}</ul>`;
}

// --- what was -----------------------------------------------------------------------------------------

function Entries() {
  const [all, showAll] = useState(false);
  const { entries, undone } = entriesOf();
  const kinds = KIND_WORDS();
  const rows = [...entries.map((e) => [e, false]), ...undone.map((e) => [e, true])].sort(([a], [b]) => b.clock_s - a.clock_s);
  const shown = all ? rows : rows.slice(0, SHOWN);
  const keep = (how) => {
    const field = document.getElementById("log-note");
    how(field.value.trim());
    field.value = "";
  };
  const u = unit();
  return html`<${Card} id="log-entries" title=${t("Entries")}>
    <div class="log-note"><input id="log-note" type="text" maxlength="300" aria-label=${t("Note")} placeholder=${t("Note")} />
      <button type="button" id="keep-note" onClick=${() => keep(write)}>${t("Keep the note")}</button>
      <button type="button" id="keep-lubricant" onClick=${() => keep(lubricate)}>${t("Lubricant put in")}</button></div>
    <table><thead><tr><th scope="col">${t("Time")}</th><th scope="col">${t("Entry")}</th><th scope="col">${t("Cable in")}</th><th scope="col">${t("Load")}</th></tr></thead>
      <tbody>${shown.map(([e, gone]) => html`<tr key=${e.id} class=${gone ? "gone" : ""}><td>${e.at.slice(11, 19)}</td>
        <th scope="row">${kinds[e.kind]}${gone && html` <small>${t("undone")}</small>`}<small>${e.note || (e.kind === "gear" ? named(e.gear) : "")}</small></th>
        <td>${u.show(e.pulled_m, "length")}</td><td>${u.show(e.load_N ?? e.brake_N, "force")}</td></tr>`)}</tbody></table>
    ${shown.length < rows.length && html`<button type="button" onClick=${() => showAll(true)}>${t("Show all {count}", { count: rows.length })}</button>`}<//>`;
}

function Files() {
  const others = otherLogs();
  const of = about();
  const fits = (other) => other.title === of.title && other.run === of.run && other.feed === of.feed && other.mark !== of.mark;
  const chosen = (e) => {
    if (e.target.files[0]) importFile(e.target.files[0]);
    e.target.value = "";
  };
  return html`<${Card} id="log-files" title=${t("Files")}>
    <p class="keys"><button type="button" id="export-json" onClick=${() => exportFile("json")}>${t("Export for route3d (JSON)")}</button>
      <button type="button" id="export-csv" onClick=${() => exportFile("csv")}>${t("Export as CSV")}</button>
      ${canShare() && html`<button type="button" id="share-log" onClick=${shareFile}>${t("Share")}</button>`}
      <button type="button" onClick=${() => document.getElementById("import-log").click()}>${t("Import a file")}</button>
      <input type="file" id="import-log" hidden accept=".json,.csv" onChange=${chosen} />
      <button type="button" id="new-log" disabled=${!entriesOf().entries.length} onClick=${beginAnew}>${t("Start a new log")}</button></p>
    ${log.imported && html`<div id="log-imported" role="status">${log.imported.said.map((sentence) => html`<p class=${log.imported.state}>${glued(sentence)}</p>`)}</div>`}
    <p class="small">${t("Plan {mark}. The log stays in this browser on this device. Nothing is sent.", { mark: of.mark })}</p>
    ${others.length > 0 && html`<h3>${t("Other logs on this device")}</h3><ul id="other-logs">${others.map((other) => html`<li>
      ${t("{title}, run {run} fed from {feed}, begun {time}. Entries: {count}.", { title: other.title, run: other.run, feed: other.feed, count: other.entries.length, time: (other.entries[0]?.at || "").slice(0, 16).replace("T", " ") })}
      <button type="button" onClick=${() => exportFile("json", other)}>${t("Export")}</button>
      ${fits(other) && html`<button type="button" class="go-on" onClick=${() => goOn(other)}>${t("Continue it with the plan of now")}</button>`}</li>`)}</ul>`}<//>`;
}
