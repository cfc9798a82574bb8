// Where a dragged point goes: onto the axis of a neighbor, to a length that was typed, else to round
// figures. Numbers only, in m; no document.

// at: where the hand is; axes: numbers of the coordinates that move; neighbors: the points before
// and after it; reach: how near (m) is near enough; length: of a leg (m), or null; round: step of
// round figures (m), 0 for none.
// Returns {at, axis: numbers of the coordinates taken from a neighbor, length: whether that was met}.
export function snapped({ at, axes, neighbors, reach, length = null, round = 0, toAxis = true }) {
  const found = [...at];
  const aligned = new Set();
  for (const k of toAxis ? axes : []) {
    const near = neighbors.map((n) => n[k]).sort((a, b) => Math.abs(a - at[k]) - Math.abs(b - at[k]))[0];
    if (near !== undefined && Math.abs(near - at[k]) <= reach) {
      found[k] = near;
      aligned.add(k);
    }
  }
  const met = length === null ? null : atLength(found, axes, aligned, neighbors, reach, length);
  if (met) return { at: met, axis: [...aligned], length: true };
  for (const k of axes) if (round && !aligned.has(k)) found[k] = Math.round(found[k] / round) * round;
  return { at: found, axis: [...aligned], length: false };
}

// The point moved to just that distance from a neighbor, along what is free; null where that is far.
function atLength(at, axes, aligned, neighbors, reach, length) {
  for (const n of neighbors) {
    const away = Math.hypot(...at.map((c, k) => c - n[k]));
    if (Math.abs(away - length) > reach) continue;
    const free = axes.filter((k) => !aligned.has(k) || Math.abs(at[k] - n[k]) > reach);
    const kept = Math.hypot(...at.map((c, k) => (free.includes(k) ? 0 : c - n[k])));
    const now = Math.hypot(...free.map((k) => at[k] - n[k]));
    if (!now || kept > length) continue;
    const times = Math.sqrt(length ** 2 - kept ** 2) / now;
    return at.map((c, k) => (free.includes(k) ? n[k] + times * (c - n[k]) : c));
  }
  return null;
}

// The least 1, 2 or 5 times a power of ten, in units of `unit` m, that is `pixels` wide or more.
export function roundStep(perPixel, unit, pixels) {
  const need = (perPixel * pixels) / unit;
  const power = 10 ** Math.floor(Math.log10(need));
  return [1, 2, 5, 10].find((m) => m * power >= need * (1 - 1e-9)) * power * unit;
}
