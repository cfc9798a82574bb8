// The pull as it goes on, judged and forecast from the tables of its plan: pure functions, no network.
//
// Loads in N, lengths in m, as everywhere in the data. The tables are those of response_tables
// (route3d/field/response.py), and what is worked out is what route3d/field/forecast.py works out.
// It never replaces the limiter, the operator, or the word that stops.

const SCENARIOS = 2000;
const FEW = 200; // scenarios that count, below which new ones are drawn
const ENOUGH = 400;
const ROUNDS = 5; // of drawing anew
const WIDER = 1.3; // than those that count are the new ones drawn
const TAILS = 8; // degrees of freedom of Student's distribution they are drawn from
const ONE_PLACE = 0.25; // m of cable within which readings are one
const MOST_READINGS = 600; // kept: on a long route readings are joined over more cable
const DOUBTFUL = 1e-3; // a reading to which so few of the scenarios come near
const BEYOND = 4.5; // standard deviations
const WAITING = 3; // waits for so many more like it
const WANDERS = 0.002; // over 1 m of cable the level wanders: friction is not quite the same all along
const GROWS = 0.5; // of a jump, the share that grows with the load
const GROWS_SPREAD = 0.5;
const JUMP_SPREAD = 0.2;
const KNOWN_BRAKE = 0.1; // how well a brake force that was written down is known, as a share
const PULL_POINT_NEAR = 15; // m, as planning/pull_plan/stops.py
const LIKELY = 0.5;
const POSSIBLE = 0.1;
// Covariances of noise, tare and level, in the order they are kept in.
const PAIRS = [
  [0, 0],
  [0, 1],
  [0, 2],
  [1, 1],
  [1, 2],
  [2, 2],
];
const BAND = [0.05, 0.95];

// --- judged against the gauge table -------------------------------------------------------------

// What a reading means: "on plan", "caution" or "stop", with the room left to Stop. Between two rows
// of the gauge table the lower of their stops holds.
export function judge(tables, pulled, load) {
  const { pulled: at, expected, caution, stop, gear, accurate } = tables.gauge;
  const [row, share] = stepAt(at, pulled);
  const next = Math.min(row + 1, at.length - 1);
  const stopHere = share > 0 ? Math.min(stop[row], stop[next]) : stop[row];
  const cautionHere = Math.min(mixed(caution, row, share), stopHere);
  return {
    state: load >= stopHere ? "stop" : load > cautionHere ? "caution" : "on plan",
    margin_N: stopHere - load,
    expected_N: mixed(expected, row, share),
    caution_N: cautionHere,
    stop_N: stopHere,
    gear: gear[row],
    accurate: accurate[row],
  };
}

// The step of rising places that holds a place, and the share of it that is behind.
export function stepAt(places, place) {
  let low = 0;
  let high = places.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (places[middle] <= place + 1e-6) low = middle;
    else high = middle;
  }
  if (places[high] <= place + 1e-6) return [high, 0];
  return [low, Math.max(0, (place - places[low]) / (places[high] - places[low]))];
}

const mixed = (values, row, share) => (share > 0 ? values[row] * (1 - share) + values[row + 1] * share : values[row]);

// --- the pull from its tables -------------------------------------------------------------------

// Machine load at every head, an array of scenarios for each. friction is one array of ratios to the
// plan for each conduit, rope the same for the rope, reel N.
export function responseLoads(response, friction, rope, reel) {
  const count = rope.length;
  const behind = friction.map((ratio) => lagrange(response.cableRatios, ratio, response.ratios));
  const ahead = lagrange(response.ropeRatios, rope, response.ratios);
  let tension = Float64Array.from(reel, (force) => force * response.feed);
  return response.pulled.map((_, i) => {
    const held = new Float64Array(count);
    passStep(response.tensions, response.cable[i], response.cableSlack[i], behind[response.owner[i]], tension, held);
    tension = held;
    const load = new Float64Array(count);
    passStep(response.tensions, response.rope[i], response.ropeSlack[i], ahead, tension, load);
    return load;
  });
}

