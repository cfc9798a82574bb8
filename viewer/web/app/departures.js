// Departures from the plan, called while they happen: the rule of route3d/field/departures.py, whose
// docstrings say why; the figures of the rule travel in the tables. Pure functions.

import { stepAt } from "./forecast.js";

// What is known before the first reading.
export function newDetector(tables) {
  const { spread, noise, rule } = tables.detector;
  const [sigma, , step] = noise;
  const q = spread.length + 3;
  const cov = Array.from({ length: q }, (_, i) =>
    Float64Array.from({ length: q }, (_, j) => (i > 2 && j > 2 ? spread[i - 3][j - 3] : 0)),
  );
  cov[0][0] = sigma ** 2;
  cov[1][1] = (rule.OFFSET * step) ** 2;
  cov[2][2] = rule.FOOTAGE ** 2;
  const known = { tables, mean: new Float64Array(q), cov, onsets: [], at: null, scale: 1, recent: [] };
  return { ...known, low: 0, excess: 0, over: 0, jumped: 0, jumps: [], gross: null, open: [] };
}

// The detector with one more reading, tare off, and what that calls: {detector, calls}. A call is
// {kind, start, end, size, called, evidence}, N and m; kind is "jump", "slow climb", "offset", "drop" or
// "pulsing".
export function detect(detector, pulled, load) {
  const { noise, rule } = detector.tables.detector;
  const gone = detector.at === null ? 0 : Math.abs(pulled - detector.at);
  const state = carriedOn(detector, pulled, gone);
  const told = answerAt(state, pulled + state.mean[2]);
  const expected = told.load + state.mean[0] + state.mean[1];
  // nothing beside the plan too: where a snag lets go, the load falls to what it should be
  const least = Math.min(expected, plannedAt(state, pulled));
  if (least >= 2 * rule.LEAST_STEPS * noise[2] && load <= rule.NOTHING * least) {
    state.low += 1;
    const evidence = (0.5 * (expected - load) ** 2) / (noise[0] ** 2 + noise[2] ** 2 / 12);
    const drop = { kind: "drop", start: pulled, end: pulled, size: load - expected, called: pulled, evidence };
    return { detector: state, calls: state.low === 2 ? [drop] : [] };
  }
  state.low = 0;
  const h = [1, 1, told.rate, ...told.slopes];
  const across = state.cov.map((row) => row.reduce((sum, x, j) => sum + x * h[j], 0));
  const total = across.reduce((sum, x, i) => sum + x * h[i], 0) + noise[2] ** 2 / 12;
  const surprise = load - expected;
  const away = load - plannedAt(state, pulled);
  const ratio = state.gross === null ? 0 : surprise / state.gross[1];
  const alike = ratio > 0.5 && ratio < 2;
  if (alike || Math.abs(surprise) > rule.GROSS * Math.sqrt(total)) {
    return { detector: state, calls: grossIn(state, pulled, surprise, total, away, alike) };
  }
  state.gross = null;
  takeIn(state, pulled, h, across, surprise, total);
  const jumps = jumpIn(state, pulled, expected, away);
  return { detector: state, calls: [...jumps, ...pulsingIn(state, pulled), ...climbIn(state, pulled, load, gone)] };
}

// After an event that may change the load ("brake", "lubricant", "start", "gear"): its effect is no
// departure.
export function loosened(detector, kind) {
  const { spread, noise, reel, rule } = detector.tables.detector;
  const cov = detector.cov.map((row) => row.slice());
  cov[1][1] += (rule.OFFSET * noise[2]) ** 2;
  if (kind === "brake") cov[3 + reel][3 + reel] += rule.REEL ** 2;
  if (kind === "lubricant") spread.forEach((row, i) => row.forEach((x, j) => (cov[3 + i][3 + j] += x / 4)));
  const anew = kind === "brake" ? { excess: 0, over: 0 } : {};
  return { ...detector, ...anew, cov, onsets: [] };
}

// What the plan reads at a place.
function plannedAt({ tables }, place) {
  const [i, share] = segmentAt(tables, place);
  const { plan } = tables.detector;
  return plan[i] + share * (plan[i + 1] - plan[i]);
}

function segmentAt(tables, place) {
  const places = tables.response.pulled;
  const [i, share] = stepAt(places, Math.min(Math.max(place, places[0]), places.at(-1)));
  return i >= places.length - 1 ? [places.length - 2, 1] : [i, share];
}

