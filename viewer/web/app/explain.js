// What is behind a rule or a figure: formulas set as mathematics, symbols, the numbers put in.

import { set, store } from "./store.js";
import { Table, glued, html, useLayoutEffect, useRef } from "./ui.js";
import { askExplanation } from "./wire.js";

// The name of a rule, as a button that opens what is behind it; plain text where nothing can.
export function Rule({ name, rule }) {
  if (!canExplain(rule)) return name;
  return html`<button type="button" class="why" aria-haspopup="dialog" disabled=${Boolean(store.lost)} onClick=${() => askExplanation(rule)}>${name}</button>`;
}

// On paper nothing opens, and in a file that was handed over nobody answers.
export const canExplain = (rule) => Boolean(rule) && store.live && !store.printing;

export const explain = (rule) => !store.lost && askExplanation(rule);

export function Explained() {
  const place = useRef();
  const told = store.explained;
  useLayoutEffect(() => {
    if (told && !place.current.open) place.current.showModal();
    if (told) place.current.scrollTop = 0;
  }, [told]);
  const close = () => set({ explained: null });
  if (!told) return null;
  const set1 = (f) => html`<${Formula} f=${f} />`;
  return html`<dialog id="explained" ref=${place} aria-labelledby="explained-title" onClose=${close} onClick=${(e) => e.target === place.current && place.current.close()}>
    <div class="explained">
    <button type="button" class="close" aria-label="Close" onClick=${() => place.current.close()}>✕</button>
    <h2 id="explained-title">${told.title}</h2><p>${glued(told.text)}</p>
    ${told.formulas.length > 0 && html`<h3>Formula</h3>${told.formulas.map(set1)}`}
    ${told.symbols.length > 0 && html`<dl class="symbols">${told.symbols.map((s) => html`<div><dt><${Formula} f=${s} inline /></dt><dd>${s.meaning}</dd></div>`)}</dl>`}
    ${told.worked.length > 0 && html`<h3>In numbers${told.run && `, run ${told.run}`}</h3>${told.worked.map((w) => html`<p><b>${glued(w.where)}</b>${w.words && html`<br />${glued(w.words)}`}</p>${w.formulas.map(set1)}`)}`}
    ${told.findings.length > 0 && html`<h3>Findings</h3><${Table} label="Findings" heads=${["severity", "where", "measured", "limit"]} rows=${told.findings.map((f) => [f.severity, f.where, f.measured, f.limit])} />`}
    ${told.validity && html`<h3>Valid for</h3><p>${glued(told.validity)}</p>`}
    <h3>Source</h3><p>${told.source}</p>${told.section && html`<p class="small">Derivation: theory, section ${told.section}.</p>`}
    </div></dialog>`;
}

const Formula = ({ f, inline = false }) => html`<div class=${inline ? "formula inline" : "formula"} role="group" tabindex=${inline ? undefined : "0"} aria-label=${f.plain}>${mathOf(f.mathml) || f.plain}</div>`;

const PARTS = new Set(["math", "mrow", "mi", "mn", "mo", "mtext", "mfrac", "msqrt", "msub", "msup", "msubsup", "mspace", "mstyle", "mover", "munder"]);
const LOOKS = new Set(["display", "mathvariant", "stretchy", "xmlns", "form", "width", "lspace", "rspace"]);

// Words stand apart from the figures beside them; a minus is no hyphen.
function spaced(text, part, within) {
  if (part === "mo") return text === "-" ? "\u2212" : text;
  return part === "mtext" && !/^m(sub|sup)/.test(within) ? `\u00a0${text.trim()}\u00a0` : text;
}

// MathML made element by element, of the elements of formulas and no others.
function mathOf(text) {
  const read = new DOMParser().parseFromString(text || "", "application/xml").documentElement;
  const made = (node) => {
    if (node.nodeType === Node.TEXT_NODE) return spaced(node.textContent, node.parentNode.localName, node.parentNode.parentNode.localName);
    if (!PARTS.has(node.localName)) return null;
    const looks = Object.fromEntries([...node.attributes].filter((a) => LOOKS.has(a.name)).map((a) => [a.name, a.value]));
    return preact.html`<${node.localName} ...${looks}>${[...node.childNodes].map(made)}<//>`;
  };
  return read.localName === "math" ? made(read) : null;
}