// Lagrange's weights of the nodes at each ratio, all nodes of one scenario together.
function lagrange(nodes, ratios, [least, most]) {
  const weights = new Float64Array(ratios.length * nodes.length);
  for (let i = 0; i < ratios.length; i++) {
    const x = Math.min(Math.max(ratios[i], least), most);
    for (let a = 0; a < nodes.length; a++) {
      let product = 1;
      for (let b = 0; b < nodes.length; b++) if (b !== a) product *= (x - nodes[b]) / (nodes[a] - nodes[b]);
      weights[i * nodes.length + a] = product;
    }
  }
  return weights;
}

// The tension behind one step for each scenario: between the nodes of tension a straight line, and
// never less than what leaves the step when it goes slack.
function passStep(tensions, table, slack, weights, tension, found) {
  const last = tensions.length - 2;
  const perFactor = 1 / Math.log(tensions[2] / tensions[1]);
  const nodes = table.length;
  for (let i = 0; i < tension.length; i++) {
    const t = tension[i];
    let k = t < tensions[1] ? 0 : Math.min(1 + Math.floor(Math.log(t / tensions[1]) * perFactor + 1e-12), last);
    if (k < last && t >= tensions[k + 1]) k += 1;
    const share = (t - tensions[k]) / (tensions[k + 1] - tensions[k]);
    let value = 0;
    let least = 0;
    for (let q = 0; q < nodes; q++) {
      const weight = weights[i * nodes + q];
      const row = table[q];
      value += weight * (row[k] + share * (row[k + 1] - row[k]));
      least += weight * slack[q];
    }
    found[i] = Math.max(value, least, 0);
  }
}

// --- the forecast -------------------------------------------------------------------------------

// What is known of scenarios and their filters is a normal distribution: mean and cov of a scenario x,
// and of its filter filterMean + slope (x - mean) and filterCov, after a reading at a place (null: none).
// A filter holds noise N, tare N, and level, a share of the load.

// A forecast before the first reading.
export function newForecast(tables, { count = SCENARIOS, seed = 13 } = {}) {
  const { mean, cov, tare, scale } = tables.prior;
  const slope = [0, 1, 2].map(() => mean.map(() => 0));
  const filterCov = [[0, 0, 0], [0, tare ** 2, 0], [0, 0, scale ** 2]];
  const known = { mean, cov, filterMean: [0, 0, 0], slope, filterCov, at: null };
  return drawnFresh({ tables, count, seed, known, history: [], open: null, held: [], pulled: 0, draws: 0 });
}

// Scenarios from what is known as a normal distribution, no reading behind them.
function drawnFresh(forecast) {
  const { tables, known, count, seed, draws } = forecast;
  const { points } = drawn(known.mean, cholesky(known.cov), count, randomOf(seed + draws), 0);
  const base = filtersOf(known, points, new Float64Array(count));
  return { ...forecast, draws: draws + 1, scenarios: points, loads: loadsOf(tables, points), base, kept: base, now: base };
}

// The forecast with one more reading, tare off. Readings within 0.25 m of cable are one; a reading at
// less cable than the last is not used. One that no scenario explains waits for more like it.
export function addReading(forecast, pulled, load) {
  const { tables, open } = forecast;
  if (!Number.isFinite(pulled) || !Number.isFinite(load)) return forecast;
  const place = Math.min(Math.max(pulled, 0), tables.length);
  const wide = Math.max(ONE_PLACE, tables.length / MOST_READINGS);
  if (open && place < open.at - wide) return forecast;
  const same = open && place < open.at + wide;
  const bin = same ? { ...open, sum: open.sum + load, count: open.count + 1 } : { at: place, sum: load, count: 1 };
  const kept = same ? forecast.kept : forecast.now;
  const later = open !== null || forecast.history.length > 0;
  const [now, near] = reweighted(forecast, kept, bin.at, bin.sum / bin.count);
  const doubtful = !same && near < DOUBTFUL && later;
  if (doubtful && forecast.held.length < WAITING) return { ...forecast, held: [...forecast.held, [place, load]], pulled: place };
  const behind = same || !open ? forecast.history : [...forecast.history, [open.at, open.sum / open.count]];
  const history = doubtful ? [...behind, ...forecast.held] : behind;
  const next = { ...forecast, history, open: bin, held: same ? forecast.held : [], kept, now, pulled: place };
  return drawnAnew(doubtful ? reread(next, next.base) : next);
}