// Load, its slopes by each figure, and by the place, for the ratios of the state.
function answerAt({ tables, mean }, place) {
  const { plan, first, second, floor, rule } = tables.detector;
  const [i, share] = segmentAt(tables, place);
  const gap = tables.response.pulled[i + 1] - tables.response.pulled[i];
  const [least, most] = rule.BOUNDS;
  const change = Array.from(mean.slice(3), (x) => Math.min(Math.max(x, least - 1), most - 1));
  const raised = [i, i + 1].map((k) => {
    const power = change.reduce((sum, x, p) => sum + x * (first[p][k] + x * second[p][k]), 0);
    return (plan[k] + floor) * Math.exp(power);
  });
  const slopes = change.map((x, p) => {
    const [a, b] = [0, 1].map((k) => raised[k] * (first[p][i + k] + 2 * x * second[p][i + k]));
    return a + share * (b - a);
  });
  const load = raised[0] + share * (raised[1] - raised[0]) - floor;
  return { load, slopes, rate: (raised[1] - raised[0]) / gap };
}

function carriedOn(detector, pulled, gone) {
  const { noise, rule } = detector.tables.detector;
  const rho = Math.exp(-gone / noise[1]);
  const mean = detector.mean.slice();
  const cov = detector.cov.map((row) => row.slice());
  mean[0] *= rho;
  cov[0] = cov[0].map((x) => x * rho);
  for (const row of cov) row[0] *= rho;
  cov[0][0] += (1 - rho * rho) * noise[0] ** 2;
  for (let i = 2; i < mean.length; i++) cov[i][i] += (i === 2 ? rule.WANDER_FOOTAGE : rule.WANDER) ** 2 * gone;
  const late = detector.onsets.slice(-rule.ONSETS).filter(({ place }) => place >= pulled - rule.LOOK_BACK);
  const onsets = late.map(({ added, ...rest }) => ({ ...rest, added: added.map((each) => each.map((x, i) => (i ? x : x * rho))) }));
  return { ...detector, mean, cov, onsets, at: pulled };
}

// A surprise far beyond all noise: the second one alike is a jump, the first one waits.
function grossIn(state, pulled, surprise, total, away, alike) {
  const before = state.gross;
  state.recent = [...state.recent, [pulled, surprise / Math.sqrt(total), surprise]].slice(-state.tables.detector.rule.SWINGS);
  state.gross = [pulled, surprise];
  if (!alike) return pulsingIn(state, pulled);
  const size = (surprise + before[1]) / 2;
  state.mean[1] += size;
  state.cov[1][1] += total;
  state.gross = null;
  const evidence = (0.5 * size ** 2) / total;
  return calledIn(state, { kind: "jump", start: before[0], end: pulled, size, called: pulled, evidence }, away);
}

// Take a surprise in, and what it says of a jump, or of one wild reading, at each onset.
function takeIn(state, pulled, h, across, surprise, total) {
  const { rule } = state.tables.detector;
  const gain = across.map((x) => x / total);
  const none = () => new Float64Array(h.length);
  const onsets = [...state.onsets, { place: pulled, added: [none(), none()], top: [0, 0], weight: [0, 0] }];
  state.onsets = onsets.map(({ place, added, top, weight }, k) => {
    const share = [0, 1].map((n) => {
      if (k === onsets.length - 1) return 1;
      return (n ? 0 : 1) - added[n].reduce((sum, x, i) => sum + x * h[i], 0);
    });
    return {
      place,
      added: added.map((each, n) => each.map((x, i) => x + share[n] * gain[i])),
      top: top.map((x, n) => x + (share[n] * surprise) / total),
      weight: weight.map((x, n) => x + share[n] ** 2 / total),
    };
  });
  const each = surprise / Math.sqrt(total);
  state.mean = state.mean.map((x, i) => x + gain[i] * surprise);
  state.cov = state.cov.map((row, i) => row.map((x, j) => x - gain[i] * gain[j] * total));
  state.scale += (Math.min(each ** 2, rule.WILD) / rule.CAPPED - state.scale) / rule.SWINGS;
  state.recent = [...state.recent, [pulled, each, surprise]].slice(-rule.SWINGS);
}

