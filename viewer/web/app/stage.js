import { axesOf } from "./camera.js";

// The 3D picture: three.js draws, this file says what. The tubes' colors are worked out on the
// graphics card from the numbers at every point, so a change of colors moves no data but one array.

const TUBE_VERTEX = `
  attribute float station;
  attribute float value;
  uniform float shrink;
  varying float vStation;
  varying float vValue;
  varying vec3 vNormal;
  void main() {
    vStation = station;
    vValue = value;
    vNormal = normalMatrix * normal;
    gl_Position = projectionMatrix * modelViewMatrix * vec4(position - normal * shrink, 1.0);
  }`;

// part 0: cable behind the head; 1: rope ahead of it; 2: the empty conduit about the rope.
// `along` is 1 or -1 with the direction of the pull.
const TUBE_FRAGMENT = `
  uniform sampler2D map;
  uniform float full, limit, head, along, pitch, opacity;
  uniform int part;
  uniform bool own;
  uniform vec3 over, rope1, rope2, wall, flat_color;
  varying float vStation;
  varying float vValue;
  varying vec3 vNormal;
  void main() {
    bool ahead = along * (vStation - head) > 0.0;
    if (ahead != (part > 0)) discard;
    vec3 color = texture2D(map, vec2(clamp(vValue / full, 0.0, 1.0) * 0.99609 + 0.00195, 0.5)).rgb;
    if (vValue > limit * 1.000001) color = over;
    if (own) color = flat_color;
    if (part == 1) color = fract(vStation / pitch) < 0.5 ? rope1 : rope2;
    if (part == 2) color = wall;
    vec3 n = normalize(vNormal);
    float facing = abs(n.z);
    float light = 0.66 + 0.34 * clamp(dot(n, normalize(vec3(-0.3, 0.55, 0.78))) * sign(n.z), 0.0, 1.0);
    gl_FragColor = vec4(color * (part == 2 ? 1.0 : light), part == 2 ? opacity * (1.3 - facing) : 1.0);
  }`;

const FAR = 1e30;