// The forecast after something that changes the load: "brake" with the force in N if known, "lubricant".
// What was learned stays, as a normal distribution, and what may have changed is free again.
export function addEvent(forecast, kind, force = null) {
  const { names, cov: first, reel } = forecast.tables.prior;
  if (kind !== "brake" && kind !== "lubricant") return forecast;
  const { mean, cov } = jointMoments(forecast.scenarios, forecast.now);
  const conduits = names.length - 4;
  if (kind === "brake") {
    const k = names.indexOf("reel");
    for (let j = 0; j < mean.length; j++) cov[k][j] = cov[j][k] = 0;
    const told = force !== null && force > 0;
    cov[k][k] = told ? KNOWN_BRAKE ** 2 : first[k][k] * 2;
    if (told) mean[k] = Math.log(force / reel);
  } else {
    for (let i = 0; i < conduits; i++) for (let j = 0; j < conduits; j++) cov[i][j] += first[i][j] / 2;
  }
  return drawnFresh({ ...forecast, known: conditioned(mean, cov, names.length, forecast.now.at), history: [], open: null, held: [] });
}

// Scenarios of d figures, and their filters by them.
function conditioned(mean, cov, d, at) {
  const own = cov.slice(0, d).map((row) => row.slice(0, d));
  const root = cholesky(own);
  const slope = cov.slice(d).map((row) => solved(root, row.slice(0, d)));
  const filterCov = [0, 1, 2].map((i) =>
    [0, 1, 2].map((j) => slope[i].reduce((sum, x, n) => sum - x * cov[n][d + j], cov[d + i][d + j])),
  );
  return { mean: mean.slice(0, d), cov: own, filterMean: mean.slice(d), slope, filterCov, at };
}

// The forecast after a jump was called ({kind, start, size} of detect): part of it stays the same, part
// grows with the load; from where it began on, level and tare are free for it.
export function addDeparture(forecast, { kind, start, size }) {
  if (kind !== "jump") return forecast;
  const open = forecast.open ? [[forecast.open.at, forecast.open.sum / forecast.open.count]] : [];
  const readings = [...forecast.history, ...open, ...forecast.held];
  const first = readings.filter(([at]) => at < start - 1e-9).length;
  const history = [...readings.slice(0, first), [start, size, "jump"], ...readings.slice(first)];
  return drawnAnew(reread({ ...forecast, history, open: null, held: [] }, forecast.base));
}