// The likeliest jump of late if large and sure enough; from then on it is an offset.
function jumpIn(state, pulled, expected, away) {
  const { noise, rule } = state.tables.detector;
  const scale = Math.max(state.scale, 1);
  const least = Math.max(rule.LEAST_STEPS * noise[2], rule.LEAST_SHARE * expected);
  let best = null;
  for (const onset of state.onsets) {
    const [evidence, wild] = [0, 1].map((n) => (0.5 * onset.top[n] ** 2) / onset.weight[n] / scale);
    const size = onset.top[0] / onset.weight[0];
    const found = evidence - wild > rule.BEYOND_ONE && evidence > rule.EVIDENCE && Math.abs(size) >= least;
    if (found && (!best || evidence > best.evidence)) best = { evidence, size, onset };
  }
  if (!best) return [];
  const { size, onset, evidence } = best;
  const way = onset.added[0].map((x, i) => (i === 1 ? 1 - x : -x));
  state.mean = state.mean.map((x, i) => x + size * way[i]);
  state.cov = state.cov.map((row, i) => row.map((x, j) => x + (way[i] * way[j]) / onset.weight[0]));
  return calledIn(state, { kind: "jump", start: onset.place, end: pulled, size, called: pulled, evidence }, away);
}

// A jump that is taken in as an offset; called, unless it is one of many to and fro.
function calledIn(state, jump, away) {
  const { rule } = state.tables.detector;
  const at = jump.called;
  const swing = state.recent.length ? spanOf(state.recent.map((x) => x[2])) : 0;
  const near = state.jumps.filter(([place]) => at - place <= rule.JUMPS_WITHIN);
  state.onsets = [];
  state.jumped += jump.size;
  [state.excess, state.over] = [0, 0];
  state.jumps = [...near, [at, jump.size, away]].slice(-rule.JUMPS);
  if (state.open.includes("pulsing")) return Math.abs(jump.size) > rule.OVER_SWING * swing ? [jump] : [];
  const moved = Math.abs(jump.size) + near.slice(1).reduce((sum, [, size]) => sum + Math.abs(size), 0);
  if (near.length < rule.JUMPS || Math.abs(away - near[0][2]) > 0.5 * moved) {
    state.recent = [];
    return [jump];
  }
  state.open = [...state.open, "pulsing"];
  return [{ kind: "pulsing", start: near[0][0], end: at, size: swing, called: at, evidence: jump.evidence }];
}

const spanOf = (values) => Math.max(...values) - Math.min(...values);

// Surprises that are large and turn from up to down and back, again and again.
function pulsingIn(state, pulled) {
  const { noise, rule } = state.tables.detector;
  if (state.recent.length < rule.SWINGS) return [];
  const swings = state.recent.map((x) => x[2]);
  const strength = state.recent.reduce((sum, [, each]) => sum + Math.min(each ** 2, rule.SWING_MOST), 0) / rule.SWINGS;
  const ways = swings.slice(1).map((x, i) => Math.sign(x - swings[i]));
  const turns = ways.slice(1).filter((x, i) => x !== ways[i]).length;
  if (state.open.includes("pulsing")) {
    if (strength < 0.5 * rule.SWING_EVIDENCE) state.open = state.open.filter((kind) => kind !== "pulsing");
    return [];
  }
  const size = spanOf(swings);
  if (strength < rule.SWING_EVIDENCE || turns < rule.TURNS || size < rule.SWING_STEPS * noise[2]) return [];
  state.open = [...state.open, "pulsing"];
  const evidence = 0.5 * rule.SWINGS * (strength - 1 - Math.log(strength));
  return [{ kind: "pulsing", start: state.recent[0][0], end: pulled, size, called: pulled, evidence }];
}

// A mean difference from the plan, and not by jumps alone: the same, or growing.
function climbIn(state, pulled, load, gone) {
  const { noise, rule } = state.tables.detector;
  const plan = plannedAt(state, pulled);
  const kept = Math.exp(-gone / rule.CLIMB_OVER);
  state.excess = kept * state.excess + (1 - kept) * (load - plan);
  state.over = kept * state.over + 1 - kept;
  const least = Math.max(rule.CLIMB_STEPS * noise[2], rule.CLIMB_SHARE * plan);
  const rest = state.excess - state.over * state.jumped;
  const kinds = ["offset", "slow climb"];
  if (state.open.some((kind) => kinds.includes(kind))) {
    const closed = state.over > 0.5 && Math.abs(rest) < 0.5 * state.over * least;
    if (closed) state.open = state.open.filter((kind) => !kinds.includes(kind));
    return [];
  }
  if (Math.min(Math.abs(rest), Math.abs(state.excess)) < least || rest * state.excess < 0) return [];
  const kind = (state.mean[1] - state.jumped) / rest > 0.5 ? "offset" : "slow climb";
  state.open = [...state.open, kind];
  const evidence = (0.5 * rest ** 2) / ((noise[0] ** 2 * noise[1]) / rule.CLIMB_OVER + noise[2] ** 2 / 12);
  const size = state.excess / state.over;
  return [{ kind, start: pulled - rule.CLIMB_OVER, end: pulled, size, called: pulled, evidence }];
}
