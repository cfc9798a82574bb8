// The UI library under short names, and what every part of the page is built of. Text from the
// data is only ever a child of an element: no markup is made from it.

export const html = preact.html;
export const useEffect = preact.useEffect;
export const useLayoutEffect = preact.useLayoutEffect;
export const useMemo = preact.useMemo;
export const useRef = preact.useRef;
export const useState = preact.useState;

// Keeps a figure and its unit on one line.
export const glued = (words) => String(words ?? "").replace(/(\d) (?=[A-Za-z°])/g, "$1\u00a0");

export const capital = (words) => words && words[0].toUpperCase() + words.slice(1);

// Paragraphs of a list of texts.
export const Said = ({ list, kind = "" }) => (list || []).map((words) => html`<p class=${kind}>${glued(words)}</p>`);

// A part with a heading. What it shows carries the time of a lost connection.
export function Card({ id, title, stale = "", kind = "", tone = "", children }) {
  return html`<section class=${`card ${kind}`} id=${id}>
    ${title && html`<h2 class=${tone}>${title}</h2>`}<${Stale} when=${stale} />${children}
  </section>`;
}

export const Stale = ({ when }) => when && html`<small class="stale">${when}</small>`;

// A table of texts; `under` holds small texts below the first cell of each row.
export function Table({ heads, rows, under = [], stale = "", label, tones = [] }) {
  return html`<${Stale} when=${stale} /><div class="wide-table" tabindex="0" role="group" aria-label=${label}><table>
    ${heads && html`<thead><tr>${heads.map((head) => (head ? html`<th scope="col">${capital(head)}</th>` : html`<td></td>`))}</tr></thead>`}
    <tbody>${rows.map(([first, ...rest], i) => html`<tr class=${tones[i]}>
      <th scope="row">${glued(first)}${under[i] && html`<small class="place">${glued(under[i])}</small>`}</th>
      ${rest.map((cell) => html`<td>${glued(cell)}</td>`)}</tr>`)}</tbody>
  </table></div>`;
}