// What lies ahead: at each place the reading that half of the scenarios stay below (mid) and the band
// that holds nine readings of ten (low to high). stopAt is where Stop is likely to be passed, stopFrom
// where one scenario in ten has passed it, lastSafe the last safe place to stop before that.
export function ahead(forecast) {
  const { tables, scenarios, now, pulled: here } = forecast;
  const places = tables.response.pulled;
  const chosen = evenly(weightsOf(now.logs));
  const variances = scenarios.at(-2).map((x) => Math.exp(2 * x));
  const nearness = scenarios.at(-1).map((x) => Math.exp(-x));
  const rounding = tables.step ** 2 / 12;
  const random = randomOf(forecast.seed - 1);
  const count = forecast.count;
  const [noises, tares, levels, wanders] = [0, 1, 2, 3].map(() => Float64Array.from({ length: count }, random.normal));
  for (let n = 0; n < count; n++) {
    const point = pointOf(now.filters, chosen[n], [noises[n], tares[n], levels[n]]);
    [noises[n], tares[n], levels[n]] = point;
  }
  const passedAt = new Float64Array(count).fill(Infinity);
  const cautionAt = new Float64Array(count).fill(Infinity);
  const before = { at: here, over: null, above: null };
  const found = { pulled: [], low: [], mid: [], high: [] };
  const points = [here, ...places.filter((place) => place > here + 1e-6)];
  for (const place of points) {
    const [i, share] = stepAt(places, place);
    const limits = judge(tables, place, 0);
    const each = loadOf(forecast, i, share);
    const clean = new Float64Array(count);
    const read = new Float64Array(count);
    const over = new Float64Array(count);
    const above = new Float64Array(count);
    const far = now.at === null ? Infinity : Math.abs(place - now.at);
    const wander = WANDERS * Math.sqrt(Math.max(place - (now.at ?? here), 0));
    for (let n = 0; n < count; n++) {
      const k = chosen[n];
      const gone = Math.exp(-far * nearness[k]);
      clean[n] = each[k] * (1 + levels[n] + wander * wanders[n]) + tares[n];
      read[n] = clean[n] + gone * noises[n] + Math.sqrt((1 - gone * gone) * variances[k] + rounding) * random.normal();
      over[n] = clean[n] - limits.stop_N;
      above[n] = clean[n] - limits.caution_N;
      crossed(passedAt, n, over, before.over, place, before.at);
      crossed(cautionAt, n, above, before.above, place, before.at);
    }
    const [low, high] = quantilesOf(read, BAND);
    const [mid] = quantilesOf(clean, [0.5]);
    found.pulled.push(place);
    found.low.push(Math.max(low, 0));
    found.mid.push(mid);
    found.high.push(Math.max(high, 0));
    Object.assign(before, { at: place, over, above });
  }
  const peak = Math.max(...found.mid);
  const chance = passedAt.reduce((sum, at) => sum + (at < Infinity ? 1 : 0), 0) / count;
  const stopFrom = placeAt(passedAt, POSSIBLE);
  return {
    ...found,
    peak,
    peakAt: found.pulled[found.mid.indexOf(peak)],
    stopAt: placeAt(passedAt, LIKELY),
    stopFrom,
    cautionAt: placeAt(cautionAt, LIKELY),
    chance,
    lastSafe: stopFrom === null ? null : lastSafeBefore(tables, here, stopFrom),
    endAboveStop: found.mid.at(-1) >= judge(tables, tables.length, 0).stop_N,
    counting: countOf(now.logs),
  };
}

// Where a scenario first passes a limit, on straight lines between two places.
function crossed(passed, k, over, last, place, from) {
  if (passed[k] < Infinity || over[k] < 0) return;
  passed[k] = last && last[k] < 0 ? from + ((place - from) * -last[k]) / (over[k] - last[k]) : place;
}

// The place by which a share of the scenarios has passed; null where fewer ever do.
function placeAt(passed, share) {
  const at = passed.slice().sort()[Math.ceil(share * passed.length) - 1];
  return at < Infinity ? at : null;
}

// The last safe place of the plan beyond here and before a place; a safe pull point close before it
// is better. null without one.
function lastSafeBefore(tables, here, until) {
  const ends = tables.safe.filter(([from]) => from <= until).map(([, to]) => Math.min(to, until));
  const place = Math.max(here, ...ends);
  if (place <= here) return null;
  const inside = (at) => tables.safe.some(([from, to]) => at >= from - 1e-9 && at <= to + 1e-9);
  const points = tables.pullPoints.filter((at) => inside(at) && at > Math.max(here, place - PULL_POINT_NEAR) && at <= place);
  return points.length ? Math.max(...points) : place;
}

// --- scenarios and their weights ----------------------------------------------------------------

// scenarios is one array for each name of the prior: conduits, rope, reel, sigma, reach.
function loadsOf(tables, scenarios) {
  const d = scenarios.length;
  const ratio = (k) => Float64Array.from(scenarios[k], Math.exp);
  const friction = [];
  for (let k = 0; k < d - 4; k++) friction.push(ratio(k));
  const reel = ratio(d - 3).map((x) => x * tables.prior.reel);
  return responseLoads(tables.response, friction, ratio(d - 4), reel);
}