// Null where this browser shows no 3D: asked before three.js, which would complain aloud.
export function makeStage(canvas) {
  const context = canvas.getContext("webgl2", { antialias: true, alpha: true });
  if (!context) return null;
  const renderer = new THREE.WebGLRenderer({ canvas, context, antialias: true, alpha: true });
  const eye = new THREE.OrthographicCamera();
  const world = new THREE.Scene();
  const sun = new THREE.DirectionalLight(0xffffff, 1.9);
  world.add(new THREE.AmbientLight(0xffffff, 1.5), sun, eye);
  const shared = {
    map: { value: null }, full: { value: 1 }, limit: { value: FAR }, head: { value: FAR },
    along: { value: 1 }, pitch: { value: 1 }, opacity: { value: 0.25 },
    over: { value: new THREE.Color() }, rope1: { value: new THREE.Color() },
    rope2: { value: new THREE.Color() }, wall: { value: new THREE.Color() },
  };
  let group = null;
  let spent = []; // kept until the new one is drawn, so that its shaders are not made again
  let tubes = [];
  let parts = [];
  let bounds = { radius: 1 };
  let stale = true; // what is drawn is no longer what is to be seen
  let lookedFrom = "";
  let headAt = "";
  const marker = new THREE.Mesh(new THREE.SphereGeometry(1, 24, 16),
    new THREE.MeshLambertMaterial({ color: 0x888888, transparent: true }));
  marker.visible = false;
  world.add(marker);

  function tubeMesh(mesh, part) {
    const geometry = mesh.geometry;
    const material = new THREE.ShaderMaterial({
      vertexShader: TUBE_VERTEX, fragmentShader: TUBE_FRAGMENT, side: THREE.DoubleSide,
      transparent: true, depthWrite: part !== 2, // after the walls: it is seen through any number
      uniforms: { ...shared, part: { value: part }, own: { value: false }, flat_color: { value: new THREE.Color() },
        shrink: { value: part === 1 ? 0.62 * mesh.extras.radius : 0 } },
    });
    const drawn = new THREE.Mesh(geometry, material);
    drawn.frustumCulled = false;
    drawn.renderOrder = part;
    if (part > 0) drawn.visible = false;
    return drawn;
  }

  function tubeGeometry(mesh) {
    const geometry = new THREE.BufferGeometry();
    const { sides, rings, radius } = mesh.extras;
    const position = mesh.attributes.POSITION;
    const normal = new Int8Array(position.length);
    for (let ring = 0; ring < rings; ring++) {
      for (let axis = 0; axis < 3; axis++) {
        let middle = 0;
        for (let k = 0; k < sides; k++) middle += position[3 * (ring * sides + k) + axis] / sides;
        for (let k = 0; k < sides; k++) {
          const at = 3 * (ring * sides + k) + axis;
          normal[at] = Math.round((127 * (position[at] - middle)) / radius);
        }
      }
    }
    geometry.setAttribute("position", new THREE.BufferAttribute(position, 3));
    geometry.setAttribute("normal", new THREE.BufferAttribute(normal, 3, true));
    geometry.setAttribute("station", new THREE.BufferAttribute(mesh.attributes._STATION, 1));
    geometry.setIndex(new THREE.BufferAttribute(mesh.index, 1));
    return geometry;
  }

  function partMesh(mesh) {
    const looks = mesh.extras;
    const geometry = new THREE.BufferGeometry();
    geometry.setAttribute("position", new THREE.BufferAttribute(mesh.attributes.POSITION, 3));
    if (mesh.index) geometry.setIndex(new THREE.BufferAttribute(mesh.index, 1));
    const see = looks.opacity < 1;
    const common = { transparent: see, opacity: looks.opacity, depthWrite: !see };
    if (mesh.mode !== 4) {
      const strip = mesh.mode === 3;
      geometry.setIndex(pairs(mesh, strip));
      return new THREE.LineSegments(geometry, new THREE.LineBasicMaterial(common));
    }
    if (looks.lit) geometry.computeVertexNormals();
    const kind = looks.lit ? THREE.MeshLambertMaterial : THREE.MeshBasicMaterial;
    const side = looks.hollow ? THREE.BackSide : THREE.DoubleSide;
    const more = looks.lit ? { flatShading: !looks.smooth } : {};
    const drawn = new THREE.Mesh(geometry, new kind({ ...common, ...more, side }));
    drawn.renderOrder = see ? -1 : 0;
    return drawn;
  }

  // Line pieces as pairs of points, whether the file holds a strip or pairs.
  function pairs(mesh, strip) {
    if (!strip) return mesh.index ? new THREE.BufferAttribute(mesh.index, 1) : null;
    const count = mesh.attributes.POSITION.length / 3;
    const index = new Uint32Array(2 * (count - 1));
    for (let i = 0; i < count - 1; i++) index.set([i, i + 1], 2 * i);
    return new THREE.BufferAttribute(index, 1);
  }

  function load(meshes) {
    if (group) {
      world.remove(group);
      spent.push(group);
    }
    stale = true;
    headAt = "";
    group = new THREE.Group();
    tubes = meshes.filter((m) => m.extras.layer === "conduit");
    parts = meshes.filter((m) => m.extras.layer !== "conduit").map((m) => ({
      looks: m.extras, drawn: partMesh(m), positions: m.attributes.POSITION,
    }));
    for (const tube of tubes) {
      tube.geometry = tubeGeometry(tube);
      tube.drawn = [0, 1, 2].map((part) => tubeMesh(tube, part));
      group.add(...tube.drawn);
    }
    for (const part of parts) group.add(part.drawn);
    world.add(group);
    bounds = { radius: farthest(meshes) };
    shared.pitch.value = 6 * Math.max(...tubes.map((t) => t.extras.radius));
  }

  function farthest(meshes) {
    let most = 0;
    for (const { attributes: { POSITION: p } } of meshes) {
      for (let i = 0; i < p.length; i += 3) most = Math.max(most, Math.hypot(p[i], p[i + 1], p[i + 2]));
    }
    return most;
  }

  // Colors the tubes by a value for every ring of theirs, tube after tube, on the given scale
  // {full, limit}; with `flat` each tube has its own color from a list of them instead.
  function color(values, scale, flat = null) {
    stale = true;
    let ring = 0;
    tubes.forEach((tube, n) => {
      const { sides, rings } = tube.extras;
      const spread = new Float32Array(sides * rings);
      for (let k = 0; k < rings; k++, ring++) spread.fill(flat ? 0 : values[ring], k * sides, (k + 1) * sides);
      tube.geometry.setAttribute("value", new THREE.BufferAttribute(spread, 1));
      for (const mesh of tube.drawn) {
        mesh.material.uniforms.own.value = flat !== null;
        if (flat) raw(mesh.material.uniforms.flat_color.value, flat[n]);
      }
    });
    shared.full.value = scale.full;
    shared.limit.value = scale.limit ?? FAR;
  }

  // theme: its colors and its map as "rrggbb" texts run together.
  function dress(name, theme, over) {
    stale = true;
    const count = theme.map.length / 6;
    const data = new Uint8Array(4 * count).fill(255);
    for (let i = 0; i < count; i++) {
      for (let k = 0; k < 3; k++) data[4 * i + k] = parseInt(theme.map.substr(6 * i + 2 * k, 2), 16);
    }
    if (shared.map.value) shared.map.value.dispose();
    const map = new THREE.DataTexture(data, count, 1, THREE.RGBAFormat);
    map.needsUpdate = true;
    shared.map.value = map;
    raw(shared.over.value, over);
    raw(shared.rope1.value, theme.cable);
    raw(shared.rope2.value, theme.line);
    raw(shared.wall.value, theme.faint);
    marker.material.color.set(theme.ink);
    for (const { looks, drawn } of parts) drawn.material.color.set(looks[name]);
  }

  // The tubes' shader writes what the screen shows: its colors are taken as they stand.
  function raw(color, text) {
    const number = parseInt(text.slice(1), 16);
    color.setRGB((number >> 16) / 255, ((number >> 8) & 255) / 255, (number & 255) / 255, THREE.LinearSRGBColorSpace);
  }

  function show({ feed, units, hidden }) {
    stale = true;
    for (const tube of tubes) tube.drawn[0].visible = !hidden.has("conduit");
    for (const { looks, drawn } of parts) {
      const fits = (looks.feed === undefined || looks.feed === feed) &&
        (looks.units === undefined || looks.units === units);
      drawn.visible = fits && !hidden.has(looks.layer);
    }
  }

  // The head at a station (at, [x, y, z]), the pull running along 1 or -1; null: all is cable.
  function setHead(station, at, along, hidden) {
    const key = [station, at, along, hidden.has("conduit")].join();
    if (key === headAt) return;
    headAt = key;
    stale = true;
    shared.head.value = station === null ? FAR : station;
    shared.along.value = station === null ? 1 : along;
    const playing = station !== null;
    for (const tube of tubes) {
      tube.drawn[1].visible = playing;
      tube.drawn[2].visible = playing && !hidden.has("conduit");
    }
    marker.visible = playing;
    if (playing) marker.position.set(...at);
    marker.scale.setScalar(2.1 * Math.max(...tubes.map((t) => t.extras.radius)));
  }

  function resize(width, height) {
    renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));
    renderer.setSize(width, height, false);
    stale = true;
  }

  // Draws where anything is to be seen that was not drawn before.
  function draw(camera, size) {
    const from = [camera.azimuth, camera.elevation, camera.target, camera.span, size].join();
    if (!stale && from === lookedFrom) return;
    stale = false;
    lookedFrom = from;
    const { up, forward } = axesOf(camera);
    const reach = 3 * bounds.radius + Math.hypot(...camera.target);
    Object.assign(eye, {
      left: (-size[0] / 2) * camera.span, right: (size[0] / 2) * camera.span,
      top: (size[1] / 2) * camera.span, bottom: (-size[1] / 2) * camera.span, near: 0, far: 2 * reach,
    });
    eye.up.set(...up);
    eye.position.set(...[0, 1, 2].map((k) => camera.target[k] - reach * forward[k]));
    eye.lookAt(...camera.target);
    eye.updateProjectionMatrix();
    sun.position.set(...[0, 1, 2].map((k) => 0.9 * up[k] - 0.8 * forward[k] + 0.4 * axesOf(camera).right[k] * -1));
    renderer.render(world, eye);
    for (const old of spent) {
      old.traverse((o) => {
        if (o.geometry) o.geometry.dispose();
        if (o.material) o.material.dispose();
      });
    }
    spent = [];
  }

  // Points of what is shown for one feed end, the grade left out: what a picture must hold.
  function content(feed) {
    const shown = parts.filter((p) => p.looks.layer !== "grade" && (p.looks.feed ?? feed) === feed);
    return [...tubes.map((t) => t.attributes.POSITION), ...shown.map((p) => p.positions)];
  }

  // Points of the reel and of the machine of one feed end, to keep labels off them.
  function solids(feed) {
    const own = parts.filter((p) => p.looks.feed === feed && p.looks.layer === "reel and machine");
    const reel = own.filter((p) => p.looks.part.startsWith("reel"));
    const machine = own.filter((p) => /^(machine|capstan)/.test(p.looks.part));
    return { reel: reel.map((p) => p.positions), machine: machine.map((p) => p.positions) };
  }

  const layers = () => [...new Set(["conduit", ...parts.map((p) => p.looks.layer)])];
  const conduits = () => tubes.map((tube) => tube.extras.conduit);

  // What was drawn is gone once it has been shown: it is drawn anew.
  function picture() {
    renderer.render(world, eye);
    return canvas.toDataURL();
  }

  return { load, color, dress, show, setHead, resize, draw, content, solids, layers, conduits, picture };
}
