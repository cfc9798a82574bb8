// What vtk.js has no widget for: labels over the 3D view, a camera that starts at an angle, and
// which bend lies under a tap. Everything else on the page is trame's and Vuetify's own.
(function () {
  const VIEW = "view3d";
  const DIRECTIONS = {
    // camera direction (from the route towards the eye) and up
    iso: { from: [-0.62, -0.62, 0.48], up: [0, 0, 1] },
    plan: { from: [0, 0, 1], up: [0, 1, 0] },
    south: { from: [0, -1, 0], up: [0, 0, 1] },
    east: { from: [1, 0, 0], up: [0, 0, 1] },
  };
  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  const less = (a, b) => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
  const cross = (a, b) => [
    a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0],
  ];
  const unit = (a) => { const n = Math.hypot(...a) || 1; return a.map((v) => v / n); };

  function view() { return window.trame && window.trame.refs[VIEW]; }
  function frame() { return document.getElementById(VIEW); }
  function state(key) { return window.trame.state.get(key); }
  function put(key, value) { window.trame.state.set(key, value); }

  // Screen axes of the camera, and pixels per metre.
  function axes() {
    const camera = view() && view().getCamera();
    const box = frame();
    if (!camera || !box || !box.clientHeight) return null;
    const forward = unit(less(camera.focalPoint, camera.position));
    const right = unit(cross(forward, camera.viewUp));
    const up = cross(right, forward);
    return { camera, right, up, width: box.clientWidth, height: box.clientHeight,
             scale: box.clientHeight / 2 / camera.parallelScale };
  }

  function project(a, point) {
    const d = less(point, a.camera.focalPoint);
    return [a.width / 2 + a.scale * dot(d, a.right), a.height / 2 - a.scale * dot(d, a.up)];
  }

  function aim(name) {
    const bounds = state("box");
    if (!view() || !bounds || !frame() || !frame().clientHeight) return;
    const { from, up } = DIRECTIONS[name] || DIRECTIONS.iso;
    const middle = [0, 2, 4].map((k) => (bounds[k] + bounds[k + 1]) / 2);
    const forward = unit(from.map((v) => -v));
    const right = unit(cross(forward, up));
    const top = cross(right, forward);
    // The route itself, not the corners of its box: a flat route fills the frame too.
    const route = ((state("probes") || {}).SI || []).map((p) => p.xyz);
    const solid = state("corners") || [];
    const span = (axis) => [...route, ...solid].reduce((s, p) => {
      const d = dot(less(p, middle), axis);
      return [Math.min(s[0], d), Math.max(s[1], d)];
    }, [Infinity, -Infinity]);
    const x = span(right), y = span(top);
    for (let k = 0; k < 3; k++) middle[k] += (x[0] + x[1]) / 2 * right[k] + (y[0] + y[1]) / 2 * top[k];
    const wide = (x[1] - x[0]) / 2, high = (y[1] - y[0]) / 2;
    const aspect = frame().clientWidth / frame().clientHeight;
    const far = 4 * Math.max(wide, high, 1);
    view().setCamera({
      position: middle.map((v, k) => v - far * forward[k]), focalPoint: middle, viewUp: top,
      parallelProjection: true, parallelScale: Math.max(1.3 * high, 1.2 * wide / aspect, 0.5),
      centerOfRotation: middle,
    });
    tags();
  }

  // Labels in their order of importance; what would cover another or leave the frame is left out.
  function tags() {
    const a = axes();
    const all = state("labels");
    if (!a || !all) return;
    const labels = all[state("units")] || [];
    const chosen = state("bend");
    const ordered = [...labels].sort((p, q) => (q.bend === chosen && chosen) - (p.bend === chosen && chosen));
    const taken = [], found = [];
    const line = routeOnScreen(a);
    for (const label of ordered) {
      const narrow = a.width < 520;
      const lines = narrow ? label.lines.slice(0, 2) : label.lines;
      const [x, y] = project(a, label.xyz);
      if (x < 0 || y < 0 || x > a.width || y > a.height) continue;
      const w = 20 + 6.4 * Math.max(...lines.map((l) => l.length)), h = 12 + 17 * lines.length;
      const must = label.alarm || label.bend === chosen || /feed|machine|worst/.test(label.kind);
      const spot = free(taken, line, x, y, w, h, a, must);
      if (!spot) continue;
      taken.push(spot);
      found.push({ lines, kind: label.kind, alarm: label.alarm, bend: label.bend,
                   picked: label.bend > 0 && label.bend === chosen,
                   x: spot[0], y: spot[1], w, h, px: x, py: y,
                   ex: Math.min(Math.max(x, spot[0]), spot[0] + w),
                   ey: Math.min(Math.max(y, spot[1]), spot[1] + h) });
    }
    put("tags", found);
  }

  function routeOnScreen(a) {
    const dots = [];
    const points = ((state("probes") || {}).SI || []).map((p) => project(a, p.xyz));
    for (let i = 1; i < points.length; i++) {
      const [p, q] = [points[i - 1], points[i]];
      const n = Math.min(60, Math.ceil(Math.hypot(q[0] - p[0], q[1] - p[1]) / 10));
      for (let k = 0; k <= n; k++) dots.push([p[0] + (q[0] - p[0]) * k / (n || 1), p[1] + (q[1] - p[1]) * k / (n || 1)]);
    }
    return dots;
  }

  // The nearest place about a point that covers no other label and as little of the route as may be.
  function free(taken, line, x, y, w, h, a, must) {
    let best = null;
    for (const g of a.width < 520 ? [14, 30, 50] : [16, 34, 60, 95]) {
      const spots = [[x + g, y - h - g], [x - w - g, y - h - g], [x + g, y + g], [x - w - g, y + g],
                     [x - w / 2, y - h - 1.4 * g], [x - w / 2, y + 1.4 * g],
                     [x + 1.4 * g, y - h / 2], [x - w - 1.4 * g, y - h / 2]];
      for (const [left, top] of spots) {
        if (left < 4 || top < 4 || left + w > a.width - 4 || top + h > a.height - 4) continue;
        if (taken.some((t) => left < t[0] + t[2] + 4 && t[0] < left + w + 4 &&
                              top < t[1] + t[3] + 4 && t[1] < top + h + 4)) continue;
        const hidden = line.reduce((n, p) => n + (p[0] > left - 3 && p[0] < left + w + 3 &&
                                                  p[1] > top - 3 && p[1] < top + h + 3), 0);
        if (hidden > 6 && !must) continue;
        const cost = 3 * hidden + g / 10;
        if (!best || cost < best.cost) best = { cost, spot: [left, top, w, h] };
      }
      if (best && best.cost < 10) break;
    }
    return best && best.spot;
  }

  // A tap on the picture: the words for the nearest place, and the bend if it lies in one.
  function pick(event) {
    const a = axes();
    if (!a || !event || !event.worldPosition) return;
    const at = project(a, event.worldPosition);
    const away = (p) => { const q = project(a, p); return Math.hypot(q[0] - at[0], q[1] - at[1]); };
    const nearest = (items, where) => items.reduce(
      (best, item, k) => { const d = away(where(item)); return d < best.d ? { d, k } : best; },
      { d: Infinity, k: -1 });
    const probes = (state("probes") || {})[state("units")] || [];
    const place = nearest(probes, (p) => p.xyz);
    put("probe", place.d < 40 ? probes[place.k].text : "");
    const bend = nearest(state("places") || [], (p) => p);
    if (bend.d < 34) select(bend.k + 1);
  }

  function select(number) {
    put("bend", number);
    window.setTimeout(() => {
      tags();
      const row = document.getElementById("bend-row-" + number);
      if (row) row.scrollIntoView({ block: "nearest" });
    }, 30);
  }

  let started = false, width = 0;
  function resized() {
    const box = frame();
    if (!box || !box.clientHeight) return;
    if (!started || Math.abs(box.clientWidth - width) > 40) {
      started = true;
      width = box.clientWidth;
      // vtk.js frames the scene itself once more a tenth of a second after it starts
      window.setTimeout(() => aim(state("looking") || "iso"), 160);
    } else {
      tags();
    }
  }

  // The ground of the picture: the view takes it once, its renderer at any time.
  function theme(dark) {
    put("dark", dark);
    const inner = view() && view().$ && view().$.provides.view;
    if (!inner || !inner.renderer) return;
    inner.renderer.setBackground(dark ? [0.071, 0.09, 0.114] : [0.969, 0.973, 0.98]);
    inner.render();
  }

  // An edit: what is wrong with it comes back to this browser alone.
  async function edit(key, text) {
    const wrong = await window.trame.trigger("edit", [key, String(text), state("units")]);
    put("message", wrong || "");
  }

  // A slider moved by keys applies like one let go.
  function slid(key, event) {
    const now = event.target.getAttribute("aria-valuenow");
    if (now !== null && /^(Arrow|Page|Home|End)/.test(event.key)) edit(key, Number(now).toFixed(2));
  }

  function painted() { window.requestAnimationFrame(tags); }

  window.trame.utils.route3d = { aim, tags, pick, select, edit, theme, slid, resized, painted };
})();