// The filters before the first reading, of scenarios with these log weights: {at, logs, filters}. Of each
// scenario the means of noise, tare and level are filters[0] to [2]; their covariances noise with noise,
// tare and level are [3] to [5], tare with tare and level [6] and [7], level with level [8].
function filtersOf({ mean, filterMean, slope, filterCov, at }, scenarios, logs) {
  const count = logs.length;
  const means = slope.map((row, i) =>
    Float64Array.from({ length: count }, (_, k) =>
      row.reduce((sum, x, j) => sum + x * (scenarios[j][k] - mean[j]), filterMean[i]),
    ),
  );
  const covs = PAIRS.map(([i, j]) => new Float64Array(count).fill(filterCov[i][j]));
  if (at === null) covs[0] = Float64Array.from(scenarios.at(-2), (x) => Math.exp(2 * x));
  return { at, logs, filters: [...means, ...covs] };
}

// The load of the tables, a share of the way on from head i, for each scenario.
function loadOf({ loads, count }, i, share) {
  const here = loads[i];
  const there = loads[Math.min(i + 1, loads.length - 1)];
  const found = new Float64Array(count);
  for (let k = 0; k < count; k++) found[k] = here[k] + share * (there[k] - here[k]);
  return found;
}

// The filters carried on to a place, before it is read.
function carriedTo({ scenarios, count }, { at, logs, filters }, place) {
  const next = filters.map((values) => values.slice());
  if (at !== null) {
    const [sigmas, reaches] = scenarios.slice(-2);
    const gone = Math.abs(place - at);
    for (let k = 0; k < count; k++) {
      const rho = Math.exp(-gone / Math.exp(reaches[k]));
      next[0][k] *= rho;
      next[3][k] = rho * rho * next[3][k] + (1 - rho * rho) * Math.exp(2 * sigmas[k]);
      next[4][k] *= rho;
      next[5][k] *= rho;
      next[8][k] += WANDERS ** 2 * gone;
    }
  }
  return { at: place, logs: logs.slice(), filters: next };
}

// The filters and weights after a reading; and what the scenarios weigh that come near to it.
function reweighted(forecast, state, place, load) {
  const { tables, count } = forecast;
  const clean = loadOf(forecast, ...stepAt(tables.response.pulled, place));
  const weights = weightsOf(state.logs);
  const rounding = tables.step ** 2 / 12;
  const next = carriedTo(forecast, state, place);
  const [e, o, g, ee, eo, eg, oo, og, gg] = next.filters;
  let near = 0;
  for (let k = 0; k < count; k++) {
    const c = clean[k];
    const [a, b, d] = [ee[k] + eo[k] + c * eg[k], eo[k] + oo[k] + c * og[k], eg[k] + og[k] + c * gg[k]];
    const total = a + b + c * d + rounding;
    const surprise = load - c - (e[k] + o[k] + c * g[k]);
    const square = (surprise * surprise) / total;
    e[k] += (a / total) * surprise;
    o[k] += (b / total) * surprise;
    g[k] += (d / total) * surprise;
    ee[k] -= (a * a) / total;
    eo[k] -= (a * b) / total;
    eg[k] -= (a * d) / total;
    oo[k] -= (b * b) / total;
    og[k] -= (b * d) / total;
    gg[k] -= (d * d) / total;
    next.logs[k] -= 0.5 * (Math.log(2 * Math.PI * total) + square);
    if (square < BEYOND ** 2) near += weights[k];
  }
  return [next, near];
}

// A jump by size N at a place: part of it in the tare, part in the level.
function jumped(forecast, state, place, size) {
  const clean = loadOf(forecast, ...stepAt(forecast.tables.response.pulled, place));
  const next = carriedTo(forecast, state, place);
  const [, o, g, , , , oo, og, gg] = next.filters;
  for (let k = 0; k < forecast.count; k++) {
    const share = size / Math.max(clean[k], Math.abs(size));
    o[k] += (1 - GROWS) * size;
    g[k] += GROWS * share;
    oo[k] += (GROWS_SPREAD ** 2 + JUMP_SPREAD ** 2) * size ** 2;
    og[k] -= GROWS_SPREAD ** 2 * size * share;
    gg[k] += GROWS_SPREAD ** 2 * share ** 2;
  }
  return next;
}

