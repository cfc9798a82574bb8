// Where labels go, rule for rule as route3d/drawing/labels.py: one by one, the most needed first. Each tries
// places around its anchor and, where these cover the route, a grid over the frame; a place is
// possible where the label stays in the frame and meets no other label, no obstacle and no leader,
// and its own leader crosses no label and no other leader. The cheapest possible place wins: near,
// and off the route. A label without a possible place is dropped. Numbers only, no document.
// While the picture moves a label keeps its offset as long as that stays possible.

const GAP = 6;
const RINGS = [16, 26, 40, 60, 85, 115, 150, 190, 240, 300];
const SPOKES = 24;
const GRID = 28;
const COVER_COST = 20;
const ANCHOR_COST = 120;
const CROSS_COST = 500;
const ANCHOR_REACH = 12;
const ANCHORS = 60;
const GIVE_UP = 25;

// items: [{x, y, w, h, last, must, near, reach}]: anchor, size, and if given the offset it had,
// whether its leader may cross others, the least distance from anchor to box, the longest leader.
// frame, obstacles: [left, top, right, bottom]; route: [[x, y], ...].
// Returns {box, elbow, offset} or null for each item.
export function placeLabels(items, frame, obstacles, route) {
  const taken = [];
  const leaders = [];
  let missed = 0;
  return items.map((item, index) => {
    let found = null;
    if (missed < GIVE_UP) {
      const others = items.slice(0, ANCHORS + 1).filter((other) => other !== items[index]);
      const world = { frame, obstacles, taken, leaders, route, others };
      found = stillPossible(item, world) || cheapest(item, world, true) || (item.must && cheapest(item, world, false)) || null;
    }
    if (!found) {
      missed++;
      return null;
    }
    missed = 0;
    taken.push(found.box);
    leaders.push([item.x, item.y, ...found.elbow]);
    return { ...found, offset: [found.box[0] - item.x, found.box[1] - item.y] };
  });
}

function stillPossible(item, world) {
  if (!item.last) return null;
  const spot = boxAt(item, item.x + item.last[0], item.y + item.last[1]);
  return fits(item, spot, world) && !crossings(item, spot, world) ? spot : null;
}

function cheapest(item, world, strict) {
  let found = null;
  for (const spots of [around(item), over(item, world.frame)]) {
    let best = null;
    for (const spot of spots) {
      if (!fits(item, spot, world)) continue;
      const crossed = crossings(item, spot, world);
      if (strict && crossed) continue;
      const least = CROSS_COST * crossed + spot.away;
      if (best && rounded(least) >= best.cost) continue; // nothing makes a place cheaper
      const covers = covered(spot.box, world.route, GAP);
      const cost = rounded(least + COVER_COST * covers + costOf(item, spot, world));
      if (!best || cost < best.cost) best = { ...spot, cost, covers };
    }
    if (!best) continue;
    if (!found || best.cost < found.cost) found = best;
    if (!best.covers) break;
  }
  return found && { box: found.box, elbow: found.elbow };
}

const rounded = (cost) => Math.round(cost * 1e6) / 1e6;

function boxAt(item, left, top) {
  const box = [left, top, left + item.w, top + item.h];
  const elbow = [Math.min(box[2], Math.max(box[0], item.x)), Math.min(box[3], Math.max(box[1], item.y))];
  return { box, elbow, away: Math.hypot(elbow[0] - item.x, elbow[1] - item.y) };
}

// Boxes on rings about the anchor, each hanging off its ring on the side away from the anchor.
function around(item) {
  return RINGS.flatMap((ring) => Array.from({ length: SPOKES }, (_, k) => {
    const angle = ((k + 0.5) * 2 * Math.PI) / SPOKES;
    const [c, s] = [Math.cos(angle), Math.sin(angle)];
    const far = (item.near || 0) + ring;
    return boxAt(item, item.x + far * c - item.w * (0.5 - 0.5 * sideOf(c)), item.y + far * s - item.h * (0.5 - 0.5 * sideOf(s)));
  }));
}

const sideOf = (v) => Math.max(-1, Math.min(1, 1.6 * v));

// Boxes all over the frame, row by row.
function over(item, frame) {
  const step = (low, high, size, k) => low + (Math.max(0, high - size - low) * k) / (GRID - 1);
  return Array.from({ length: GRID * GRID }, (_, n) => boxAt(item,
    step(frame[0], frame[2], item.w, n % GRID), step(frame[1], frame[3], item.h, Math.floor(n / GRID))));
}

function fits(item, { box, away }, { frame, obstacles, taken }) {
  if (box[0] < frame[0] - 1e-9 || box[1] < frame[1] - 1e-9 || box[2] > frame[2] + 1e-9 || box[3] > frame[3] + 1e-9) return false;
  if (away > (item.reach ?? Infinity)) return false;
  return !obstacles.some((other) => meet(box, other)) && !taken.some((other) => meet(box, other));
}

// Labels and leaders that a label's own leader, and leaders that the label itself runs across.
function crossings(item, { box, elbow }, { taken, leaders }) {
  const own = [item.x, item.y, ...elbow];
  let count = 0;
  for (const other of taken) if (hits(own, other)) count++;
  for (const other of leaders) count += hits(other, box) + crosses(own, other);
  return count;
}

function costOf(item, { box, elbow }, world) {
  const own = [item.x, item.y, ...elbow];
  let cost = 0;
  for (const p of world.others) cost += ANCHOR_COST * (within(box, p.x, p.y, ANCHOR_REACH) + passes(own, p.x, p.y));
  for (const other of world.obstacles) cost += 2 * COVER_COST * hits(own, other);
  return cost;
}

function meet(a, b) {
  return a[0] < b[2] + GAP && b[0] < a[2] + GAP && a[1] < b[3] + GAP && b[1] < a[3] + GAP;
}

function within(box, x, y, reach) {
  return x >= box[0] - reach && x <= box[2] + reach && y >= box[1] - reach && y <= box[3] + reach;
}

function covered(box, points, reach) {
  let count = 0;
  for (const [x, y] of points) if (within(box, x, y, reach)) count++;
  return count;
}

// Whether a line piece comes near a point.
function passes(line, x, y) {
  const [dx, dy] = [line[2] - line[0], line[3] - line[1]];
  const share = ((x - line[0]) * dx + (y - line[1]) * dy) / Math.max(dx * dx + dy * dy, 1e-12);
  const part = Math.min(1, Math.max(0, share));
  return Math.hypot(x - line[0] - part * dx, y - line[1] - part * dy) < ANCHOR_REACH;
}

// Whether a line piece crosses a box widened by half the gap: the slab method.
function hits(line, box) {
  let [enter, leave] = [0, 1];
  for (const axis of [0, 1]) {
    const along = line[axis + 2] - line[axis];
    const way = Math.abs(along) < 1e-12 ? 1e-12 : along;
    const a = (box[axis] - GAP / 2 - line[axis]) / way;
    const b = (box[axis + 2] + GAP / 2 - line[axis]) / way;
    enter = Math.max(enter, Math.min(a, b));
    leave = Math.min(leave, Math.max(a, b));
  }
  return enter < leave;
}

const turn = (ax, ay, bx, by, cx, cy) => (bx - ax) * (cy - ay) - (by - ay) * (cx - ax);

function crosses(p, q) {
  const one = turn(p[0], p[1], p[2], p[3], q[0], q[1]) * turn(p[0], p[1], p[2], p[3], q[2], q[3]);
  const two = turn(q[0], q[1], q[2], q[3], p[0], p[1]) * turn(q[0], q[1], q[2], q[3], p[2], p[3]);
  return one < 0 && two < 0;
}
