// The page before there is a job: nine questions, and the model file they make.

import { set, store } from "./store.js";
import { glued, html, useState } from "./ui.js";
import { beginJob, connected, findStock, sendAnswers } from "./wire.js";

const WAIT = 250; // ms of no typing before the answers are sent

let timer = 0;

export function Start() {
  const { start } = store;
  if (start.role === "crew") return html`<main id="waiting" role="status"><p>No job is open yet. This page opens it as soon as there is one.</p></main>`;
  if (start.begun) return html`<main id="waiting" role="status"><p>Opening ${start.begun}…</p></main>`;
  const { answers } = start;
  const first = start.questions.findIndex((q) => (start.understood[q.key] || {}).wrong);
  return html`<main id="start"><div class="start-head"><h1>New job</h1>
    <p>Answer what you know. A field left empty takes the default shown in it; the default is marked as an example in the file, and every result then carries a banner with its name.</p>
    ${store.lost && html`<p class="stop" role="alert">Not connected. The page reconnects automatically; what you typed is kept.</p>`}</div>
    ${start.questions.map((q, i) => html`<${Asked} key=${q.key} number=${i + 1} q=${q} text=${answers[q.key] || ""} told=${start.understood[q.key]} waits=${first >= 0 && i > first && !start.understood[q.key]} found=${start.found[q.key]} />`)}
    <${Finish} ready=${first < 0} /><${Templates} />
  </main>`;
}

export function answer(key, text) {
  const { start } = store;
  const answers = { ...start.answers, [key]: text };
  if (!text) delete answers[key];
  set({ start: { ...start, answers, typed: true } });
  clearTimeout(timer);
  timer = setTimeout(() => sendAnswers(answers), WAIT);
}

function Asked({ number, q, text, told = {}, waits, found }) {
  const id = `answer-${q.key}`;
  const typed = (e) => {
    answer(q.key, e.target.value);
    if (q.kind) findStock(q.key, wordsOf(q, e.target.value));
  };
  const take = (name) => {
    answer(q.key, withName(q, text, name));
    findStock(q.key, "");
    document.getElementById(id).focus();
  };
  const typedWords = wordsOf(q, text).toLowerCase();
  const names = ((found && found.names) || []).filter((name, _, all) => all.length > 1 || name.toLowerCase() !== typedWords);
  const common = { id, value: text, placeholder: q.default, autocomplete: "off", "aria-describedby": `${id}-told`, "aria-invalid": told.wrong ? "true" : "false", onInput: typed };
  return html`<section class="card asked" id=${`ask-${q.key}`}><h2><label for=${id}><span class="faint">${number}.</span> ${q.title}</label></h2><p>${q.text}</p>
    ${q.lines ? html`<textarea ...${common} rows=${Math.max(4, (text || q.default).split("\n").length)} spellcheck="false"></textarea>` : html`<input type="text" maxlength="200" ...${common} />`}
    ${names.length > 0 && html`<div class="found" role="group" aria-label=${`Stock names for ${q.title}`}>${names.map((name) => html`<button type="button" onClick=${() => take(name)}>${name}</button>`)}
      ${found.more > 0 && html`<span class="small">and ${found.more} more: add a word</span>`}</div>`}
    <div id=${`${id}-told`} role="status">${told.wrong && names.length ? html`<p class="stop">Choose one of these, or add a word.</p>` : told.wrong ? told.wrong.split("\n").map((line) => html`<p class="stop">${glued(line)}</p>`)
      : (told.lines || []).map((line, i) => html`<p class="small">${text || i ? "" : "Default: "}${glued(line)}</p>`)}${waits && html`<p class="small">Checked once the answer above is right.</p>`}</div>
    <details><summary>What can be typed</summary><p class="small">${q.help}</p></details></section>`;
}

// The part of an answer that names what is in stock: before "with" for the machine, after it for the rope.
const SPLIT = /\s+(?:with|then|and)\s+(?=[^]*$)/i;
const wordsOf = (q, text) => text.split(SPLIT).at(-1).trim().slice(0, 200);

function withName(q, text, name) {
  const words = wordsOf(q, text);
  return text.slice(0, text.length - text.trimEnd().length ? text.trimEnd().length - words.length : text.length - words.length) + name;
}

function Finish({ ready }) {
  const [name, named] = useState("job.toml");
  const { refused } = store;
  const send = (e) => {
    e.preventDefault();
    beginJob({ name: file(name), answers: store.start.answers });
  };
  return html`<section class="card" id="finish"><h2>Model file</h2>
    <form class="inline" onSubmit=${send}><label for="file-name">File name</label><input id="file-name" value=${name} autocomplete="off" maxlength="80" onInput=${(e) => named(e.target.value)} />
      <button type="submit" id="begin" disabled=${!ready || !name.trim() || !connected()}>Write the file and open it</button></form>
    <p class="small">In ${store.start.folder}. An existing file is not overwritten.</p>
    ${refused && html`<p class="stop" role="alert">${refused.reason}</p>`}${!ready && html`<p class="stop">One answer above is not right yet.</p>`}</section>`;
}

const file = (name) => name.trim().replace(/(\.toml)?$/i, ".toml");

function Templates() {
  const { start } = store;
  const [template, choose] = useState(start.templates[0]);
  const [name, named] = useState("");
  if (!start.templates.length) return null;
  const shown = name || `${template}.toml`;
  const send = (e) => {
    e.preventDefault();
    beginJob({ name: file(shown), template, units: start.system });
  };
  return html`<section class="card" id="templates"><h2>Or begin with a template</h2><p>A short job with invented values, all marked as examples.</p>
    <form class="inline" onSubmit=${send}><label for="template">Template</label><select id="template" value=${template} onChange=${(e) => choose(e.target.value)}>${start.templates.map((t) => html`<option value=${t}>${t.replaceAll("-", " ")}</option>`)}</select>
      <label for="template-name">File name</label><input id="template-name" value=${shown} autocomplete="off" maxlength="80" onInput=${(e) => named(e.target.value)} />
      <button type="submit" id="use-template" disabled=${!connected()}>Write the file and open it</button></form></section>`;
}