// A point [noise, tare, level] of what the filter of scenario k knows, from three normal numbers.
function pointOf(filters, k, [x, y, z]) {
  const [e, o, g, ee, eo, eg, oo, og, gg] = filters.map((values) => values[k]);
  const a = Math.sqrt(Math.max(ee, 1e-12));
  const b = eo / a;
  const c = eg / a;
  const d = Math.sqrt(Math.max(oo - b * b, 1e-12));
  const f = (og - b * c) / d;
  const last = Math.sqrt(Math.max(gg - c * c - f * f, 0));
  return [e + a * x, o + b * x + d * y, g + c * x + f * y + last * z];
}

// The scenarios with the weight of all the readings, from the state before them.
function reread(forecast, state) {
  let kept = state;
  for (const [at, load, jump] of forecast.history) {
    kept = jump ? jumped(forecast, kept, at, load) : reweighted(forecast, kept, at, load)[0];
  }
  const { open } = forecast;
  const now = open ? reweighted(forecast, kept, open.at, open.sum / open.count)[0] : kept;
  return { ...forecast, kept, now };
}

// Where too few count: new scenarios from a normal fit to those that do, wider and with longer tails; each
// weighs what it would weigh had it been there from the first reading.
function drawnAnew(forecast) {
  let made = forecast;
  if (countOf(made.now.logs) >= FEW) return made;
  const { known } = forecast;
  const from = cholesky(known.cov);
  for (let round = 0; round < ROUNDS; round++) {
    const { mean, cov } = momentsOf(made.scenarios, weightsOf(tempered(made.now.logs)));
    const narrow = cov.map((row, i) => row.map((x, j) => WIDER * x + (i === j ? 1e-6 * known.cov[i][i] : 0)));
    const random = randomOf(made.seed + made.draws);
    const { points, logs } = drawn(mean, cholesky(narrow), made.count, random, TAILS);
    const loads = loadsOf(made.tables, points);
    const before = densityOf(points, known.mean, from);
    const base = filtersOf(known, points, before.map((x, k) => x - logs[k]));
    made = reread({ ...made, scenarios: points, loads, base, draws: made.draws + 1 }, base);
    if (countOf(made.now.logs) >= ENOUGH) break;
  }
  return made;
}

function weightsOf(logs) {
  const most = logs.reduce((a, b) => Math.max(a, b), -Infinity);
  const weights = Float64Array.from(logs, (x) => Math.exp(x - most));
  const sum = weights.reduce((a, b) => a + b, 0);
  return weights.map((x) => x / sum);
}

// How many scenarios of even weight would say as much.
const countOf = (logs) => 1 / weightsOf(logs).reduce((sum, x) => sum + x * x, 0);

// Log weights held back so far that enough scenarios count.
function tempered(logs) {
  if (countOf(logs) >= FEW) return logs;
  let low = 0;
  let high = 1;
  for (let i = 0; i < 30; i++) {
    const middle = (low + high) / 2;
    if (countOf(logs.map((x) => x * middle)) < FEW) high = middle;
    else low = middle;
  }
  return logs.map((x) => x * low);
}

function momentsOf(scenarios, weights) {
  const mean = scenarios.map((values) => values.reduce((sum, x, k) => sum + weights[k] * x, 0));
  const cov = scenarios.map((a, i) =>
    scenarios.map((b, j) => {
      let sum = 0;
      for (let k = 0; k < weights.length; k++) sum += weights[k] * (a[k] - mean[i]) * (b[k] - mean[j]);
      return sum;
    }),
  );
  return { mean, cov };
}

// Of scenarios and their filters together.
function jointMoments(scenarios, { logs, filters }) {
  const d = scenarios.length;
  const weights = weightsOf(logs);
  const { mean, cov } = momentsOf([...scenarios, ...filters.slice(0, 3)], weights);
  PAIRS.forEach(([i, j], n) => {
    const inside = filters[3 + n].reduce((sum, x, k) => sum + weights[k] * x, 0);
    cov[d + i][d + j] += inside;
    if (i !== j) cov[d + j][d + i] += inside;
  });
  return { mean, cov };
}

