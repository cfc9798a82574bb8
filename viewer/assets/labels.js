"use strict";
// Where labels go, as viewer/labels.py does it for stills: one by one, the most needed first. A
// place is possible where the label stays in the frame and meets no other label, no obstacle and no
// leader, and its own leader crosses no label and no other leader; the cheapest possible place
// wins: near, and off the route. A label without a possible place is left out.
// While the picture moves a label keeps its offset as long as that stays possible.

const GAP = 5;
const RINGS = [14, 24, 38, 56, 80, 110, 150, 200];
const DIRECTIONS = 24;
const GRID = 14;
const GIVE_UP = 25;
const COVER_COST = 9; // for every 14 pixels of route covered
const ANCHOR_COST = 90;
const ANCHOR_REACH = 12;

const side = (v) => Math.max(-1, Math.min(1, 1.6 * v));

// items: [{x, y, w, h, last}], `last` the offset it had or null. frame, obstacles: [l, t, r, b].
// Returns for each item {box, elbow, offset} or null.
function placeLabels(items, frame, obstacles, route) {
  const taken = [];
  const leaders = [];
  let missed = 0;
  return items.map((item, index) => {
    if (missed >= GIVE_UP) return null;
    const others = items.filter((_, k) => k !== index).slice(0, 60);
    const world = { frame, obstacles, taken, leaders, route, others };
    const found = kept(item, world) || best(item, around(item), world) || best(item, over(item, frame), world);
    if (!found) {
      missed++;
      return null;
    }
    missed = 0;
    taken.push(found.box);
    leaders.push([item.x, item.y, found.elbow[0], found.elbow[1]]);
    found.offset = [found.box[0] - item.x, found.box[1] - item.y];
    return found;
  });
}

function kept(item, world) {
  if (!item.last) return null;
  const spot = candidate(item, item.x + item.last[0], item.y + item.last[1]);
  return possible(item, spot, world) ? spot : null;
}

function candidate(item, left, top) {
  const box = [left, top, left + item.w, top + item.h];
  const elbow = [Math.min(box[2], Math.max(box[0], item.x)), Math.min(box[3], Math.max(box[1], item.y))];
  return { box, elbow };
}

function around(item) {
  const spots = [];
  for (const ring of RINGS) {
    for (let k = 0; k < DIRECTIONS; k++) {
      const angle = ((k + 0.5) * 2 * Math.PI) / DIRECTIONS;
      const [c, s] = [Math.cos(angle), Math.sin(angle)];
      const left = item.x + ring * c - item.w * (0.5 - 0.5 * side(c));
      const top = item.y + ring * s - item.h * (0.5 - 0.5 * side(s));
      spots.push(candidate(item, left, top));
    }
  }
  return spots;
}

function over(item, frame) {
  const spots = [];
  for (let i = 0; i < GRID; i++) {
    for (let j = 0; j < GRID; j++) {
      const left = frame[0] + ((frame[2] - frame[0] - item.w) * i) / (GRID - 1);
      const top = frame[1] + ((frame[3] - frame[1] - item.h) * j) / (GRID - 1);
      spots.push(candidate(item, left, top));
    }
  }
  return spots;
}

function best(item, spots, world) {
  let found = null;
  let least = Infinity;
  for (const spot of spots) {
    const near = Math.hypot(spot.elbow[0] - item.x, spot.elbow[1] - item.y);
    if (near >= least || !possible(item, spot, world)) continue;
    const cost = near + costOf(item, spot, world, least - near);
    if (cost < least) [found, least] = [spot, cost];
  }
  return found;
}

function possible(item, { box, elbow }, world) {
  const { frame, taken, obstacles, leaders } = world;
  if (box[0] < frame[0] || box[1] < frame[1] || box[2] > frame[2] || box[3] > frame[3]) return false;
  const own = [item.x, item.y, elbow[0], elbow[1]];
  for (const other of taken) if (meet(box, other) || hits(own, other)) return false;
  for (const other of obstacles) if (meet(box, other)) return false;
  for (const other of leaders) if (hits(other, box) || crosses(own, other)) return false;
  return true;
}

function costOf(item, { box, elbow }, world, enough) {
  let cost = 0;
  for (const p of world.route) {
    if (covers(box, p[0], p[1], GAP)) cost += COVER_COST;
    if (cost >= enough) return cost;
  }
  for (const p of world.others) if (covers(box, p.x, p.y, ANCHOR_REACH)) cost += ANCHOR_COST;
  const own = [item.x, item.y, elbow[0], elbow[1]];
  for (const other of world.obstacles) if (hits(own, other)) cost += 2 * COVER_COST;
  return cost;
}

function meet(a, b) {
  return a[0] < b[2] + GAP && b[0] < a[2] + GAP && a[1] < b[3] + GAP && b[1] < a[3] + GAP;
}

function covers(box, x, y, reach) {
  return x >= box[0] - reach && x <= box[2] + reach && y >= box[1] - reach && y <= box[3] + reach;
}

// Whether a line piece crosses a box: the slab method.
function hits(line, box) {
  let enter = 0;
  let leave = 1;
  for (const axis of [0, 1]) {
    const way = line[axis + 2] - line[axis] || 1e-12;
    const a = (box[axis] - GAP / 2 - line[axis]) / way;
    const b = (box[axis + 2] + GAP / 2 - line[axis]) / way;
    enter = Math.max(enter, Math.min(a, b));
    leave = Math.min(leave, Math.max(a, b));
  }
  return enter < leave;
}

const area = (ax, ay, bx, by, cx, cy) => (bx - ax) * (cy - ay) - (by - ay) * (cx - ax);

function crosses(p, q) {
  const one = area(p[0], p[1], p[2], p[3], q[0], q[1]) * area(p[0], p[1], p[2], p[3], q[2], q[3]);
  const two = area(q[0], q[1], q[2], q[3], p[0], p[1]) * area(q[0], q[1], q[2], q[3], p[2], p[3]);
  return one < 0 && two < 0;
}
