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
  const across = (a, b) => [
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
    const right = unit(across(forward, camera.viewUp));
    const up = across(right, forward);
    return { camera, right, up, width: box.clientWidth, height: box.clientHeight,
             scale: box.clientHeight / 2 / camera.parallelScale };
  }

  function project(a, point) {
    const d = less(point, a.camera.focalPoint);
    return [a.width / 2 + a.scale * dot(d, a.right), a.height / 2 - a.scale * dot(d, a.up)];
  }

  let owed = false;
  function aim(name) {
    if (name === "profile") { unroll(); return; }  // a drawing lies over the picture
    const bounds = state("box");
    owed = !view() || !bounds || !frame() || !frame().clientHeight;  // hidden: when it shows again
    if (owed) return;
    const { from, up } = DIRECTIONS[name] || DIRECTIONS.iso;
    const middle = [0, 2, 4].map((k) => (bounds[k] + bounds[k + 1]) / 2);
    const forward = unit(from.map((v) => -v));
    const right = unit(across(forward, up));
    const top = across(right, forward);
    // The route itself, not the corners of its box: a flat route fills the frame too.
    const route = state("line") || [];
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
    const taken = cues(a), found = [], leaders = [];
    const line = routeOnScreen(a);
    for (const label of ordered) {
      const narrow = a.width < 520;
      const lines = (narrow ? label.lines.slice(0, 2) : label.lines).flatMap((l) => wrapped(l, Math.min(300, a.width - 40)));
      const [x, y] = project(a, label.xyz);
      if (x < 0 || y < 0 || x > a.width || y > a.height) continue;
      const w = 20 + Math.max(...lines.map(wide)), h = 12 + 17 * lines.length;
      const must = label.alarm || label.bend === chosen || /feed|machine|worst/.test(label.kind);
      const spot = free(taken, leaders, line, x, y, w, h, a, must);
      if (!spot) continue;
      taken.push(spot);
      const [ex, ey] = edge(x, y, spot);
      leaders.push([x, y, ex, ey]);
      found.push({ lines, kind: label.kind, alarm: label.alarm, bend: label.bend,
                   picked: label.bend > 0 && label.bend === chosen,
                   x: spot[0], y: spot[1], w, h, px: x, py: y, ex, ey });
    }
    put("tags", found);
    trail();
  }

  // Scale bar and plan north in the lower left corner; the box they take.
  function cues(a) {
    const { per, unit } = state("unit_table").length[state("units")];
    const most = 0.28 * a.width / a.scale * per;  // as long as it may be, in the unit shown
    const power = 10 ** Math.floor(Math.log10(most));
    const long = [5, 2, 1].map((m) => m * power).find((v) => v <= most) || power;
    const [x, y] = [14, a.height - 16], wide = long / per * a.scale;
    const north = [a.right[1], -a.up[1]], size = Math.hypot(...north);
    let path = `M${x} ${y - 5} V${y} H${x + wide} V${y - 5}`, at = null;
    if (size > 0.2) {  // else north points into the picture
      const n = north.map((v) => v / size), [cx, cy] = [x + 18, y - 58];
      const tip = [cx + 17 * n[0], cy + 17 * n[1]];
      const side = [-n[1], n[0]];
      path += ` M${cx - 17 * n[0]} ${cy - 17 * n[1]} L${tip}`;
      for (const s of [-1, 1]) path += ` M${tip} L${tip[0] - 7 * n[0] + s * 4 * side[0]} ${tip[1] - 7 * n[1] + s * 4 * side[1]}`;
      at = { left: `${cx + 24 * n[0] - 5}px`, top: `${cy + 24 * n[1] - 9}px` };
    }
    put("cue", { path, words: `${long.toLocaleString("en-US")} ${unit}`, north: at,
                 at: { left: `${x}px`, top: `${y - 24}px` } });
    return [[x - 4, y - 96, Math.max(wide, 70) + 8, 104]];
  }

  // Made at its first use: the scripts come in any order, all of them before the page is built.
  let made = null;
  const pull = () => (made ||= window.route3dPull({ state, put, axes, project }));
  const trail = () => pull().trail(), pullTo = (share) => pull().pullTo(share), play = () => pull().play();

  // How wide a line of a label is, in pixels.
  const ruler = document.createElement("canvas").getContext("2d");
  function wide(words) {
    ruler.font = '500 12.5px Roboto, "DejaVu Sans", Arial, sans-serif';
    return Math.ceil(ruler.measureText(words).width);
  }

  // A line as lines that fit, parted between words.
  function wrapped(line, most) {
    const found = [];
    for (const word of line.split(" ")) {
      const longer = found.length ? found[found.length - 1] + " " + word : word;
      if (found.length && wide(longer) <= most) found[found.length - 1] = longer;
      else found.push(cut(word, most));
    }
    return found;
  }

  // A word that fits, with a sign that there is more of it.
  function cut(words, most) {
    if (wide(words) <= most) return words;
    let n = words.length;
    while (n > 1 && wide(words.slice(0, n) + "…") > most) n--;
    return words.slice(0, n) + "…";
  }

  // Dots on all that labels had better not cover: the route, and reel, machine and boxes.
  function routeOnScreen(a) {
    const dots = [];
    const points = (state("line") || []).map((p) => project(a, p));
    for (let i = 1; i < points.length; i++) {
      const [p, q] = [points[i - 1], points[i]];
      const n = Math.min(60, Math.ceil(Math.hypot(q[0] - p[0], q[1] - p[1]) / 10));
      for (let k = 0; k <= n; k++) dots.push([p[0] + (q[0] - p[0]) * k / (n || 1), p[1] + (q[1] - p[1]) * k / (n || 1)]);
    }
    const corners = (state("corners") || []).map((p) => project(a, p));
    for (let i = 0; i + 8 <= corners.length; i += 8) {
      const [x, y] = [0, 1].map((k) => corners.slice(i, i + 8).map((p) => p[k]));
      for (const s of [0.2, 0.5, 0.8]) for (const t of [0.2, 0.5, 0.8])
        dots.push([Math.min(...x) + s * (Math.max(...x) - Math.min(...x)), Math.min(...y) + t * (Math.max(...y) - Math.min(...y))]);
    }
    return dots;
  }

  // Where the leader of a point meets its label.
  function edge(x, y, [left, top, w, h]) {
    return [Math.min(Math.max(x, left), left + w), Math.min(Math.max(y, top), top + h)];
  }

  function cross(p, q) {
    const side = (x, y) => (q[2] - q[0]) * (y - q[1]) - (q[3] - q[1]) * (x - q[0]);
    const other = (x, y) => (p[2] - p[0]) * (y - p[1]) - (p[3] - p[1]) * (x - p[0]);
    return side(p[0], p[1]) * side(p[2], p[3]) < 0 && other(q[0], q[1]) * other(q[2], q[3]) < 0;
  }

  // How many leaders and labels a new leader would run across.
  function crossed(leader, leaders, taken) {
    const through = ([left, top, w, h]) => cross(leader, [left, top, left + w, top + h]) ||
      cross(leader, [left, top + h, left + w, top]);
    return leaders.filter((l) => cross(leader, l)).length + taken.filter(through).length;
  }

  // The nearest place about a point that covers no other label and as little of the route as may be.
  function free(taken, leaders, line, x, y, w, h, a, must) {
    let best = null;
    for (const g of a.width < 520 ? [14, 30, 50] : [16, 34, 60, 95]) {
      const [east, west] = [x + 1.4 * g, x - w - 1.4 * g];
      const spots = [[x + g, y - h - g], [x - w - g, y - h - g], [x + g, y + g], [x - w - g, y + g],
                     [x - w / 2, y - h - 1.4 * g], [x - w / 2, y + 1.4 * g],
                     ...[0.5, 0.9, 0.1].flatMap((s) => [[east, y - s * h], [west, y - s * h]])];
      for (const [wantedLeft, wantedTop] of spots) {
        // pushed into the frame, but not over its own point
        const left = Math.min(Math.max(wantedLeft, 4), a.width - 4 - w);
        const top = Math.min(Math.max(wantedTop, 4), a.height - 4 - h);
        if (left < 4 || top < 4) continue;
        if (x > left - 6 && x < left + w + 6 && y > top - 6 && y < top + h + 6) continue;
        if (taken.some((t) => left < t[0] + t[2] + 4 && t[0] < left + w + 4 &&
                              top < t[1] + t[3] + 4 && t[1] < top + h + 4)) continue;
        const hidden = line.reduce((n, p) => n + (p[0] > left - 3 && p[0] < left + w + 3 &&
                                                  p[1] > top - 3 && p[1] < top + h + 3), 0);
        if (hidden > 6 && !must) continue;
        const spot = [left, top, w, h];
        const cost = 3 * hidden + g / 10 + 15 * crossed([x, y, ...edge(x, y, spot)], leaders, taken);
        if (!best || cost < best.cost) best = { cost, spot };
      }
      if (best && best.cost < 10) break;
    }
    return best && best.spot;
  }

  // A tap on the picture: the words for the nearest place of the route, and the bend it lies in.
  // A finger is wide and a conduit thin, so what counts is how near it is on the screen.
  const NEAR = 24, NEAR_BEND = 34, STILL = 6;
  let pressed = null;
  function press(event) { pressed = event.isPrimary ? [event.clientX, event.clientY] : null; }
  function release(event) {
    const [from, to] = [pressed, [event.clientX, event.clientY]];
    pressed = null;
    if (!from || event.button || Math.hypot(to[0] - from[0], to[1] - from[1]) > STILL) return;
    const box = frame().getBoundingClientRect();
    pick([to[0] - box.left, to[1] - box.top]);
  }

  function pick(at) {
    const a = axes();
    if (!a) return;
    const line = state("line") || [];
    const dots = line.map((p) => project(a, p));
    let best = { away: NEAR, station: null };
    for (let i = 1; i < dots.length; i++) {
      const [p, q] = [dots[i - 1], dots[i]];
      const [dx, dy] = [q[0] - p[0], q[1] - p[1]];
      const share = Math.min(1, Math.max(0,
        ((at[0] - p[0]) * dx + (at[1] - p[1]) * dy) / (dx * dx + dy * dy || 1)));
      const away = Math.hypot(p[0] + share * dx - at[0], p[1] + share * dy - at[1]);
      if (away < best.away) best = { away, station: line[i - 1][3] + share * (line[i][3] - line[i - 1][3]) };
    }
    read = best.station;
    probe();
    const bends = (state("places") || []).map((p) => project(a, p));
    const away = bends.map((p) => Math.hypot(p[0] - at[0], p[1] - at[1]));
    const nearest = away.indexOf(Math.min(...away));
    if (away[nearest] < NEAR_BEND) select(nearest + 1);
  }

  // The words for the place that was tapped, as they are now: an edit or other units change them.
  let read = null;
  async function probe() {
    const asked = read;
    const words = asked === null ? "" : await window.trame.trigger("read", [state("run"), asked, state("units")]);
    if (asked === read) put("probe", words);
  }

  function select(number) {
    put("bend", number);
    window.setTimeout(() => { tags(); reveal(number); }, 30);
  }

  // Only the rows in sight exist: their table is scrolled to where the row will be.
  function reveal(number) {
    const table = document.querySelector("#bends .v-table__wrapper");
    const at = ((state("bends") || {})[state("units")] || []).findIndex((b) => b.number === number);
    if (!table || at < 0) return;
    const [top, high, room] = [44 * at, 44, table.clientHeight - 56];
    if (top < table.scrollTop) table.scrollTop = top;
    else if (top + high > table.scrollTop + room) table.scrollTop = top + high - room;
  }

  // Up and down from row to row of the bend table.
  function step(event) {
    const next = { ArrowDown: "nextElementSibling", ArrowUp: "previousElementSibling" }[event.key];
    const row = next && event.currentTarget[next];
    if (!next) return;
    event.preventDefault();
    if (row && row.tabIndex === 0) row.focus();
  }

  let started = false, width = 0;
  function resized() {
    const box = frame();
    if (!box || !box.clientHeight) return;
    if (!started) {
      // before the picture takes them to turn the route
      box.addEventListener("pointerdown", press, true);
      box.addEventListener("pointerup", release, true);
    }
    if (!started || owed || Math.abs(box.clientWidth - width) > 40) {
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
    const wrong = await window.trame.trigger("edit", [state("run"), key, String(text), state("units")]);
    put("message", wrong || "");
  }

  // A slider moved by keys applies like one let go.
  function slid(key, event) {
    const now = event.target.getAttribute("aria-valuenow");
    if (now !== null && /^(Arrow|Page|Home|End)/.test(event.key)) edit(key, Number(now).toFixed(2));
  }

  // The values of the run this browser looks at, under the names the page uses.
  let begun = false;
  function follow() {
    const run = state("run");
    if (!begun || !state(`run${run}_title`)) return;
    window.trame.state.update(Object.fromEntries(
      state("of_a_run").map((name) => [name, state(`run${run}_${name}`)])));
    trail();
    unroll();
  }

  // The profile is drawn by the server when it is looked at, and again when what it shows changes.
  let asked = null;
  async function unroll() {
    if (state("looking") !== "profile") { asked = null; return; }
    const narrow = window.innerWidth < 640, now = [state("run"), state("units"), narrow, state("labels")];
    if (asked && now.every((v, i) => v === asked[i])) return;
    asked = now;
    const drawing = await window.trame.trigger("unroll", now.slice(0, 3));
    if (asked === now) put("unrolled", drawing);
  }

  // A page loaded again shows the run it showed before.
  async function start() {
    const named = decodeURIComponent(window.location.hash.slice(1));
    const asked = state("runs").find((r) => r.title === named);
    if (asked && asked.value !== state("run")) await choose(asked.value);
    begun = true;
    follow();
  }

  // Another run: the old one stays until the new one is worked out.
  async function choose(run) {
    put("opening", true);
    const wrong = await window.trame.trigger("open", [run]);
    put("opening", false);
    put("message", wrong || "");
    if (wrong) return;
    read = null;
    window.trame.state.update({ bend: 0, probe: "", run, head: 100, playing: false });
    const chosen = state("runs").find((r) => r.value === run);
    window.history.replaceState(null, "", "#" + encodeURIComponent(chosen ? chosen.title : ""));
  }

  function painted() { window.requestAnimationFrame(tags); }

  // Other values or other words: those over the picture follow.
  function renewed() { painted(); probe(); unroll(); }  // and with the words the figures of the pull

  window.trame.utils.route3d = { aim, tags, select, edit, theme, slid, resized, painted, renewed,
    unroll, step, project: (point) => project(axes(), point), follow, start, choose, play, pullTo };
})();
