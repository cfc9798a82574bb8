// The pull: where the head is, the cable behind it and the rope before it, what the machine feels
// then, and its load over the whole pull. The frames are read by viewer/shared/film.js.
window.route3dPull = function ({ state, put, axes, project }) {
  const PLAY = 14;  // seconds from end to end
  const OVER = 1 + 1e-9;
  const TALL = 40;  // of the load's drawing; it is 100 wide

  function printed(value, quantity) {
    const { unit, per, decimals: most } = state("unit_table")[quantity][state("units")];
    const decimals = decimalsOf(value * per, quantity, most);
    const digits = { minimumFractionDigits: decimals, maximumFractionDigits: decimals };
    return `${(value * per).toLocaleString("en-US", digits)} ${unit}`;
  }

  const name = (film) => film.limitWords;

  function trail() {
    const film = state("film"), head = Number(state("head"));
    put("loads", film ? loads(film) : null);
    put("now", film ? figures(film, frameAt(film, head / 100)) : []);
    put("trail", film && head < 100 ? drawn(film, frameAt(film, head / 100)) : null);
  }

  // The cable behind the head and the rope before it, over the picture.
  function drawn(film, now) {
    const a = axes(), line = state("line") || [];
    if (!a || line.length < 2) return null;
    const reverse = film.station[0] > film.station[film.station.length - 1];
    let k = 1;
    while (k < line.length - 1 && line[k][3] < now.station) k++;
    const [p, q] = [line[k - 1], line[k]];
    const part = q[3] > p[3] ? Math.min(1, Math.max(0, (now.station - p[3]) / (q[3] - p[3]))) : 1;
    const at = [0, 1, 2].map((c) => p[c] + part * (q[c] - p[c]));
    const spots = (list) => list.map((v) => project(a, v).map((n) => n.toFixed(1)).join(",")).join(" ");
    const [low, high] = [[...line.slice(0, k), at], [at, ...line.slice(k)]];
    const [x, y] = project(a, at);
    return { cable: spots(reverse ? high : low), rope: spots(reverse ? low : high), x, y };
  }

  function figures(film, now) {
    const over = now.load !== null && now.limit !== null && now.load > now.limit * OVER;
    const told = state("head") < 100 ? [{ name: "Cable in", value: printed(now.pulled, "length") },
      { name: "Head at station", value: printed(now.station, "length") }] : [];
    const places = headlineAt(film, now.pulled);
    for (const row of places) {
      const readings = [row.expected, row.caution, row.stop].map((v) => (v === null ? "-" : printed(v, "force"))).join(" / ");
      told.push({ name: `${row.name}, ${printed(row.pulled, "length")} in: expected / caution / stop`, value: readings });
    }
    if (places.length) {
      if (over) told.push({ name: "Machine load: OVER", value: now.governs, over });
    } else if (now.load === null) told.push({ name: "Machine load", value: "no rope named" });
    else told.push({ name: "Machine load", value: printed(now.load, "force") + (over ? ": OVER" : ""), over });
    if (places.length) { /* the readings say it */ } else if (now.limit !== null) {
      const by = film.stops ? `, by ${now.governs}` : "";
      told.push({ name: name(film), value: printed(now.limit, "force") + by, over });
    } else if (now.load !== null) {
      told.push({ name: "Limit", value: film.lacking || "no gear holds this load" });
    }
    if (film.gears.length) told.push({ name: "Gear", value: now.gear < 0 ? "none: plan ended" : film.gears[now.gear], over: now.gear < 0 });
    if (now.elapsed !== null && film.gears.length) told.push({ name: `Elapsed, ${clockUnit(now.elapsed)}`, value: clockOf(now.elapsed) });
    return told;
  }

  // The load on the machine against the share pulled, and the load to stay below where it is near.
  let known = { film: null, units: "", drawn: null };
  function loads(film) {
    const units = state("units");
    if (known.film === film && known.units === units) return known.drawn;
    known = { film, units, drawn: loadsOf(film) };
    return known.drawn;
  }

  function loadsOf(film) {
    const told = (list) => list.filter((v) => v !== null);
    if (!told(film.load).length) return null;
    const pulled = pulledOf(film), whole = pulled[pulled.length - 1] || 1;
    const peak = Math.max(...told(film.load)), limits = told(film.limit);
    const least = Math.min(...limits), near = limits.length > 0 && least <= 2.5 * peak;
    const top = 1.08 * (near ? Math.max(peak, Math.min(Math.max(...limits), 2.5 * peak)) : peak) || 1;
    const path = (list) => list.reduce((d, v, i) => (v === null ? d : d +
      `${i && list[i - 1] !== null ? "L" : "M"}${(100 * pulled[i] / whole).toFixed(2)} ${(TALL * (1 - Math.min(v, top) / top)).toFixed(2)} `), "");
    const far = limits.length && !near ? `; ${name(film).toLowerCase()} ${printed(least, "force")} is above` : "";
    return {
      load: path(film.load), limit: near ? path(film.limit) : "",
      over: path(film.load.map((v, i) => (film.over[i] ? v : null))),
      words: `Machine load as the head moves, up to ${printed(peak, "force")}${far}`,
      line: near ? `${name(film)}, from ${printed(least, "force")}` : "",
    };
  }

  function pullTo(share) {
    put("head", Math.min(100, Math.max(0, Number(share))));
    trail();
  }

  function play() {
    if (state("playing")) { put("playing", false); return; }
    if (state("head") >= 100) pullTo(0);
    put("playing", true);
    let last = performance.now();
    const step = (time) => {
      if (!state("playing")) return;
      if (state("film")) pullTo(100 * laterShare(state("film"), state("head") / 100, (time - last) / 1000 / PLAY));
      last = time;
      if (state("head") >= 100 || !state("film")) put("playing", false);
      else window.requestAnimationFrame(step);
    };
    window.requestAnimationFrame(step);
  }

  return { trail, pullTo, play };
};
