"use strict";
// Words on the page. Text from the data only ever becomes text: no markup is made from it.

function el(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name === "class") element.className = value;
    else if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (value !== false && value !== null) element.setAttribute(name, value === true ? "" : value);
  }
  const kept = children.filter((child) => child !== null && child !== "");
  element.append(...kept.map((child) => (typeof child === "string" ? glued(child) : child)));
  return element;
}

// No figure is parted from its unit at the end of a line.
function glued(words) {
  return words.replace(/(\d) (?=[A-Za-z])/g, "$1\u00a0");
}

// Printing of SI numbers with their units, from the table in the data.
function printer(quantities, units) {
  const inUnits = (value, quantity) => value * quantities[quantity][units].per;
  const unit = (quantity) => quantities[quantity][units].unit;
  const show = (value, quantity) => {
    if (value === null || value === undefined || !Number.isFinite(value)) return "-";
    const decimals = decimalsOf(inUnits(value, quantity), quantity, quantities[quantity][units].decimals);
    const far = Math.abs(inUnits(value, quantity)) >= 1e9; // no such pull: keep it to one line
    let number = far ? inUnits(value, quantity).toExponential(2) : inUnits(value, quantity).toLocaleString("en-US", {
      minimumFractionDigits: decimals, maximumFractionDigits: decimals,
    });
    if (/^-[0.]*$/.test(number)) number = number.slice(1);
    const glue = quantity === "percent" ? "" : "\u00a0";
    return number + glue + unit(quantity);
  };
  return { inUnits, unit, show };
}

// The foreman's answer for the direction shown.
function answerInto(place, { title, run, direction, shown, words, cautions, noGauge, findOut }) {
  const { heads, rows: found } = words.findings;
  const findings = found.map((row) => Object.fromEntries(heads.map((key, i) => [key, row[i]])));
  const serious = findings.filter((f) => f.severity !== "note");
  const notes = findings.filter((f) => f.severity === "note");
  const parts = [
    el("p", { class: "small" }, `${title} · run ${run.name}`),
    el("h2", { class: direction.alarm ? "alarm-text" : "" }, words.headline),
    el("p", {}, words.sentence),
  ];
  if (run.chosen !== null && run.chosen !== shown) {
    const other = run.directions[run.chosen];
    parts.push(el("p", { class: "banner" }, `Shown is the other way. The one chosen: feed from ${other.feed}, pull at ${other.pull}.`));
  }
  if (words.warning) parts.push(el("p", { class: "banner alarm-text", id: "warning" }, words.warning));
  if (words.ruledOut) parts.push(el("p", { class: "banner alarm-text" }, words.ruledOut));
  parts.push(...remedies(words.remedies));
  const told = words.gauge ? [stopFact(words.gauge)] : [];
  parts.push(el("div", { class: "facts" }, ...[...words.facts, ...told].map(([name, value, note, over]) =>
    el("div", { class: over ? "fact over" : "fact" }, el("small", {}, name + (over ? " · OVER LIMIT" : "")),
      el("b", { class: value.length > 14 ? "long" : "" }, value), note ? el("small", {}, note) : null))));
  parts.push(el("h3", {}, serious.length ? "Stops and cautions" : "No stops, no cautions"));
  parts.push(...serious.map((f) => finding(f, findOut)));
  parts.push(el("h3", {}, "Places"), rows(words.places));
  parts.push(...checked(words.gauge));
  parts.push(el("h3", {}, "On the gauge"), ...gauge(words.gauge, noGauge), ...planned(words.gauge));
  if (words.ending) parts.push(el("p", { class: "banner alarm-text", id: "ending" }, words.ending));
  parts.push(el("h3", {}, "Keep in mind"), ...cautions.map((c) => el("p", {}, c)));
  if (notes.length) {
    parts.push(el("details", {}, el("summary", {}, `Notes (${notes.length})`), ...notes.map((f) => finding(f, findOut))));
  }
  parts.push(el("h3", {}, "About this picture"), ...words.notes.map((n) => el("p", { class: "small" }, n)));
  place.replaceChildren(...parts);
}

