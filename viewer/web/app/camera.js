// A parallel projection: a length across the picture is to scale everywhere, as in the stills.
// A camera is {azimuth, elevation (rad), target [x, y, z], span (m per pixel)}.

export const ELEVATION = Math.PI / 6;

export function axesOf(camera) {
  const ca = Math.cos(camera.azimuth);
  const sa = Math.sin(camera.azimuth);
  const ce = Math.cos(camera.elevation);
  const se = Math.sin(camera.elevation);
  return { right: [-sa, ca, 0], up: [-se * ca, -se * sa, ce], forward: [-ce * ca, -ce * sa, -se] };
}

const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];

// A function from a point to its pixels, y down.
export function projection(camera, size) {
  const { right, up } = axesOf(camera);
  const x0 = size[0] / 2 - dot(camera.target, right) / camera.span;
  const y0 = size[1] / 2 + dot(camera.target, up) / camera.span;
  return (x, y, z) => [
    x0 + (x * right[0] + y * right[1] + z * right[2]) / camera.span,
    y0 - (x * up[0] + y * up[1] + z * up[2]) / camera.span,
  ];
}

// Turns a camera so that all points (flat x, y, z) fill the room {left, top, right, bottom}.
export function fitCamera(camera, points, size, room) {
  const axes = axesOf(camera);
  const low = [Infinity, Infinity, Infinity];
  const high = [-Infinity, -Infinity, -Infinity];
  for (let i = 0; i < points.length; i += 3) {
    const p = [points[i], points[i + 1], points[i + 2]];
    [axes.right, axes.up, axes.forward].forEach((axis, k) => {
      const v = dot(p, axis);
      if (v < low[k]) low[k] = v;
      if (v > high[k]) high[k] = v;
    });
  }
  const wide = Math.max(40, room.right - room.left);
  const tall = Math.max(40, room.bottom - room.top);
  camera.span = Math.max((high[0] - low[0]) / wide, (high[1] - low[1]) / tall, 1e-6);
  const dx = ((room.left + room.right - size[0]) / 2) * camera.span;
  const dy = ((room.top + room.bottom - size[1]) / 2) * camera.span;
  const along = [(low[0] + high[0]) / 2 - dx, (low[1] + high[1]) / 2 + dy, (low[2] + high[2]) / 2];
  const { right, up, forward } = axes;
  camera.target = [0, 1, 2].map((k) => along[0] * right[k] + along[1] * up[k] + along[2] * forward[k]);
}

export function panCamera(camera, dx, dy) {
  const { right, up } = axesOf(camera);
  for (let k = 0; k < 3; k++) camera.target[k] += camera.span * (dy * up[k] - dx * right[k]);
}

export function orbitCamera(camera, dx, dy) {
  camera.azimuth -= dx * 0.008;
  camera.elevation = Math.min(Math.PI / 2, Math.max(-Math.PI / 2, camera.elevation + dy * 0.008));
}

// Zooms by a factor about a pixel, which stays where it is.
export function zoomCamera(camera, factor, at, size, limits) {
  const span = Math.min(limits[1], Math.max(limits[0], camera.span / factor));
  const part = 1 - span / camera.span;
  panCamera(camera, (size[0] / 2 - at[0]) * part, (size[1] / 2 - at[1]) * part);
  camera.span = span;
}

// One finger or the left button turns, two fingers pinch and move, the right button or Shift
// moves, the wheel zooms; a short touch that hardly moves is a tap.
export function bindPointers(element, look) {
  const down = new Map();
  let start = null;
  const here = (event) => {
    const box = element.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  };
  const spread = () => {
    const [a, b] = [...down.values()];
    return { size: Math.hypot(a[0] - b[0], a[1] - b[1]), at: [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2] };
  };
  element.addEventListener("pointerdown", (event) => {
    element.setPointerCapture(event.pointerId);
    down.set(event.pointerId, here(event));
    start = down.size === 1 ? { at: here(event), time: event.timeStamp, moved: false } : null;
  });
  element.addEventListener("pointermove", (event) => {
    const before = down.get(event.pointerId);
    if (!before) return;
    const now = here(event);
    if (start && Math.hypot(now[0] - start.at[0], now[1] - start.at[1]) > 8) start.moved = true;
    if (start && !start.moved) return;
    if (down.size === 2) {
      const was = spread();
      down.set(event.pointerId, now);
      const is = spread();
      look.pan(is.at[0] - was.at[0], is.at[1] - was.at[1]);
      if (was.size > 10) look.zoom(is.size / was.size, is.at);
      return;
    }
    down.set(event.pointerId, now);
    const [dx, dy] = [now[0] - before[0], now[1] - before[1]];
    if (event.shiftKey || event.buttons & 2) look.pan(dx, dy);
    else look.orbit(dx, dy);
  });
  const up = (event) => {
    down.delete(event.pointerId);
    const tap = start && !start.moved && event.type === "pointerup";
    if (tap && event.timeStamp - start.time < 600) look.tap(start.at, event.pointerType);
    start = null;
  };
  element.addEventListener("pointerup", up);
  element.addEventListener("pointercancel", up);
  element.addEventListener("contextmenu", (event) => event.preventDefault());
  element.addEventListener("wheel", (event) => {
    event.preventDefault();
    look.zoom(Math.exp(-event.deltaY * (event.deltaMode ? 0.05 : 0.0015)), here(event));
  }, { passive: false });
}
