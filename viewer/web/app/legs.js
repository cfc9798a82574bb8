// The route as a list of legs: each a text, answered at once with where it leads or what is wrong.

import { run, set, store } from "./store.js";
import { Card, capital, glued, html, useLayoutEffect, useRef, useState } from "./ui.js";
import { editLegs } from "./wire.js";

const PAUSE = 250; // ms of no typing before the legs are sent
const SETTLED = 1000; // ms after which more typing in the same leg is another step to undo

export function Legs() {
  const given = run().route.legs;
  const [draft, put] = useState(null); // lines as typed, while they are not those of the server
  const [at, go] = useState(0); // the row with the focus
  const timer = useRef(0);
  const hand = useRef({ step: "", row: null, at: 0 });
  const agreed = useRef(false); // the draft says what the server does, but for empty lines
  const wanted = useRef(null); // row to focus once it is drawn
  useLayoutEffect(() => {
    if (wanted.current === null) return;
    document.getElementById(`leg-${wanted.current}`)?.focus();
    wanted.current = null;
  });
  useLayoutEffect(() => {
    if (!draft || store.working || store.legFaults) return;
    if (same(sent(draft), given.lines)) {
      if (draft.every((line) => line.trim())) put(null); // an empty line stays until it is typed in or removed
      else agreed.current = true;
    } else if (agreed.current) put(null); // changed elsewhere: undone, drawn, reset
  }, [draft, given, store.working, store.legFaults]);
  const off = Boolean(store.lost);
  const lines = draft || given.lines;
  const change = (next, focus = null, row = null) => {
    put(next);
    wanted.current = focus;
    agreed.current = false;
    const { current: last } = hand;
    const on = row !== null && row === last.row && Date.now() - last.at < SETTLED;
    hand.current = { step: on ? last.step : String(Date.now() % 1e9), row, at: Date.now() };
    clearTimeout(timer.current);
    if (same(sent(next), given.lines) && !store.working && !store.legFaults) return; // nothing to ask
    timer.current = setTimeout(() => {
      if (sent(next).length) editLegs(sent(next), hand.current.step);
    }, PAUSE);
  };
  const put1 = (i, text) => change(lines.map((line, k) => (k === i ? text : line)), null, i);
  const insert = (i) => change([...lines.slice(0, i + 1), "", ...lines.slice(i + 1)], i + 1);
  const remove = (i) => lines.length > 2 && change(lines.filter((_, k) => k !== i), Math.max(0, i - 1));
  const swap = (i, k) => {
    const next = [...lines];
    [next[i], next[k]] = [next[k], next[i]];
    change(next, k);
  };
  const onKey = (e, i) => {
    if (e.key === "Enter") insert(i);
    else if (e.key === "Backspace" && !lines[i]) remove(i);
    else if (e.key === "ArrowDown" && i + 1 < lines.length) document.getElementById(`leg-${i + 1}`).focus();
    else if (e.key === "ArrowUp" && i) document.getElementById(`leg-${i - 1}`).focus();
    else return;
    e.preventDefault();
  };
  const drop = () => {
    clearTimeout(timer.current);
    put(null);
    set({ legFaults: null });
  };
  const faults = (draft && store.legFaults) || [];
  const rows = numbered(lines);
  const told = !faults.length && same(sent(lines), given.lines); // the notes are those of these lines
  const row = Math.min(at, lines.length - 1);
  return html`<${Card} id="legs" title="Legs" stale=${store.lost}>
    <p class="small">One leg a line, in the words of the trade: <span class="example">120 ft</span>, <span class="example">right 90 at 36 in</span>, <span class="example">offset 12 in left at 30 degrees</span>, <span class="example">up 90 at 36 in</span>. Enter adds a line below.</p>
    <ol class="legs">${lines.map((line, i) => {
      const wrong = faults.filter((f) => f.leg === rows[i]);
      const note = told && given.notes[store.units][rows[i]];
      return html`<li key=${i} class=${i === row ? "at" : ""}><label class="unseen" for=${`leg-${i}`}>Leg ${i + 1}</label>
        <input id=${`leg-${i}`} type="text" maxlength="200" autocomplete="off" spellcheck="false" value=${line} disabled=${off} aria-invalid=${wrong.length ? "true" : "false"} aria-describedby=${`leg-note-${i}`}
          onFocus=${() => go(i)} onInput=${(e) => put1(i, e.target.value)} onKeyDown=${(e) => onKey(e, i)} />
        <div id=${`leg-note-${i}`} class=${wrong.length ? "stop" : "small"}>${wrong.length ? wrong.map((f) => html`<p>${glued(f.message)}.</p>${f.fix && html`<p class="fix">${glued(sentence(f.fix))}</p>`}`) : glued(note || "")}</div></li>`;
    })}</ol>
    <p class="keys"><button type="button" id="leg-insert" disabled=${off} onClick=${() => insert(row)}>Insert below</button><button type="button" id="leg-delete" disabled=${off || lines.length < 3} onClick=${() => remove(row)}>Delete</button>
      <button type="button" id="leg-up" disabled=${off || row < 2} onClick=${() => swap(row, row - 1)}>Move up</button><button type="button" id="leg-down" disabled=${off || row < 1 || row > lines.length - 2} onClick=${() => swap(row, row + 1)}>Move down</button>
      ${draft && html`<button type="button" id="leg-drop" onClick=${drop}>Drop what I typed</button>`}</p>
    <p id="legs-said" role="status" class=${faults.length ? "stop" : "small"}>${faults.length ? "Not a route yet. The last valid route is shown." : glued((given.closing || {})[store.units] || "")}</p><//>`;
}

const same = (a, b) => a.length === b.length && a.every((line, i) => line === b[i]);

const sentence = (words) => capital(words.replace(/ next can be:/, " Next can be:"));

// Empty rows are not sent; a fault names a leg among those that are.
const sent = (lines) => lines.map((line) => line.trim()).filter(Boolean);
const numbered = (lines) => {
  let n = -1;
  return lines.map((line) => (line.trim() ? ++n : -1));
};