// What would make the run pass, by cost class; nothing where nothing stops it.
function remedies(list) {
  const small = (words) => (words ? el("p", { class: "small" }, words) : null);
  const lines = (group) => group.lines.map((line) => el("li", { value: line.number },
    el("b", { class: "number" }, String(line.number)), el("div", { class: "what" }, line.what),
    el("div", { class: "small" }, line.comes_of_it),
    line.caution ? el("div", { class: "caution-text" }, line.caution) : null,
    line.left ? el("div", { class: "alarm-text" }, line.left) : null));
  return [
    list.title ? el("h3", {}, list.title) : null, small(list.aim),
    list.why_none ? el("p", { class: "alarm-text" }, list.why_none) : null,
    ...list.groups.map((group) => el("section", { class: `remedies cost${group.rank}` },
      el("h4", {}, group.cost_class), el("ol", {}, ...lines(group)))),
    small(list.foot), list.command ? el("code", {}, list.command) : null,
  ].filter((part) => part !== null);
}

// Acceptance checks before each stage, with the set point of the limiter.
function checked(told) {
  if (!told || !told.checks.length) return [];
  return [el("h3", {}, "Acceptance checks"), ...told.checks.map((c) => el("p", {}, c))];
}

const isKnown = (told) => told.load !== "-";

function stopFact(told) {
  return isKnown(told) ? ["Lowest stop load", told.load, "the least of the table", false] : ["Stop load", "not known", told.text, false];
}

// The reading to stop at, and what to expect before.
function gauge(told, noGauge) {
  if (!told) return [el("p", {}, noGauge)];
  const load = isKnown(told) ? `${told.head} ${told.load}. ` : "Stop load not known. ";
  const parts = [el("p", { id: "stop-load" }, el("b", {}, load), told.text)];
  // The first places of the table, each of one row; the pull's own tab goes on from there.
  parts.push(...told.headline.map(([length, place, readings], i) =>
    el("p", {}, el("b", {}, `${i ? "Next" : "Now"}, ${length} in${place ? `, ${place}` : ""}: `), `${readings}.`)));
  if (told.largest) parts.push(el("p", {}, `Largest expected: ${told.largest}.`));
  if (told.rows.length) parts.push(el("div", { class: "wide-table" }, rows(told.rows, told.heads, told.places)));
  parts.push(...told.notes.map((n) => el("p", { class: "small" }, n)));
  return parts;
}

// Gears, crew time, where the machine stands with what holds it, and the weakest link.
function planned(told) {
  if (!told || !told.gears.length) return [];
  const said = (words) => words.map((w) => el("p", {}, w));
  return [
    el("h3", {}, "Gears and time"), ...said(told.gears), ...said(told.time),
    el("h3", {}, "If it stops by accident"), ...said(told.accidents),
    el("h3", {}, "Machine, and what holds it"), ...said(told.machine), ...said(told.link),
  ];
}

function finding(f, findOut) {
  const reading = f.measured ? `${f.measured} against ${f.limit}` : "";
  const go = f.station === null ? null
    : el("button", { type: "button", onclick: () => findOut(f.station), "aria-label": `Show on the route: ${f.rule}, ${f.where}` }, "Show");
  const severity = f.severity === "note" ? "" : `${f.severity.toUpperCase()}: `;
  return el("div", { class: `finding ${f.severity}` }, go,
    el("b", { class: f.severity === "stop" ? "alarm-text" : "" }, `${severity}${f.rule}`),
    el("div", {}, [f.where, reading].filter(Boolean).join(": ")), el("div", {}, f.fix),
    el("small", {}, `Source: ${f.source}`));
}

// A table; ``places`` stand small below the first cell of each row.
function rows(cells, heads = null, places = []) {
  const under = (i) => (places[i] ? el("small", { class: "place" }, places[i]) : null);
  const body = cells.map(([first, ...rest], i) =>
    el("tr", {}, el("th", { scope: "row" }, first, under(i)), ...rest.map((c) => el("td", {}, c))));
  const head = heads ? el("thead", {}, el("tr", {}, ...heads.map((h) => el("th", { scope: "col" }, h)))) : null;
  return el("table", {}, head, el("tbody", {}, ...body));
}

const KEYS = [
  ["Arrow keys", "turn the route"], ["Shift + arrows", "move it"], ["+  −", "nearer, farther"],
  ["1  2  3", "3D, plan, side view"], ["F", "fit it into the frame"],
  [",  .", "reading a step back, on"], ["Space", "play the pull"], ["Esc", "close the reading"],
];

function keysList() {
  return el("table", {}, el("tbody", {}, ...KEYS.map(([keys, what]) =>
    el("tr", {}, el("td", {}, ...keys.split("  ").flatMap((k) => [el("kbd", {}, k), " "])), el("td", {}, what)))));
}