// x of root rootᵀ x = values.
function solved(root, values) {
  const d = values.length;
  const x = values.slice();
  for (let i = 0; i < d; i++) {
    for (let j = 0; j < i; j++) x[i] -= root[i][j] * x[j];
    x[i] /= root[i][i];
  }
  for (let i = d - 1; i >= 0; i--) {
    for (let j = i + 1; j < d; j++) x[i] -= root[j][i] * x[j];
    x[i] /= root[i][i];
  }
  return x;
}

// Points about a mean, one array for each figure, and their log density up to a constant: normal, or
// Student's with some degrees of freedom.
function drawn(mean, root, count, random, tails) {
  const d = mean.length;
  const points = mean.map(() => new Float64Array(count));
  const logs = new Float64Array(count);
  for (let k = 0; k < count; k++) {
    const each = Array.from({ length: d }, random.normal);
    const square = each.reduce((sum, x) => sum + x * x, 0);
    let wide = 1;
    if (tails) {
      let sum = 0; // chi square of an even number of degrees is a sum of exponentials
      for (let j = 0; j < tails / 2; j++) sum -= 2 * Math.log(random.uniform());
      wide = Math.sqrt(tails / sum);
      logs[k] = (-(tails + d) / 2) * Math.log(1 + (square * wide * wide) / tails);
    } else logs[k] = -square / 2;
    for (let i = 0; i < d; i++) {
      let x = mean[i];
      for (let j = 0; j <= i; j++) x += root[i][j] * each[j] * wide;
      points[i][k] = x;
    }
  }
  return { points, logs };
}

// Log density of points of a normal distribution, up to a constant.
function densityOf(points, mean, root) {
  const d = mean.length;
  return Float64Array.from({ length: points[0].length }, (_, k) => {
    const each = new Float64Array(d);
    let square = 0;
    for (let i = 0; i < d; i++) {
      let x = points[i][k] - mean[i];
      for (let j = 0; j < i; j++) x -= root[i][j] * each[j];
      each[i] = x / root[i][i];
      square += each[i] * each[i];
    }
    return -square / 2;
  });
}

// The lower triangle whose product with its transpose is a matrix.
function cholesky(matrix) {
  const d = matrix.length;
  const root = matrix.map(() => new Float64Array(d));
  for (let i = 0; i < d; i++) {
    for (let j = 0; j <= i; j++) {
      let x = matrix[i][j];
      for (let k = 0; k < j; k++) x -= root[i][k] * root[j][k];
      root[i][j] = i === j ? Math.sqrt(Math.max(x, 1e-14 * Math.max(matrix[i][i], 1e-12))) : x / root[j][j];
    }
  }
  return root;
}

// As many scenarios as there are, all of even weight: those of more weight several times.
function evenly(weights) {
  const chosen = new Int32Array(weights.length);
  let k = 0;
  let sum = weights[0];
  for (let i = 0; i < chosen.length; i++) {
    while (sum < (i + 0.5) / chosen.length && k < weights.length - 1) sum += weights[++k];
    chosen[i] = k;
  }
  return chosen;
}

const quantilesOf = (values, shares) => {
  const rising = values.slice().sort();
  return shares.map((share) => rising[Math.min(Math.floor(share * rising.length), rising.length - 1)]);
};

// Random numbers that are the same for the same seed (mulberry32, Box and Muller).
function randomOf(seed) {
  let state = (seed * 2654435761) >>> 0;
  let spare = null;
  const uniform = () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let x = Math.imul(state ^ (state >>> 15), 1 | state);
    x = (x + Math.imul(x ^ (x >>> 7), 61 | x)) ^ x;
    return (((x ^ (x >>> 14)) >>> 0) + 0.5) / 4294967296;
  };
  const normal = () => {
    if (spare !== null) {
      const x = spare;
      spare = null;
      return x;
    }
    const r = Math.sqrt(-2 * Math.log(uniform()));
    const angle = 2 * Math.PI * uniform();
    spare = r * Math.sin(angle);
    return r * Math.cos(angle);
  };
  return { uniform, normal };
}
