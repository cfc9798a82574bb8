// The frames of a pull as viewer/web/film_data.py gives them.

// The decimals of a number as route3d.units.decimals_of has them: a force of at most five digits.
export function decimalsOf(number, quantity, decimals) {
  if (quantity !== "force" || !(Math.abs(number) >= 1000)) return decimals;
  return Math.max(decimals - Math.floor(Math.log10(Math.abs(number))) + 2, 0);
}

// Cable pulled in at each frame, m.
export const pulledOf = (film) => film.station.map((s) => Math.abs(s - film.station[0]));

// What holds with a share of the cable pulled in.
export function frameAt(film, share) {
  const pulled = pulledOf(film), last = pulled.length - 1;
  const want = share * pulled[last];
  let i = 0;
  while (i < last - 1 && pulled[i + 1] <= want) i++;
  const long = pulled[i + 1] - pulled[i];
  const part = long > 0 ? Math.min(1, (want - pulled[i]) / long) : 1;
  const mix = (list) => (list[i] === null || list[i + 1] === null ? null : list[i] + part * (list[i + 1] - list[i]));
  const at = part < 1 ? i : i + 1;
  return {
    pulled: want, station: mix(film.station), load: mix(film.load), limit: mix(film.limit),
    gearLimit: mix(film.gearLimit), governs: film.governs[at], gear: film.gear[at],
    elapsed: mix(film.elapsed), headTension: mix(film.headTension), peakSidewall: mix(film.peakSidewall),
  };
}

// The row of the gauge table that holds with so much cable in.
export function rowAt(film, pulled) {
  let i = 0;
  while (i < film.rows.length - 1 && film.rows[i + 1].pulled <= pulled + 1e-4) i++;
  return i;
}

// The readings of the place now and of the next one, each of one row of the gauge table.
export function headlineAt(film, pulled) {
  const i = rowAt(film, pulled);
  return film.rows.slice(i, i + 2).map((row, k) => ({ ...row, name: k ? "Next" : "Now" }));
}

// The share pulled in after a part of the playing time: by the clock where it is known, so that a
// slow gear is seen to be slow.
export function laterShare(film, share, part) {
  const clock = film.elapsed, pulled = pulledOf(film);
  const end = clock[clock.length - 1];
  if (!end) return Math.min(1, share + part);
  const now = frameAt(film, share).elapsed + part * end;
  let i = 0;
  while (i < clock.length - 2 && clock[i + 1] <= now) i++;
  const long = clock[i + 1] - clock[i];
  const within = long > 0 ? (now - clock[i]) / long : 1;
  return Math.min(1, (pulled[i] + within * (pulled[i + 1] - pulled[i])) / pulled[pulled.length - 1]);
}

export function clockOf(seconds) {
  if (seconds === null || !Number.isFinite(seconds)) return "-";
  const whole = Math.round(seconds);
  const two = (n) => String(n).padStart(2, "0");
  const [h, m, s] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
  return h ? `${h}:${two(m)}:${two(s)}` : `${m}:${two(s)}`;
}

// How a clock reading is to be read.
export const clockUnit = (seconds) => (Math.round(seconds) >= 3600 ? "h:min:s" : "min:s");

// A reading of the gauge table at each frame, between its rows; null beyond them.
export function readingsAt(film, name) {
  return pulledOf(film).map((at) => {
    const i = film.rows.findIndex((row, k) => k + 1 < film.rows.length && row.pulled - 1e-4 <= at && at <= film.rows[k + 1].pulled + 1e-4);
    if (i < 0) return null;
    const [a, b] = [film.rows[i], film.rows[i + 1]];
    if (a[name] === null || b[name] === null) return null;
    const part = b.pulled > a.pulled ? (at - a.pulled) / (b.pulled - a.pulled) : 1;
    return a[name] + Math.min(1, Math.max(0, part)) * (b[name] - a[name]);
  });
}
