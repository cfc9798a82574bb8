(() => {
"use strict";
const { columns, rows } = JSON.parse(document.getElementById("data").textContent);
const at = (id) => document.getElementById(id);
const ON_PAGE = 100, MOST_PRINTED = 5000, LONG = 60;
const GROUPS = [["All", null], ["Errors", 0], ["Do not pull", 1], ["Pull", 2]];
const LOOKS = ["error", "stop", ""];
const verdict = 1 + columns.findIndex((c) => c.title === "verdict");
const texts = columns.flatMap((c, i) => (c.number ? [] : [i + 1]));
let group = null, sorted = null, down = false, page = 0, words = [], found = [];

// The text of a row that a search looks through, made when it is first looked for.
const lower = new Array(rows.length);
const textOf = (i) => (lower[i] ??= texts.map((k) => rows[i][k] ?? "").join("\n").toLowerCase());

// "none" is the worst margin there is and "no limit" the best; an empty cell comes last.
const rank = (value) => (value === "none" ? -Infinity : value === "no limit" ? Infinity : value);

function compared(one, other) {
  const a = rank(rows[one][sorted]), b = rank(rows[other][sorted]);
  const empty = (v) => v === null || v === "";
  if (empty(a) || empty(b)) return empty(a) - empty(b) || one - other;
  const order = typeof a === "number" && typeof b === "number" ? (a > b) - (a < b)
    : String(a).localeCompare(String(b), "en", { numeric: true });
  return (down ? -order : order) || one - other;
}

function look() {
  found = [];
  for (let i = 0; i < rows.length; i++) {
    if (group !== null && rows[i][0] !== group) continue;
    if (words.every((word) => textOf(i).includes(word))) found.push(i);
  }
  if (sorted !== null) found.sort(compared);
  page = 0;
  show();
}

function made(tag, text, more = {}) {
  const node = Object.assign(document.createElement(tag), more);
  node.textContent = text;
  return node;
}

function cell(value, k) {
  const { number, decimals } = columns[k - 1];
  const shown = value === null ? "-" : typeof value === "number"
    ? value.toLocaleString("en-US", { minimumFractionDigits: decimals, maximumFractionDigits: decimals })
    : value;
  const node = made("td", "", { className: (number ? "n" : "") + (k === verdict ? " verdict-cell" : "")
    + (value === null || value === "" ? " empty" : "") });
  node.dataset.head = columns[k - 1].title;
  if (typeof value === "string" && shown.length > LONG) node.append(...folded(shown));
  else node.append(...shown.split(/(?<=[/\\_])/).flatMap((part) => [part, made("wbr", "")]));
  return node;
}

// The cells of a row; what is wrong with a file takes the place of what it has no values for.
function cells(row) {
  const made = row.slice(1).map((value, k) => cell(value, k + 1));
  if (row[0] !== 0) return made;
  let free = verdict;
  while (free < made.length && made[free].classList.contains("empty")) free++;
  made[verdict - 1].colSpan = 1 + free - verdict;
  made.splice(verdict, free - verdict);
  return made;
}

// A text of three lines, and a button for all of it.
function folded(text) {
  const whole = made("span", text, { className: "folded" });
  const more = made("button", "All of it", { type: "button", className: "more" });
  more.ariaExpanded = "false";
  more.onclick = () => {
    const open = whole.classList.toggle("open");
    more.textContent = open ? "Less" : "All of it";
    more.ariaExpanded = String(open);
  };
  return [whole, more];
}

// The button is there only where the text has more lines.
function trim() {
  const whole = [...document.querySelectorAll(".folded:not(.open)")];
  const fits = whole.map((text) => text.scrollHeight <= text.clientHeight + 1);
  whole.forEach((text, i) => { text.nextSibling.hidden = fits[i]; });
}

function filled(from, to) {
  at("rows").replaceChildren(...found.slice(from, to).map((i) => {
    const row = made("tr", "", { className: LOOKS[rows[i][0]] });
    row.append(...cells(rows[i]));
    return row;
  }));
}

function show() {
  const pages = Math.max(1, Math.ceil(found.length / ON_PAGE));
  const from = page * ON_PAGE, to = Math.min(from + ON_PAGE, found.length);
  filled(from, to);
  trim();
  const count = (n) => n.toLocaleString("en-US");
  at("shown").textContent = found.length === 0 ? "No line matches."
    : `Lines ${count(from + 1)} to ${count(to)} of ${count(found.length)}`;
  const turn = (text, target) => made("button", text, {
    type: "button", disabled: target < 0 || target >= pages || target === page,
    onclick: () => { page = target; show(); scrollTo(0, 0); },
  });
  at("pages").replaceChildren(...(pages === 1 ? [] : [turn("First", 0), turn("Previous", page - 1),
    made("span", `Page ${count(page + 1)} of ${count(pages)}`), turn("Next", page + 1),
    turn("Last", pages - 1)]));
  for (const [i, head] of [...at("heads").children].entries()) {
    const own = sorted === i + 1;
    head.ariaSort = own ? (down ? "descending" : "ascending") : "none";
    head.firstChild.textContent = columns[i].title + (own ? (down ? " ▼" : " ▲") : "");
  }
}

at("heads").append(...columns.map((column, i) => {
  const head = made("th", "", { scope: "col", className: column.number ? "n" : "" });
  head.append(made("button", column.title, { type: "button", onclick: () => {
    down = sorted === i + 1 ? !down : false;
    sorted = i + 1;
    look();
  } }));
  return head;
}));
const counts = [0, 0, 0];
for (const row of rows) counts[row[0]]++;
at("groups").append(...GROUPS.map(([name, own]) => {
  const number = own === null ? rows.length : counts[own];
  const button = made("button", `${name} (${number.toLocaleString("en-US")})`, { type: "button" });
  button.ariaPressed = String(own === group);
  button.onclick = () => {
    group = own;
    for (const other of at("groups").children) other.ariaPressed = String(other === button);
    look();
  };
  return button;
}));
at("worst").onclick = () => { sorted = null; look(); };
at("asked").onsubmit = (event) => event.preventDefault();
at("search").oninput = (event) => {
  words = event.target.value.toLowerCase().split(/\s+/).filter(Boolean);
  look();
};
addEventListener("beforeprint", () => {
  filled(0, MOST_PRINTED);
  const all = found.length.toLocaleString("en-US");
  at("shown").textContent = found.length > MOST_PRINTED
    ? `The first ${MOST_PRINTED.toLocaleString("en-US")} of ${all} lines` : `${all} lines`;
});
addEventListener("afterprint", show);
addEventListener("resize", trim);
look();
})();
